"""Dates for which others make room: without breaking a promise, or at what it takes to hit the wanted one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from typing import Any

from planner.answers.feeds import limit_min, order_finish, ready_times
from planner.dates.enquiry import Asked
from planner.dates.placing import finish_of, let_in, named_steps, put, retimed, ways_in
from planner.main_job import Job
from planner.plan import Listed, Plan
from planner.proposals.carry import carried
from planner.search import Progress, search
from planner.timetable import Timetable
from planner.verify import verify
from planner.work import Kept, Work

How = Callable[[float], dict[str, Any]]  # limits of a search that may use that share of what is left
SOME_MORE = 10  # minutes of the enquiry's that a minute past another's limit costs at first
SOFT_SHARE, HARD_SHARE = 0.45, 0.6  # of what is left for the date; the rest for keeping the running order
HIT_SHARE = 0.5  # of what is left for the wanted date: to hit it at all; the rest for less harm
HALVINGS = 8
FAR_MORE = 10**7  # a minute of what must not be is worse than any lateness of the rest within the known calendars


def limits(job: Job, asked: Asked) -> dict[int, int]:
    """By order (not the enquiry's): until when it may move without being hurt."""
    ready = ready_times(job.work, job.plan)
    return {order.index: limit_min(order, ready) for order in asked.work.orders if order.index != asked.order}


def unbroken(job: Job, asked: Asked, start: Plan, how: How, tell: Callable[[int], None]) -> tuple[Plan, bool]:
    """The earliest finish found at which no other order is past its limit; at worst ``start``, which must keep them all.

    A broken promise first costs only so much, or the search could not move past the plans that break one for a moment; what
    is still broken then is mended at any price. Of the plans with that finish one is looked for at last that keeps the job's
    running order as far as it can.

    Returns
    -------
    tuple[Plan, bool]
        The plan in terms of ``asked.work``, and whether it is proved that none is earlier.
    """
    bounds = limits(job, asked)
    starts = [carried(asked.work, start, asked.work), *ways_in(job, asked, start, finish_of(asked, start))]
    soft = _weighed(asked, bounds, dict.fromkeys(bounds, SOME_MORE), ask=(0, 1))
    first = _search(soft, starts, how(SOFT_SHARE))
    hard = _weighed(asked, bounds, dict.fromkeys(bounds, FAR_MORE), ask=(0, 1))
    found = _search(hard, [carried(asked.work, first, asked.work)], how(HARD_SHARE), tell) if first.complete else first
    plan = _checked(asked, hard, found) or start
    if _broken(asked, plan, bounds):
        found = _search(hard, starts, how(HARD_SHARE), tell)
        plan = _checked(asked, hard, found) or start
    ready = finish_of(asked, plan)
    if ready >= finish_of(asked, start) or _broken(asked, plan, bounds):
        return start, found.bound.value == finish_of(asked, start)
    calm = replace(
        _weighed(asked, bounds, dict.fromkeys(bounds, FAR_MORE), ask=(ready, FAR_MORE)), kept=kept(job, asked)
    )
    other = _checked(
        asked, calm, _search(calm, [carried(asked.work, plan, asked.work), let_in(job, asked, plan)], how(1.0))
    )
    if other is not None and finish_of(asked, other) <= ready and not _broken(asked, other, bounds):
        plan = other
    return plan, found.bound.value == finish_of(asked, plan)


def breaks_none(job: Job, asked: Asked, plan: Plan) -> bool:
    """Is no other order past its limit in a plan?"""
    return not _broken(asked, plan, limits(job, asked))


def hitting(job: Job, asked: Asked, start: Plan, wanted_min: int, how: How) -> Plan:
    """The enquiry by the wanted time before all else (as near as it gets), and then as little harm as can be.

    Harm is what the orders' classes say a late minute costs, counted past each one's limit, and the price of change in the
    running order.
    """
    bounds = limits(job, asked)
    weights = {i: asked.work.orders[i].weight for i in bounds}
    work = replace(_weighed(asked, bounds, weights, ask=(wanted_min, FAR_MORE)), kept=kept(job, asked))
    as_it_is = carried(asked.work, start, asked.work)
    starts = [as_it_is, *ways_in(job, asked, start, wanted_min), *_near(job, asked, start, wanted_min, work)]
    plan = start
    for share in (
        HIT_SHARE,
        1.0,
    ):  # to hit it at all, then with less harm: from that plan, and with the enquiry put off again
        plan = _checked(asked, work, _search(work, starts, how(share))) or plan
        starts = [carried(asked.work, plan, asked.work), *_near(job, asked, plan, wanted_min, work)]
    return plan


def _near(job: Job, asked: Asked, plan: Plan, wanted_min: int, work: Work) -> list[list[Listed]]:
    """The job's running order with the enquiry let in as ``plan`` has it, but later, or sooner, until it is ready just by the
    wanted time: the lists that halving tries on the way there. Where it is early in ``plan`` others may get time back by it."""
    table, found = Timetable(work), []
    room = wanted_min - finish_of(asked, plan)
    sooner, later = sorted((0, 2 * room))
    for _ in range(HALVINGS):
        middle = (sooner + later) // 2
        found.append(let_in(job, asked, plan, middle))
        put(table, found[-1])
        ready = order_finish(work, {s.operation: s for s in table.steps()}, work.orders[asked.order])
        in_time = not table.unplaced() and ready is not None and ready <= wanted_min
        sooner, later = (middle, later) if in_time else (sooner, middle)
    return found


def kept(job: Job, asked: Asked) -> tuple[Kept, ...]:
    """Where the job's plan has each step: the price of change is asked for all of them."""
    places = asked.work.places
    on: dict[int, list[tuple[int, int]]] = {}
    for name, step in named_steps(job.work, job.plan):
        if step.machine is not None and name in places:
            on.setdefault(step.machine, []).append((step.start, places[name]))
    found = []
    for machine, row in on.items():
        ops = [op for _, op in sorted(row)]
        found += [Kept(op, machine, before) for before, op in pairwise([None, *ops]) if op is not None]
    return tuple(sorted(found, key=lambda k: k.operation))


def _weighed(asked: Asked, bounds: dict[int, int], weights: dict[int, int], ask: tuple[int, int]) -> Work:
    """The work with other dues and weights; ``ask``: those of the enquiry."""
    orders = tuple(
        replace(order, due_min=due, weight=weight)
        for order in asked.work.orders
        for due, weight in [ask if order.index == asked.order else (bounds[order.index], weights[order.index])]
    )
    return replace(asked.work, orders=orders, kept=())


def _search(
    work: Work, starts: list[list[Listed]], how: dict[str, Any], tell: Callable[[int], None] | None = None
) -> Plan:
    """Search on from the best of some lists; ``tell`` hears the first tier of the cost whenever it has got less."""
    best = [1 << 62]

    def hear(now: Progress) -> None:
        if now.cost.first < best[0]:
            best[0] = now.cost.first
            if tell is not None:
                tell(now.cost.first)

    return search(work, start=_best_of(work, starts), progress=hear, **how)


def _best_of(work: Work, starts: list[list[Listed]]) -> list[Listed]:
    if len(starts) == 1:
        return starts[0]
    table = Timetable(work)

    def rank(listed: list[Listed]) -> tuple[int, int, int]:
        put(table, listed)
        cost = table.cost()
        return len(table.unplaced()), cost.first, cost.second

    return min(starts, key=rank)


def _checked(asked: Asked, work: Work, found: Plan) -> Plan | None:
    """What a search found, in terms of ``asked.work``; None unless it is complete and breaks no rule."""
    if not found.complete:
        return None
    plan = retimed(asked.work, found, work)
    return None if plan is None or verify(asked.work, plan) else plan


def _broken(asked: Asked, plan: Plan, bounds: dict[int, int]) -> bool:
    ready = ready_times(asked.work, plan)
    return any(ready[asked.work.orders[i].number] > limit for i, limit in bounds.items())
