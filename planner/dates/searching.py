"""Searches for an enquiry: the same work with other dues, weights and orders, and what was found told in terms of the shop's own.

They are list searches only: in the second or two that each may take, a second one on the other core finds more than the solver.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Any

from planner.answers.feeds import limit_min, ready_times
from planner.dates.enquiry import Asked
from planner.dates.placing import put, retimed
from planner.main_job import Job
from planner.plan import Listed, Plan
from planner.search import Progress, search
from planner.timetable import Timetable
from planner.verify import verify
from planner.work import Kept, Order, Source, Work

How = Callable[[float], dict[str, Any]]  # limits of a search that may use that share of what is left
FAR_MORE = 10**7  # a minute of what must not be is worse than any lateness of the rest within the known calendars
DECIDED = FAR_MORE // 100  # times the price of change, for a place that was decided or is frozen


def limits(job: Job, asked: Asked) -> dict[int, int]:
    """By order (not the enquiry's): until when it may move without being hurt."""
    ready = ready_times(job.work, job.plan)
    return {order.index: limit_min(order, ready) for order in asked.work.orders if order.index != asked.order}


def broken(asked: Asked, plan: Plan, bounds: Mapping[int, int]) -> bool:
    """Is some order past its limit in a plan?"""
    ready = ready_times(asked.work, plan)
    return any(ready[asked.work.orders[i].number] > limit for i, limit in bounds.items())


def weighed(asked: Asked, bounds: Mapping[int, int], weights: Mapping[int, int], ask: tuple[int, int]) -> Work:
    """The work with other dues and weights; ``ask``: those of the enquiry. What was decided, or is frozen, keeps its place."""
    orders = tuple(
        replace(order, due_min=due, weight=weight)
        for order in asked.work.orders
        for due, weight in [ask if order.index == asked.order else (bounds[order.index], weights[order.index])]
    )
    return replace(asked.work, orders=orders, kept=decided(asked, DECIDED))


def decided(asked: Asked, weight: int) -> tuple[Kept, ...]:
    """Places on machines that were decided or are frozen, at so many times the price of change."""
    return tuple(replace(kept, weight=weight) for kept in asked.work.kept if kept.weight > 1)


def component_orders(asked: Asked) -> tuple[Order, ...]:
    """An order, due at once, for each batch made for the enquiry that goes into another: with them a search has components early."""
    order = asked.work.orders[asked.order]
    components = sorted(asked.batches - {source.batch for source in order.sources})
    return tuple(
        replace(
            order, index=len(asked.work.orders) + n, number=f"{order.number}, {asked.work.batches[batch].name}", weight=1,
            due_min=0, promise_min=None, sources=(Source(asked.work.batches[batch].good_expected, batch),),
        )
        for n, batch in enumerate(components)
    )  # fmt: skip


def search_on(
    work: Work,
    starts: list[list[Listed]],
    how: How,
    share: float,
    runs: Sequence[int] = (0, 1),
    tell: Callable[[int], None] | None = None,
    enough: int = -1,
) -> Plan:
    """Search on from the best of some lists: each run on a core of its own with a seed of its own, and the better counts.

    ``tell`` hears the first tier of the cost of every first plan and stage, in the threads of the searches. A run ends where
    that is ``enough``.
    """

    def run(nth: int) -> Plan:
        limit, there = how(share), False

        def hear(now: Progress) -> None:
            nonlocal there
            there = now.cost.first <= enough
            if tell is not None:
                tell(now.cost.first)

        def stop() -> bool:
            return there or (limit["stop"] is not None and limit["stop"]())

        seed = 2 * limit["seed"] + nth
        return search(work, start=begin, progress=hear, solver=False, **{**limit, "seed": seed, "stop": stop})

    begin = _best_of(work, starts)
    with ThreadPoolExecutor(len(runs)) as threads:
        return min(threads.map(run, runs), key=lambda p: (not p.complete, p.cost.first, p.cost.second))


def checked(asked: Asked, work: Work, found: Plan) -> Plan | None:
    """What a search of ``work`` found, in terms of ``asked.work``; None unless it is complete and breaks no rule."""
    if not found.complete:
        return None
    plan = retimed(asked.work, found, work)
    return None if plan is None or verify(asked.work, plan) else plan


def _best_of(work: Work, starts: list[list[Listed]]) -> list[Listed]:
    if len(starts) == 1:
        return starts[0]
    table = Timetable(work)

    def rank(listed: list[Listed]) -> tuple[int, int, int]:
        put(table, listed)
        cost = table.cost()
        return len(table.unplaced()), cost.first, cost.second

    return min(starts, key=rank)
