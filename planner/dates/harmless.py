"""The earliest date for which others make room and none is past its limit: two ways of looking for it, each on a core.

*Straight*: from the plan behind everything on, no minute past a limit at any price. *From first*: with the enquiry before all
else, a minute past a limit at a price, then mended; where that leaves a limit broken, it is enough to be ready by a day half-way
between the two, and from there straight on. Neither is better everywhere: the first does not find past plans that break a
promise for a moment, the second finds nothing where others have no room to give.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from threading import Lock

from planner.dates.enquiry import Asked
from planner.dates.placing import finish_of, first_of_all, just_in_time, let_in, soonest_of, ways_in
from planner.dates.searching import FAR_MORE, How, broken, checked, component_orders, limits, search_on, weighed
from planner.dates.yielding import kept
from planner.main_job import Job
from planner.plan import Listed, Plan
from planner.proposals.carry import carried
from planner.search.bound import order_alone_bound
from planner.timetable import Timetable
from planner.work import Work

PRICE_END, MENDED_END, AIM_END, WAYS_END = 0.25, 0.4, 0.65, 0.85  # of all the time; the rest is for settling
SOME_MORE = 50  # minutes of the enquiry's that a minute past another's limit costs at first
LEAST_SEC = 0.2  # a shorter search finds nothing
STRAIGHT, FROM_FIRST = (0,), (1,)  # the run of each way, so that they do not try the same


def unbroken(job: Job, asked: Asked, start: Plan, how: How, tell: Callable[[int], None]) -> tuple[Plan, bool]:
    """The earliest finish found at which no other order is past its limit; at worst ``start``, which must keep them all.

    Of the plans with that finish one is looked for at last that keeps the job's running order as far as it can, or of a kit one
    that has its components early. ``tell`` hears of a finish, in minutes, that is earlier than any before.

    Returns
    -------
    tuple[Plan, bool]
        The plan in terms of ``asked.work``, and whether it is proved that none is earlier.
    """
    look = _Look(job, asked, start, how, tell)
    with ThreadPoolExecutor(2) as cores:
        ways = [cores.submit(look.straight), cores.submit(look.from_first)]
        plan = min((way.result() for way in ways), key=look.ready)
    if look.ready(plan) < look.ready(start):
        plan = look.settled(plan)
    return plan, order_alone_bound(Timetable(look.hard)).value == look.ready(plan)


class _Look:
    def __init__(self, job: Job, asked: Asked, start: Plan, how: How, tell: Callable[[int], None]) -> None:
        self.job, self.asked, self.start, self.how, self._tell = job, asked, start, how, tell
        self.bounds = limits(job, asked)
        self.hard = self._work(FAR_MORE, (0, 1))
        self._all_sec = how(1.0)["seconds"]
        self._told, self._telling = self.ready(start), Lock()

    def straight(self) -> Plan:
        return self._sooner(self.start, STRAIGHT)

    def from_first(self) -> Plan:
        """First with the enquiry before all else, a minute past a limit at a price, then mended; else by an aim."""
        found = self._mended()
        if found is None:
            half_way = (soonest_of(self.job, self.asked, self.start) + self.ready(self.start)) // 2
            found = self._by(half_way, AIM_END)
        return self._sooner(found or self.start, FROM_FIRST)

    def _mended(self) -> Plan | None:
        share = self._until(PRICE_END)
        if not share:
            return None
        soft = self._work(SOME_MORE, (0, 1))
        starts = [first_of_all(self.job, self.asked, self.start)]
        first = search_on(soft, starts, self.how, share, FROM_FIRST)
        return self._straight_on(first, MENDED_END, FROM_FIRST) if first.complete else None

    def _by(self, aim: int, end: float) -> Plan | None:
        """A plan that is ready by ``aim`` with no minute past a limit."""
        share = self._until(end)
        if aim >= self.ready(self.start) or not share:
            return None
        work = self._work(1, (aim, FAR_MORE))
        starts = [self._listed(self.start), *ways_in(self.job, self.asked, self.start, aim)]
        starts += just_in_time(self.job, self.asked, self.start, aim)
        found = self._harmless(
            checked(self.asked, work, search_on(work, starts, self.how, share, FROM_FIRST, enough=0))
        )
        if found is not None:
            self.tell(self.ready(found))
        return found

    def _sooner(self, plan: Plan, runs: tuple[int]) -> Plan:
        return min(plan, self._straight_on(plan, WAYS_END, runs) or plan, key=self.ready)

    def _straight_on(self, plan: Plan, end: float, runs: tuple[int]) -> Plan | None:
        """The soonest found with no minute past a limit, from ``plan`` on."""
        share = self._until(end)
        if not share:
            return None
        found = search_on(self.hard, [self._listed(plan)], self.how, share, runs, self.tell)
        return self._harmless(checked(self.asked, self.hard, found))

    def _until(self, end: float) -> float:
        """The share of what is left after which that share of all the time is over; 0 where that is too little for a search."""
        left = self.how(1.0)["seconds"]
        if self._all_sec is None or left is None:
            return 1.0
        share = 1 - (1 - end) * self._all_sec / left
        return share if share * left >= LEAST_SEC else 0.0

    def settled(self, plan: Plan) -> Plan:
        """One that is ready as soon: with the job's running order kept as far as it can be or, of a kit, with its components
        early. A component that just makes its van misses it in many draws, and the safe day with it."""
        ready = self.ready(plan)
        work = self._work(FAR_MORE, (ready, FAR_MORE))
        components = component_orders(self.asked)
        if components:
            work = replace(work, orders=(*work.orders, *components))
        else:
            work = replace(work, kept=kept(self.job, self.asked, work.kept))
        starts = [self._listed(plan), let_in(self.job, self.asked, plan)]
        other = self._harmless(checked(self.asked, work, search_on(work, starts, self.how, 1.0)))
        return plan if other is None or self.ready(other) > ready else other

    def tell(self, ready: int) -> None:
        """Both ways tell, each in its thread: only what is news to who hears it."""
        with self._telling:
            if ready < self._told:
                self._told = ready
                self._tell(ready)

    def ready(self, plan: Plan) -> int:
        return finish_of(self.asked, plan)

    def _harmless(self, plan: Plan | None) -> Plan | None:
        return None if plan is None or broken(self.asked, plan, self.bounds) else plan

    def _work(self, price: int, ask: tuple[int, int]) -> Work:
        return weighed(self.asked, self.bounds, dict.fromkeys(self.bounds, price), ask)

    def _listed(self, plan: Plan) -> list[Listed]:
        return carried(self.asked.work, plan, self.asked.work)
