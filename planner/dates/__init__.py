"""When can they have it? Each answer is a real plan of the whole shop with the enquiry in it, verified.

    dates(job, Enquiry("GR-101", 50, wanted=date(2027, 8, 2)))

`enquiry` puts the question into the shop; `placing` finds it a place behind everything; `harmless` has others make room
without breaking a promise, `yielding` at the least harm (both by `searching`); `part_of_it` asks how many pieces can be had in time; `replies` and `assumed`
say what a plan means. Nothing of it changes the job's plan or the shop's files.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from planner.answers.rows import as_row
from planner.answers.wording import moment_text
from planner.capacity.waiting import waiting_by_load
from planner.dates.assumed import assumed, later_work
from planner.dates.chances import DRAWS, with_chances
from planner.dates.enquiry import Asked, Enquiry, asked, goes_outside
from planner.dates.harmless import unbroken
from planner.dates.part_of_it import part_of_it
from planner.dates.placing import behind, finish_of
from planner.dates.replies import KitLine, Moved, Reply, Used, reply
from planner.dates.searching import broken, limits
from planner.dates.yielding import hitting
from planner.main_job import Job, PlanRefused
from planner.plan import Plan
from planner.risk import Spreads, spreads_of
from planner.risk.allowance import Station, booked_stations, stations_of
from planner.risk.learning import learned_lines
from planner.risk.record import booked_record, record_lines
from planner.search.limit import Limit
from planner.shop import Shop
from planner.verify import verify

__all__ = ["BEHIND", "Dates", "Enquiry", "KitLine", "Moved", "Reply", "Used", "dates"]

BEHIND, UNBROKEN = "behind everything", "without breaking a promise"
HITTING, PART = "by the wanted date", "part of it by the wanted date"
UNBROKEN_SHARE, PART_SHARE, HITTING_SHARE = 0.6, 0.4, 1.0  # of the time that is left when its turn comes
SECONDS = 12.0


@dataclass(frozen=True)
class Dates:
    """The answers to one enquiry; each is None where it was not asked for or there is none.

    ``hitting`` is None without a wanted date, and where the first two met it before it was looked for; ``part`` likewise. ``notes`` say
    in a sentence each why an answer is missing. ``assumptions`` are those of all answers; each has its own besides.
    """

    part_number: str
    pieces: int
    wanted: str
    wanted_min: int | None
    behind: Reply | None
    unbroken: Reply | None
    hitting: Reply | None
    part: Reply | None
    assumptions: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def replies(self) -> tuple[Reply, ...]:
        """Those of the four answers that there are."""
        return tuple(r for r in (self.behind, self.unbroken, self.hitting, self.part) if r is not None)

    def plain(self) -> dict[str, Any]:
        """As plain data for JSON, without the plans behind it."""
        four = {name: getattr(self, name) for name in ("behind", "unbroken", "hitting", "part")}
        bare = as_row(replace(self, behind=None, unbroken=None, hitting=None, part=None))
        return {**bare, **{name: None if found is None else found.plain() for name, found in four.items()}}


Tell = Callable[[str, Any], None]


def dates(
    job: Job,
    enquiry: Enquiry,
    *,
    seconds: float | None = None,
    trials: int | None = None,
    seed: int = 1,
    sure: float = 0.9,
    draws: int = DRAWS,
    learn: Callable[[Shop], Shop] | None = None,
    tell: Tell | None = None,
    stop: Callable[[], bool] | None = None,
) -> Dates:
    """Answer an enquiry in up to four ways.

    Parameters
    ----------
    seconds, trials
        For all of it together, or for each search (repeatable); 12 seconds with neither.
    sure, draws
        The safe day is the one by which that share (0 to 1) of so many draws are ready.
    learn
        Gives the job's shop with what was booked. A store with years of bookings is not read in a moment: it is called when the first
        date has been told. None: the job's shop as it is.
    tell
        Hears ``(way, Reply)`` for each answer as it is there, again with its chances, and ``(way, text)`` for a date that has got better since.
    stop
        True ends the searches; what was found so far is answered.

    Raises
    ------
    QuestionFault, DataFaults
        The question cannot be answered: every reason, with what to do about it.
    PlanRefused
        A plan made here breaks a rule.
    """
    if seconds is None and trials is None:
        seconds = SECONDS
    limit = Limit(seconds, None, stop)
    learn, tell = learn or (lambda shop: shop), tell or (lambda way, what: None)
    return _Asking(job, enquiry, limit, trials, seed, sure, draws, learn, tell).answer()


class _Asking:
    def __init__(
        self, job: Job, enquiry: Enquiry, limit: Limit, trials: int | None, seed: int, sure: float, draws: int,
        learn: Callable[[Shop], Shop], tell: Tell,
    ) -> None:  # fmt: skip
        self.job, self.enquiry, self.limit, self.trials, self.seed = job, enquiry, limit, trials, seed
        self.sure, self.draws, self.learn, self.tell = sure, draws, learn, tell
        self.asked = asked(job, enquiry)
        self.notes: list[str] = []
        self.reply_sec = 0.0  # what explaining and drawing the last answer took: as much is kept for each to come
        self.to_come = 1 if enquiry.wanted is None else 3

    @cached_property
    def known(self) -> Shop:
        """The job's shop with what was booked."""
        return self.learn(self.job.shop)

    @cached_property
    def stations(self) -> dict[str, Station]:
        """Of what was booked where that is enough, else of the plan. Found when the first date has been told: nobody waits for it."""
        return {**stations_of(waiting_by_load(self.job.work, self.job.plan)), **self.booked}

    @cached_property
    def booked(self) -> dict[str, Station]:
        return booked_stations(self.known)

    @cached_property
    def spreads(self) -> Spreads:
        """Of the work with the whole enquiry."""
        return self._spreads_of(self.asked)

    def _spreads_of(self, asked: Asked) -> Spreads:
        return spreads_of(replace(asked.shop, history=self.known.history), asked.work)

    def answer(self) -> Dates:
        first = behind(self.job, self.asked)
        if first is None:
            self.notes.append(
                "Behind everything it finds no time within the known calendars: give later 'known_to' dates in calendars.csv, "
                "or fewer pieces."
            )
            return self._dates(None, None, None, None)
        one = self._reply(BEHIND, _verified(self.asked, first))
        best, proved = unbroken(self.job, self.asked, first, self._how(UNBROKEN_SHARE), self._better)
        two = self._reply(UNBROKEN, best, proved) if best is not first else self._no_sooner(one, proved)
        four = self._part(best)
        three = self._hitting(best)
        if three is not None and three.plan is not None and self._is_better(three.plan, best):
            two = self._reply(UNBROKEN, three.plan)
        return self._dates(one, two, three, four)

    def _is_better(self, plan: Plan, than: Plan) -> bool:
        """Is it sooner in a plan with no promise broken? A search that aims at a day may find what one for the soonest has not."""
        sooner = finish_of(self.asked, plan) < finish_of(self.asked, than)
        return sooner and not broken(self.asked, plan, limits(self.job, self.asked))

    def _reply(self, way: str, plan: Plan, proved: bool = False, asked: Asked | None = None) -> Reply:
        began = self.limit.spent
        asked = asked or self.asked
        found = replace(reply(self.job, asked, way, plan, proved), assumptions=assumed(self.job, asked, plan))
        self.tell(way, found)
        told = self.limit.spent
        _ = self.known  # read once, and no part of the time for searching
        read_sec = self.limit.spent - told
        began, self.limit.began = began + read_sec, self.limit.began + read_sec
        spreads = self.spreads if asked is self.asked else self._spreads_of(asked)
        record = booked_record(self.known, found.outside)
        found = with_chances(asked, found, spreads, self.stations, record, self.sure, self.draws, self.seed)
        self.tell(way, found)
        self.reply_sec = self.limit.spent - began
        self.to_come -= way != BEHIND
        return found

    def _no_sooner(self, one: Reply, proved: bool) -> Reply:
        """The answer behind everything once more, where nothing sooner was found: its draws stand."""
        found = replace(one, way=UNBROKEN, proved_earliest=proved)
        self.tell(UNBROKEN, found)
        self.to_come -= 1
        return found

    @property
    def _left(self) -> float | None:
        """Seconds for searches: without those for the answers to come."""
        left = self.limit.left
        return None if left is None else max(0.0, left - self.to_come * self.reply_sec)

    def _how(self, share: float) -> Callable[[float], dict[str, Any]]:
        """Limits of searches that together may use a share of what is left now."""
        until = None if self._left is None else self.limit.spent + share * self._left

        def limits(part: float) -> dict[str, Any]:
            seconds = None if until is None else max(0.1, part * (until - self.limit.spent))
            return {"seconds": seconds, "trials": self.trials, "seed": self.seed, "stop": self.limit.stop}

        return limits

    def _better(self, ready: int) -> None:
        self.tell(UNBROKEN, moment_text(self.asked.work, ready))

    def _in_time(self, plan: Plan) -> bool:
        return self.asked.wanted_min is None or finish_of(self.asked, plan) <= self.asked.wanted_min

    def _hitting(self, best: Plan) -> Reply | None:
        wanted = self.asked.wanted_min
        if wanted is None or self._in_time(best):
            return None
        plan = hitting(self.job, self.asked, best, wanted, self._how(HITTING_SHARE))
        found = self._reply(HITTING, plan)
        if found.late_min is not None and found.late_min > 0:
            self.notes.append(
                f"The wanted date was not reached even with every other order yielding: the earliest found is {found.ready}."
            )
        elif found.slips:
            self.notes.append(
                "For the wanted date the search ended by its limit: less harm to others may do. Give it more time to look further."
            )
        return found

    def _part(self, best: Plan) -> Reply | None:
        wanted = self.asked.wanted_min
        if wanted is None or self._in_time(best):
            return None
        limit = Limit(
            None if self.limit.left is None else PART_SHARE * max(0.0, self.limit.left), None, self.limit.stop
        )
        found = part_of_it(self.job, self.enquiry, wanted, lambda: limit.reached(0))
        if limit.reached(0) and found is None:
            self.notes.append(
                "Time ran out before any number was found that can be had in time: some may be. Give it more time."
            )
        elif limit.reached(0):
            self.notes.append("Time ran out before it was sure how many can be had in time: there may be more.")
        elif found is None:
            self.notes.append("Not one piece can be had by the wanted date with nothing else moved.")
        if found is None:
            self.to_come -= 1
            return None
        return self._reply(PART, _verified(*found), asked=found[0])

    def _dates(self, *found: Reply | None) -> Dates:
        """All together; what all answers rest on is said once, the rest with each."""
        replies = [r for r in found if r is not None]
        common = (
            [line for line in replies[0].assumptions if all(line in r.assumptions for r in replies)] if replies else []
        )
        one, two, three, four = (
            None if r is None else replace(r, assumptions=tuple(line for line in r.assumptions if line not in common))
            for r in found
        )
        wanted = self.asked.wanted_min
        return Dates(
            part_number=self.enquiry.part, pieces=self.enquiry.pieces,
            wanted="" if wanted is None else moment_text(self.asked.work, wanted), wanted_min=wanted,
            behind=one, unbroken=two, hitting=three, part=four, notes=tuple(self.notes),
            assumptions=(*common, *self._learned()) if replies else (),
        )  # fmt: skip

    def _learned(self) -> tuple[str, ...]:
        """What the queues of later work, and the draws, rest on."""
        outside = goes_outside(self.asked)
        dates_given = record_lines(booked_record(self.known, outside), self.sure, outside)
        return (*later_work(self.stations, self.booked), *learned_lines(self.known), *dates_given)


def _verified(asked: Asked, plan: Plan) -> Plan:
    """A plan that was placed; those that were searched for have been verified where they were found."""
    breaches = verify(asked.work, plan)
    if breaches:
        raise PlanRefused(breaches)
    return plan
