"""What a tenth more of a resource would save: found by planning again with it, never guessed.

Every plan of a comparison gets the same effort and begins with the same list. The present shop is planned twice, with two
seeds; what lies between those two is the noise of the search, and no saving within it is claimed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from planner.answers.feeds import order_finish
from planner.capacity.more import with_more
from planner.plan import Plan
from planner.proposals.carry import carried
from planner.search import Progress, search
from planner.work import Work

Resource = tuple[str, str]  # kind, name
Tell = Callable[[int, int, str, float], None]  # plans made, plans in all, what is planned, share of it done


@dataclass(frozen=True)
class Sooner:
    """An order that is ready so many minutes earlier (negative: later)."""

    order: str
    minutes: int


@dataclass(frozen=True)
class Saving:
    """``late`` is the weighted lateness with more of the resource; ``saved`` is what that is less than without."""

    kind: str
    name: str
    more: str  # what was changed
    late: int  # weighted minutes
    saved: int  # may be negative: then the search did worse
    sure: bool  # more than the noise
    orders: tuple[Sooner, ...]  # late with or without it, those that gain most first


@dataclass(frozen=True)
class Savings:
    """``base`` and ``base_again`` are the weighted lateness of the present shop, planned again with two seeds."""

    base: int
    base_again: int
    noise: int
    seconds_each: float | None
    trials_each: int | None
    found: tuple[Saving, ...]  # those that save most first
    next_found: tuple[Saving, ...]  # the same with more of the first of them already there
    left_out: tuple[str, ...] = ()  # where the search was stopped before


class Replanner:
    """Plans changed copies of one work, each with its share of the seconds or trials."""

    def __init__(
        self, work: Work, plan: Plan, plans: int, *, seconds: float | None, trials: int | None,
        tell: Tell | None = None, stop: Callable[[], bool] | None = None,
    ) -> None:  # fmt: skip
        self.work, self.plan, self.plans, self.made = work, plan, plans, 0
        self.seconds = None if seconds is None else seconds / plans
        self.trials = None if trials is None else max(1, trials // plans)
        self._tell, self._stop = tell, stop

    @property
    def stopped(self) -> bool:
        return self._stop is not None and self._stop()

    def plan_again(self, work: Work, what: str, seed: int = 0) -> Plan:
        """Plan a changed copy, beginning with the list of the plan there is."""

        def progress(now: Progress) -> None:
            share = now.seconds / self.seconds if self.seconds else now.trials / (self.trials or 1)
            if self._tell is not None:
                self._tell(self.made, self.plans, what, min(1.0, share))

        found = search(
            work, seconds=self.seconds, trials=self.trials, seed=self.plan.seed + seed, progress=progress, stop=self._stop,
            start=carried(self.work, self.plan, work),
        )  # fmt: skip
        self.made += 1
        return found


@dataclass(frozen=True)
class Eased:
    """The work with more of one resource, and its plan."""

    saving: Saving
    work: Work
    plan: Plan


def savings(
    work: Work, plan: Plan, candidates: Sequence[Resource], *, seconds: float | None = None, trials: int | None = None,
    tell: Tell | None = None, stop: Callable[[], bool] | None = None,
) -> tuple[Savings, Eased | None]:  # fmt: skip
    """What a tenth more of each candidate saves, and then of each other once there is more of the best.

    Parameters
    ----------
    candidates
        Machine groups, skills, equipment or outside firms, as ``(kind, name)``.
    seconds, trials
        Limits for all plans together; with trials the answer is repeatable. With neither, 60 seconds.
    tell, stop
        Told how far it has got; asked whether to stop, which leaves out what has not been planned.

    Returns
    -------
    Savings, Eased or None
        The second is the shop with more of what saves most; None where nothing saves more than the noise.
    """
    if seconds is None and trials is None:
        seconds = 60.0
    plans = 2 + len(candidates) + max(0, len(candidates) - 1)
    again = Replanner(work, plan, plans, seconds=seconds, trials=trials, tell=tell, stop=stop)
    base, other = again.plan_again(work, "the shop as it is"), again.plan_again(work, "the shop as it is, again", 1)
    noise = abs(base.cost.late - other.cost.late)
    found = _round(again, work, base, candidates, noise)
    best = found[0] if found and found[0].saving.sure else None
    rest = [key for key in candidates if best is not None and key != (best.saving.kind, best.saving.name)]
    then = _round(again, best.work, best.plan, rest, noise) if best is not None else []
    planned = [len(found), len(then)]
    skipped = [name for _, name in (*candidates[planned[0] :], *rest[planned[1] :])]
    result = Savings(
        base.cost.late, other.cost.late, noise, again.seconds, again.trials, tuple(e.saving for e in found),
        tuple(e.saving for e in then), tuple(dict.fromkeys(skipped)),
    )  # fmt: skip
    return result, best


def _round(again: Replanner, work: Work, plan: Plan, candidates: Sequence[Resource], noise: int) -> list[Eased]:
    """Each candidate on top of a work and its plan, those that save most first."""
    found = []
    for kind, name in candidates:
        if again.stopped:
            break
        more, what = with_more(work, kind, name)
        planned = again.plan_again(more, f"more of {name}")
        saved = plan.cost.late - planned.cost.late
        orders = _sooner(work, plan, more, planned)
        saving = Saving(kind, name, what, planned.cost.late, saved, saved > noise, orders)
        found.append(Eased(saving, more, planned))
    return sorted(found, key=lambda e: (-e.saving.saved, e.saving.name))


def _sooner(work: Work, plan: Plan, more: Work, planned: Plan) -> tuple[Sooner, ...]:
    """Minutes gained by each order that is late with or without more."""
    before, after, found = plan.step_of(), planned.step_of(), []
    for order, same in zip(work.orders, more.orders, strict=True):
        was, now = order_finish(work, before, order), order_finish(more, after, same)
        if was is not None and now is not None and max(was, now) > order.due_min and was != now:
            found.append(Sooner(order.number, was - now))
    return tuple(sorted(found, key=lambda s: (-s.minutes, s.order)))
