"""Making the machine code of the timetable and the search before it is needed.

The first run on a machine compiles for two minutes or more; later runs read what was kept. Done before the
clock of a search starts, so that the time asked for goes into searching.
"""

from __future__ import annotations

from datetime import UTC, datetime
from functools import cache

import numpy as np

from planner.search.bound_prices import PriceBound
from planner.search.climb import Climber
from planner.search.cpsat import Cpsat
from planner.search.dispatch import RULES, dispatch
from planner.search.later import Leeway
from planner.search.starts import Starts
from planner.search.whole import Whole
from planner.timetable import Timetable
from planner.work import Alternative, Batch, Group, Hours, Kind, Machine, Operation, Order, Source, Work


@cache
def get_ready() -> None:
    """Run everything that is compiled once, on the smallest work there is. A second call does nothing."""
    work = _least_work()
    table = Timetable(work)
    sequence = dispatch(table, RULES[0])
    choice = table.choice.copy()
    table.reset()
    climber = Climber(table, sequence, choice, 1)
    climber.run(2)
    leeway = Leeway(table)
    leeway.latest(np.arange(len(work.operations)))
    leeway.hold_back(lambda: False)
    table.cost()
    Whole(table).solve(Cpsat(), 1.0, 1)
    PriceBound(table, 10).run(1, 1000)
    Starts(table).of(0, 0, 0, 0, 10, np.zeros((0, 2), np.int64))


def _least_work() -> Work:
    """Two steps, one after the other, and one of another batch."""
    steps = tuple(
        Operation(i, batch, n, "", Kind.MACHINE, 1, 1, alternatives=(Alternative(0, 0, 60),))
        for i, (batch, n) in enumerate([(0, 10), (0, 20), (1, 10)])
    )
    return Work(
        shop="", zone="UTC", plan_start=datetime(2027, 1, 1, tzinfo=UTC),
        machines=(Machine("M", 0, Hours(((0, 100),))),), groups=(Group("M", (0,)),), skills=(), people=(),
        equipment=(), changeovers={},
        batches=tuple(Batch(i, f"B{i}", "P", "", "", 1, 0, 1, 0, ops, 0) for i, ops in enumerate([(0, 1), (2,)])),
        operations=steps, needs=(),
        orders=tuple(Order(i, f"O{i}", "", "P", 1, 0, 1, "", (Source(1, batch=i),)) for i in range(2)),
    )  # fmt: skip
