"""Ways to have an order sooner: each is planned, none is guessed.

First the plan is made again with the order first (twice; the difference is the noise). Where that is not enough, ways are
read off the chain that binds the order, and each is planned on from there with about the same effort, the best of each kind
first, while the seconds last (``pace.py``), then pairs of those that gain most. No other order may be made later than its due time
(or promise, or than it is now, if that is later) for it: where one is, the change itself does it, and the way says so.
The date of a way is that of a plan, however short its search; that it gains nothing, or more than planning again does, is only
said where the searches were long enough to tell (``planner/alter/effort.py``).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from planner.alter.apply import altered
from planner.alter.base import Alteration
from planner.alter.effort import Effort, effort_of
from planner.alter.fields import AlterFault, AlterFaults
from planner.alter.records import Side
from planner.alter.searches import Searches, Tell, placed
from planner.answers.feeds import ready_times
from planner.answers.wording import capital, moment_text
from planner.faults import QuestionFault
from planner.intake.nearest import did_you_mean
from planner.levers.aim import aimed
from planner.levers.candidates import candidates
from planner.levers.chain import Binding
from planner.levers.lever import Lever, lever_of
from planner.levers.nothing import why_nothing
from planner.levers.pace import Pace
from planner.main_job import Job, verified
from planner.shop import Shop
from planner.work import Work

SECONDS = 40.0  # for all together
FIRST_SHARE, PAIRS_SHARE = 0.2, 0.25  # of the seconds: for planning again with the order first, and for pairs
PAIRED = 4  # so many of those that gain most are tried in pairs
FEWEST = 6  # so many ways are tried, however short the seconds are; pairs only if there is time


@dataclass(frozen=True)
class Ways:
    """The answer.

    ``noise_min``: by how much the ready time differs between two plans with the order first. ``short``: why what a way gains
    is unproven, and what to ask for instead; empty where planning again was long enough. ``already``: the order is planned in
    time, and nothing was planned.
    """

    levers: tuple[Lever, ...]
    noise_min: int
    short: str
    already: bool = False


def sooner(
    job: Job,
    order: str,
    by_min: int,
    *,
    seconds: float | None = None,
    trials: int | None = None,
    seed: int = 1,
    progress: Tell | None = None,
    found: Callable[[Lever], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Ways:
    """Ways to have an order by a wanted time, each really planned.

    Parameters
    ----------
    job
        A shop with its plan; neither is changed.
    order
        Its number. An order that is only enquired for is added first: :func:`with_changes`.
    by_min
        When it is wanted, in minutes from the plan start.
    seconds, trials
        For all together (40 with neither), or trials of each search: then the answer is repeatable.
    progress, found
        Told how far it is; told of each way as it has been planned (a pair too that is no better than one of the two).
    stop
        Asked whether to end with what there is.

    Returns
    -------
    Ways
        First planning again with the order first and nothing changed. Then, unless that is enough, those that reach the
        date by what they cost for each day gained, those that gain something, and those that gain nothing, with the reason.

    Raises
    ------
    AlterFaults
        When the plan has no such order, or it has no time in it.
    QuestionFault
        When the wanted time is not after the plan start.
    PlanRefused
        When a plan breaks a rule.
    """
    planner = Planner(job, order, by_min, trials, seed, stop)
    if planner.ready[order] <= by_min:
        return Ways((), 0, "", already=True)
    if trials is None and seconds is None:
        seconds = SECONDS
    return _Sooner(planner, seconds, progress, found).ways()


def with_changes(
    job: Job,
    changes: Sequence[Alteration],
    order: str,
    by_min: int,
    *,
    seconds: float | None = None,
    trials: int | None = None,
    seed: int = 1,
    stop: Callable[[], bool] | None = None,
) -> Job:
    """A job with some changes to ask about, such as an order that is only enquired for: planned for that order, nobody hurt.

    Raises
    ------
    AlterFaults
        When the changes do not fit the shop, leave something without a time, or there is no such order with them.
    QuestionFault
        When the wanted time is not after the plan start.
    PlanRefused
        When the plan breaks a rule.
    """
    check_wanted(job.work, by_min)
    copy = altered(job.shop, changes, job.accepted, job.work.proposals)
    numbers = [o.number for o in copy.work.orders]
    if order not in numbers:
        raise AlterFaults([_no_order(order, numbers)])
    now = Side(job.work, job.plan)
    aim = aimed(order, by_min, ready_times(now.work, now.plan))
    side = placed(Searches(1, seconds, trials, None, stop).run(now, aim(copy.work), seed, ""), changes)
    verified(Job(copy.shop, side.work, side.plan, job.accepted))
    return Job(copy.shop, copy.work, side.plan, job.accepted)


def _no_order(order: str, numbers: Sequence[str]) -> AlterFault:
    mend = did_you_mean(order, numbers, "see the orders page.")
    return AlterFault("sooner", "order", order, "an order of the plan", mend)


def check_wanted(work: Work, by_min: int) -> None:
    """Raises ``QuestionFault`` where the wanted time is not after the plan start."""
    if by_min <= 0:
        start = moment_text(work, 0)
        asked = f"It is wanted by {moment_text(work, by_min)}: expected a time after the plan start ({start}). Name a later day."
        raise QuestionFault([asked])


@dataclass(frozen=True)
class First:
    """The plan made again with the order first. ``noise_min``: by how much its ready time differs between two seeds."""

    side: Side
    noise_min: int
    effort: Effort


class Planner:
    """Plans copies of a job for one order."""

    def __init__(
        self, job: Job, order: str, by_min: int, trials: int | None, seed: int, stop: Callable[[], bool] | None
    ) -> None:
        self.job, self.order, self.by_min, self.trials, self.seed, self.stop = job, order, by_min, trials, seed, stop
        check_wanted(job.work, by_min)
        self.now = Side(job.work, job.plan)
        self.ready = ready_times(self.now.work, self.now.plan)
        if order not in self.ready:
            numbers = [o.number for o in job.work.orders]
            mend = "Plan again first; where it finds none then either, move 'known_to' of the calendars on."
            no_time = AlterFault("sooner", "order", order, "an order that has a time in the plan", mend)
            raise AlterFaults([no_time if order in numbers else _no_order(order, numbers)])
        self.aim = aimed(order, by_min, self.ready)

    def first(self, seconds: float | None = None, share: float = 1.0) -> First:
        """Plan again with the order first and nothing changed: of two the one that hurts others less, then the sooner one.

        ``share``: of all seconds, for both."""
        half = None if seconds is None else seconds / 2
        sides = [self._search(self.now, self.job.shop, self.job.work, self.seed + n, half) for n in range(2)]
        ready = [ready_times(side.work, side.plan)[self.order] for side in sides]
        effort = effort_of(sides, share / 2, self.trials)
        best = min(
            sides, key=lambda side: (not side.plan.complete, side.plan.cost.first)
        )  # as it is aimed: no harm, then sooner
        return First(best, abs(ready[0] - ready[1]), effort)

    def changed(self, begin: Side, changes: Sequence[Alteration], seconds: float | None = None) -> Side | None:
        """Plan on from a plan with some changes; None where they do not fit or leave something without a time.

        With a limit of trials the same plan, changes and seed give the same plan.
        """
        try:
            copy = altered(self.job.shop, changes, self.job.accepted, self.job.work.proposals)
        except AlterFaults:
            return None
        side = self._search(begin, copy.shop, copy.work, self.seed, seconds)
        return side if side.plan.complete else None

    def _search(self, begin: Side, shop: Shop, work: Work, seed: int, seconds: float | None) -> Side:
        """A verified plan in which the order comes first; the orders of its work have their own dues."""
        searches = Searches(1, seconds, self.trials, None, self.stop)
        plan = searches.run(begin, self.aim(work), seed, "").plan
        if plan.complete:
            verified(Job(shop, self.aim(work), plan, self.job.accepted))
        return Side(work, plan)


class _Sooner:
    """One question: what is planned, in which order, and when it is enough."""

    def __init__(
        self, planner: Planner, seconds: float | None, progress: Tell | None, found: Callable[[Lever], None] | None
    ) -> None:
        self.planner, self.pace, self.progress, self.found = planner, Pace(seconds), progress, found
        self.settings = planner.job.shop.settings

    def ways(self) -> Ways:
        self._tell("planning again with the order first", 0.0)
        self.first = self.planner.first(self.pace.share(FIRST_SHARE), FIRST_SHARE)
        plain = self._lever((), self.first.side, self.first.effort)
        others = [] if plain.reaches or self._stopped() else self._others()
        return Ways((plain, *others), self.first.noise_min, self.first.effort.text)

    def _others(self) -> list[Lever]:
        chain = Binding(self.planner.job.shop, self.first.side, self.planner.order, self.planner.by_min)
        singles = self._planned(candidates(chain), FIRST_SHARE, 1 - PAIRS_SHARE, FEWEST)
        pairs: list[Lever] = []
        if not any(lever.reaches for lever in singles):
            tried = self._planned(self._pairs(singles), 1 - PAIRS_SHARE, 1.0)
            pairs = [pair for pair in tried if pair.more_min > _alone(pair, singles)]
        return sorted(singles + pairs, key=self._rank)

    def _planned(self, ways: list[tuple[Alteration, ...]], begin: float, end: float, fewest: int = 0) -> list[Lever]:
        """Ways planned, each with an equal share of what is left of the seconds up to a share of them, while they last."""
        found = []
        for n, changes in enumerate(ways):
            fitting = self.pace.fitting(len(ways) - n, end)
            if self._stopped() or (not fitting and n >= fewest):
                break
            self._tell(" ".join(c.text for c in changes), begin + n * (end - begin) / len(ways))
            with self.pace.one(fitting, end) as seconds:
                side = self.planner.changed(self.first.side, changes, seconds)
                if side is not None:
                    effort = effort_of([side], self.pace.part(seconds), self.planner.trials)
                    found.append(self._lever(changes, side, effort))
        return found

    def _lever(self, changes: Sequence[Alteration], side: Side, effort: Effort) -> Lever:
        plain = self.first.side
        lever = lever_of(changes, self.planner.order, self.planner.by_min, self.planner.now, plain, side, self.settings)
        if changes and lever.more_min <= self.first.noise_min:
            unproven = self.first.effort.text or effort.text
            lever = replace(lever, nothing=unproven or self._why(lever, side))
        if not changes and not lever.reaches and effort.text:
            lever = replace(lever, texts=(*lever.texts, f"{capital(effort.text)}."))
        if self.found is not None:
            self.found(lever)
        return lever

    def _why(self, lever: Lever, side: Side) -> str:
        if lever.more_min > 0:
            return "gains no more than planning again may by itself"
        return why_nothing(self.planner.order, self.first.side, side)

    def _pairs(self, singles: list[Lever]) -> list[tuple[Alteration, ...]]:
        """Pairs of those that gain most, of different changes."""
        best = sorted((s for s in singles if s.more_min > self.first.noise_min), key=lambda s: (-s.more_min, s.said))[
            :PAIRED
        ]
        return [(*a.alterations, *b.alterations) for a, b in combinations(best, 2)]

    def _rank(self, lever: Lever) -> tuple[bool, bool, float, int, str]:
        per_day = lever.cost_pence / max(1, lever.more_min)
        return bool(lever.nothing), not lever.reaches, per_day, -lever.more_min, lever.said

    def _stopped(self) -> bool:
        return self.planner.stop is not None and self.planner.stop()

    def _tell(self, words: str, share: float) -> None:
        if self.progress is not None:
            self.progress(words, share)


def _alone(pair: Lever, singles: Sequence[Lever]) -> int:
    """What the better of the two gains by itself, in minutes."""
    return max(s.more_min for s in singles if set(s.alterations) <= set(pair.alterations))
