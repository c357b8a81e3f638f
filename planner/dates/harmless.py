"""The earliest date for which others make room and none is past its limit: two ways of looking for it, each on a core.

*By price*: a minute past a limit first costs only so much, or the search could not move past the plans that break a promise for
a moment; what is still broken then is mended at any price. *By aims*: where to be ready by a day is enough, a search is free to
give others their time back; the day is halved nearer to the soonest where that was found, and to the best date where not.
Neither is better everywhere: the first may end far from the best, the second seldom does, but seldom finds the very best.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from threading import Lock

from planner.dates.enquiry import Asked
from planner.dates.placing import finish_of, just_in_time, let_in, soonest_of, ways_in
from planner.dates.searching import FAR_MORE, How, broken, checked, limits, search_on, weighed
from planner.dates.yielding import kept
from planner.main_job import Job
from planner.plan import Listed, Plan
from planner.proposals.carry import carried
from planner.search.bound import order_alone_bound
from planner.timetable import Timetable
from planner.work import Work

SOME_MORE = 50  # minutes of the enquiry's that a minute past another's limit costs at first
AIMS = 4  # days that are aimed at, each in as much time as keeping the running order has at last
SOFT_SHARE, HARD_SHARE = 2 / 5, 2 / 3  # of what is left, by price: together as long as the aims
LEAST_SEC = 0.2  # a shorter search finds nothing


def unbroken(job: Job, asked: Asked, start: Plan, how: How, tell: Callable[[int], None]) -> tuple[Plan, bool]:
    """The earliest finish found at which no other order is past its limit; at worst ``start``, which must keep them all.

    Of the plans with that finish one is looked for at last that keeps the job's running order as far as it can. ``tell`` hears
    of a finish, in minutes, that is earlier than any before.

    Returns
    -------
    tuple[Plan, bool]
        The plan in terms of ``asked.work``, and whether it is proved that none is earlier.
    """
    look = _Look(job, asked, start, how, tell)
    with ThreadPoolExecutor(2) as cores:
        ways = [cores.submit(look.by_price), cores.submit(look.by_aims)]
        plan = min((way.result() for way in ways), key=look.ready)
    if look.ready(plan) < look.ready(start):
        plan = look.calmer(plan)
    return plan, order_alone_bound(Timetable(look.hard)).value == look.ready(plan)


class _Look:
    def __init__(self, job: Job, asked: Asked, start: Plan, how: How, tell: Callable[[int], None]) -> None:
        self.job, self.asked, self.start, self.how, self._tell = job, asked, start, how, tell
        self.bounds = limits(job, asked)
        self.hard = self._work(FAR_MORE, (0, 1))
        self._told, self._telling = self.ready(start), Lock()

    def by_price(self) -> Plan:
        soft = self._work(SOME_MORE, (0, 1))
        starts = [self._listed(self.start), *ways_in(self.job, self.asked, self.start, self.ready(self.start))]
        first = search_on(soft, starts, self.how, SOFT_SHARE, cores=1)
        if not first.complete:
            return self.start
        mended = search_on(self.hard, [self._listed(first)], self.how, HARD_SHARE, self.tell, cores=1)
        return self._harmless(checked(self.asked, self.hard, mended)) or self.start

    def by_aims(self) -> Plan:
        best = tried = self.start
        soonest = soonest_of(self.job, self.asked, self.start)
        for n in range(AIMS):
            aim, share = (soonest + self.ready(best)) // 2, 1 / (AIMS + 1 - n)
            if aim >= self.ready(best) or (self.how(share)["seconds"] or LEAST_SEC) < LEAST_SEC:
                break
            starts = [self._listed(best), self._listed(tried), *ways_in(self.job, self.asked, self.start, aim)]
            for plan in (self.start, tried)[: 1 + (tried is not self.start)]:
                starts += just_in_time(self.job, self.asked, plan, aim)
            work = self._work(1, (aim, FAR_MORE))
            found = checked(self.asked, work, search_on(work, starts, self.how, share, cores=1))
            sooner = self._harmless(found)
            if sooner is not None and self.ready(sooner) < self.ready(best):
                best = tried = sooner
                self.tell(self.ready(best))
            else:
                soonest, tried = aim, found or tried
        return best

    def calmer(self, plan: Plan) -> Plan:
        """One that is ready as soon, with the job's running order kept as far as it can be."""
        ready = self.ready(plan)
        calm = replace(self._work(FAR_MORE, (ready, FAR_MORE)), kept=kept(self.job, self.asked))
        starts = [self._listed(plan), let_in(self.job, self.asked, plan)]
        other = self._harmless(checked(self.asked, calm, search_on(calm, starts, self.how, 1.0)))
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
