"""A bound on the first-tier cost that holds for every allowed plan.

Each order for itself: its operations and components one after another in the hours of the machines,
on the quickest machine, with the least setup that any predecessor could leave, people, equipment and
all other work ignored, on the earliest collections. A later arrival never ends sooner in this
relaxation (hours, collections and returns are all monotone), so what it finds is never above the truth.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from planner.plan import Bound
from planner.timetable.arrays import Data
from planner.timetable.kernel import has_length
from planner.timetable.lines import after, first_open
from planner.timetable.timetable import Timetable
from planner.timetable.trial import moved
from planner.work import NEVER, Kind, Work

KIND = "each order alone: its own work, hours, moves and collections, with every machine and person free"


def order_alone_bound(table: Timetable) -> Bound:
    """Sum over orders of weight x minutes late that nothing could avoid.

    Returns
    -------
    Bound
        ``value`` in weighted minutes, never above the first-tier cost of an allowed plan.
    """
    data, ends = table.data, earliest_ends(table)
    return Bound(sum(least_late(data, row, ends) for row in data.order), KIND)


def least_late(data: Data, order: np.void, ends: np.ndarray) -> int:
    """What an order costs (weighted minutes late) with its operations at these ends."""
    end = max([int(order["at"]), *(int(ends[i]) for i in data.source_op[order["lo"] : order["hi"]])])
    return int(order["weight"]) * max(0, end - int(order["due"]))


def earliest_ends(table: Timetable) -> np.ndarray:
    """By operation, an end that no allowed plan goes below (minutes)."""
    return _earliest_ends(table, table.repaired([]).tolist())


def earliest_end(table: Timetable, op: int) -> int:
    """An end of one operation that no allowed plan goes below (minutes)."""
    behind, left = {op}, [op]
    while left:
        new = set(table.waits_for(left.pop())) - behind
        behind |= new
        left.extend(new)
    return int(_earliest_ends(table, [i for i in table.repaired([]).tolist() if i in behind])[op])


def _earliest_ends(table: Timetable, operations: list[int]) -> np.ndarray:
    """Of these, each behind what it waits for."""
    work, data = table.work, table.data
    ends = np.zeros(len(work.operations), np.int64)
    crossing = least_setups(work, data, operations)
    for op in operations:
        ends[op] = min(NEVER, _earliest_end(work, data, op, ends, crossing))
    return ends


def _earliest_end(work: Work, data: Data, op: int, ends: np.ndarray, crossing: np.ndarray) -> int:
    row = data.op[op]
    if row["out"]:
        return int(row["back"] + row["wait_min"])
    t = int(row["earliest"])
    for i in data.need_op[row["need_lo"] : row["need_hi"]]:
        t = max(t, int(ends[i]))
    if row["running"]:
        t = 0
    elif row["transfer"]:
        # sublots may be there long before the batch: only the step's own first pieces are counted on
        t = max(t, int(work.batches[int(row["batch"])].release_min))
    if row["kind"] == Kind.OUTSIDE:
        return _back(work, data, op, t, ends) + int(row["wait_min"])
    run_end = min(
        (_run_end(data, op, a, t, ends, crossing) for a in range(int(row["alt_lo"]), int(row["alt_hi"]))),
        default=_ready(data, op, -1, t, ends),
    )
    if row["transfer"] and not row["running"]:
        run_end = max(run_end, int(ends[row["before"]]))  # its last pieces come when the step before is through
    return run_end + int(row["wait_min"])


def _ready(data: Data, op: int, machine: int, t: int, ends: np.ndarray) -> int:
    """When the whole batch is there (or, with sublots, the time of which nothing is known: ``t``)."""
    row = data.op[op]
    if row["before"] < 0 or row["running"] or row["transfer"]:
        return t
    return max(t, int(moved(data, op, machine, int(ends[row["before"]]))))


def _run_end(data: Data, op: int, a: int, t: int, ends: np.ndarray, crossing: np.ndarray) -> int:
    row, alt = data.op[op], data.alt[a]
    machine = int(alt["machine"])
    line, hours = int(data.machine[machine]["line"]), int(alt["line"])
    ready = _ready(data, op, machine if has_length(data, op, a) else -1, t, ends)
    set_min = int(row["setup_left"]) if row["running"] else int(crossing[a])
    if row["ahead"] or row["running"]:
        begin = t
        ready = max(ready, int(after(data.lines, line, begin, set_min)))
    else:
        ready = int(after(data.lines, line, ready, set_min)) if ready < NEVER else NEVER
    if ready >= NEVER:
        return NEVER
    if not row["running"] and alt["run_min"]:
        ready = int(first_open(data.lines, line, ready))
    return int(after(data.lines, hours, ready, int(alt["run_min"]))) if ready < NEVER else NEVER


def _back(work: Work, data: Data, op: int, t: int, ends: np.ndarray) -> int:
    ready = _ready(data, op, -1, t, ends)
    trips = work.services[int(data.op[op]["service"])].trips
    return min((x.back_min for x in trips if x.cutoff_min >= ready), default=NEVER)


def least_setups(work: Work, data: Data, operations: Iterable[int]) -> np.ndarray:
    """By alternative of these operations, the least setup minutes, whatever stands before it."""
    keys: dict[int, int] = {}
    for o in work.operations:
        if data.op[o.index]["planned"]:
            keys[int(data.op[o.index]["key"])] = keys.get(int(data.op[o.index]["key"]), 0) + 1
    standing = set(data.machine["on_key"].tolist())
    least = np.zeros(len(data.alt), np.int64)
    for op in operations:
        row = data.op[op]
        may_skip = keys[int(row["key"])] > 1 or int(row["key"]) in standing
        if not may_skip:  # a changeover comes on top only after some families: after none, as at first, there is none
            least[row["alt_lo"] : row["alt_hi"]] = data.alt["setup_min"][row["alt_lo"] : row["alt_hi"]]
    return least
