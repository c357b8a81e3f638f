"""Until when each operation may take without making anything late, nothing else standing in its way.

A backward pass in the machines' own hours. The dispatch rules take it as the operation's due
time; it is a guide, not a bound.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from planner.timetable.arrays import Data
from planner.timetable.lines import before
from planner.timetable.timetable import Timetable
from planner.work import NEVER, Kind, Work


def backward_order(table: Timetable) -> Iterator[int]:
    """Planned operations, each after everything that waits for it."""
    return reversed(table.repaired([]).tolist())


def operation_dues(table: Timetable) -> tuple[np.ndarray, np.ndarray]:
    """Latest ends and weights.

    Returns
    -------
    due, weight : arrays by operation
        ``due`` in minutes (may be negative); ``weight`` that of the heaviest order it feeds (at least 1).
        Work that feeds no order has ``due`` ``NEVER``.
    """
    work, data = table.work, table.data
    due = np.full(len(work.operations), NEVER, np.int64)
    weight = np.ones(len(work.operations), np.int64)
    for order in work.orders:
        for i in data.source_op[data.order[order.index]["lo"] : data.order[order.index]["hi"]]:
            due[i] = min(due[i], order.due_min)
            weight[i] = max(weight[i], order.weight)
    for op in backward_order(table):
        latest_start = _latest_start(work, data, op, int(due[op]))
        row = data.op[op]
        feeds = [int(row["before"])] if row["before"] >= 0 else []
        for i in feeds + data.need_op[row["need_lo"] : row["need_hi"]].tolist():
            move_min = int(row["move_min"]) if i == row["before"] else 0
            due[i] = min(due[i], latest_start - move_min - int(data.op[i]["wait_min"]))
            weight[i] = max(weight[i], weight[op])
    return due, weight


def _latest_start(work: Work, data: Data, op: int, due: int) -> int:
    if due >= NEVER:
        return NEVER
    row = data.op[op]
    if row["kind"] == Kind.OUTSIDE:
        cutoffs = [t.cutoff_min for t in work.services[int(row["service"])].trips if t.back_min <= due]
        return max(cutoffs, default=due - 7 * 1440)
    starts = []
    for a in range(int(row["alt_lo"]), int(row["alt_hi"])):
        alt = data.alt[a]
        minutes = int(alt["run_min"] + alt["setup_min"])
        start = int(before(data.lines, int(alt["line"]), due, minutes))
        starts.append(start if start > -NEVER else due - 3 * minutes)
    return max(starts, default=due)
