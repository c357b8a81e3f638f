"""What it takes to hit the wanted date: who makes room, and by how much."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from planner.dates.enquiry import Asked
from planner.dates.placing import finish_of, just_in_time, named_steps, ways_in
from planner.dates.searching import FAR_MORE, How, checked, decided, limits, search_on, weighed
from planner.explode.decisions import FIRM
from planner.main_job import Job
from planner.plan import Plan
from planner.proposals.carry import carried
from planner.work import Kept

HIT_SHARE = 0.5  # of what is left for the wanted date: to hit it at all; the rest for less harm


def hitting(job: Job, asked: Asked, start: Plan, wanted_min: int, how: How) -> Plan:
    """The enquiry by the wanted time before all else (as near as it gets), and then as little harm as can be.

    Harm is what the orders' classes say a late minute costs, counted past each one's limit, and the price of change in the
    running order.
    """
    bounds = limits(job, asked)
    weights = {i: asked.work.orders[i].weight for i in bounds}
    as_it_is = carried(asked.work, start, asked.work)
    starts = [as_it_is, *ways_in(job, asked, start, wanted_min), *just_in_time(job, asked, start, wanted_min)]
    plan, by_min = start, wanted_min
    for share in (
        HIT_SHARE,
        1.0,
    ):  # to hit it at all; then with less harm, from that plan and with the enquiry put off again
        work = replace(
            weighed(asked, bounds, weights, ask=(by_min, FAR_MORE)), kept=kept(job, asked, decided(asked, FIRM))
        )
        plan = checked(asked, work, search_on(work, starts, how, share)) or plan
        by_min = max(wanted_min, finish_of(asked, plan))  # as near as it gets
        starts = [carried(asked.work, plan, asked.work), *just_in_time(job, asked, plan, by_min)]
    return plan


def kept(job: Job, asked: Asked, firm: Sequence[Kept]) -> tuple[Kept, ...]:
    """Where the job's plan has each step: the price of change is asked for all of them; of those in ``firm`` it is as there."""
    places = asked.work.places
    on: dict[int, list[tuple[int, int]]] = {}
    for name, step in named_steps(job.work, job.plan):
        if step.machine is not None and name in places:
            on.setdefault(step.machine, []).append((step.start, places[name]))
    found = []
    for machine, row in on.items():
        ops = [op for _, op in sorted(row)]
        found += [Kept(op, machine, before) for before, op in pairwise([None, *ops]) if op is not None]
    return tuple(sorted({k.operation: k for k in (*found, *firm)}.values(), key=lambda k: k.operation))
