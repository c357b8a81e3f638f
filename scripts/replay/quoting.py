"""A date for an enquiry, with only what is known that morning.

The enquiry is placed into the gaps of the present plan, so that nothing that is already promised moves: the answer
"behind everything". That plan, with the enquiry in it, is what its risk is read off, and what the next enquiry finds.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from replay.floor import Floor
from replay.stream import Enquiry
from replay.truth import Truth
from replay.world import day_of

from planner.explode import explode
from planner.plan import Listed, Plan
from planner.proposals.carry import carried
from planner.search import search
from planner.shop import Order, Shop
from planner.timetable import Timetable
from planner.work import Work

FAR_DAYS = 60  # an enquiry has no due date yet


@dataclass(frozen=True)
class Planned:
    """A shop with the plan it works by."""

    shop: Shop
    work: Work
    plan: Plan

    def finish(self, number: str) -> int:
        """Minute at which an order is ready by the plan."""
        ends = {step.operation: step.end for step in self.plan.steps}
        order = next(o for o in self.work.orders if o.number == number)
        batches = [self.work.batches[s.batch] for s in order.sources if s.batch is not None]
        return max(0, *(ends.get(batch.operations[-1], 0) for batch in batches))


def placed(floor: Floor, truth: Truth, now: Planned, more: tuple[Order, ...], enquiry: Enquiry) -> Planned:
    """The present plan with an enquiry in its gaps; ``more``: the orders taken this morning."""
    order = floor.order(enquiry, day_of(floor.day + FAR_DAYS))
    shop = floor.shop(truth, (*more, order))
    work = explode(shop)
    table = Timetable(work)
    list_, choice = carried(now.work, now.plan, work), np.full(len(work.operations), -1, np.int64)
    for row in list_:
        choice[row.operation] = table.alternative(row.operation, row.machine)
    sequence = table.repaired(row.operation for row in list_)
    table.time(sequence, choice)
    table.retime(sequence, choice, len(list_), placing=True)
    steps = {step.operation: step for step in table.steps()}
    by_start = sorted(sequence.tolist(), key=lambda i: steps[i].start)
    start = [Listed(i, steps[i].machine) for i in by_start]
    return Planned(shop, work, search(work, trials=1, start=start, workers=1))


def moment_of(work: Work, minute: float) -> datetime:
    """Wall time of a planning minute, rounded up."""
    return (work.plan_start + timedelta(minutes=int(np.ceil(minute)))).replace(tzinfo=None)
