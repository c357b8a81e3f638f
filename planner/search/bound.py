"""A bound on the first-tier cost that holds for every allowed plan.

Each order for itself: its operations and components one after another in the hours of the machines,
on the quickest machine, with the least setup that any predecessor could leave, people, equipment and
all other work ignored, on the earliest collections. A later arrival never ends sooner in this
relaxation (hours, collections and returns are all monotone), so what it finds is never above the truth.
"""

from __future__ import annotations

import numpy as np

from planner.compiling import compiled, inner
from planner.plan import Bound
from planner.timetable.arrays import Data, ints
from planner.timetable.kernel import OUTSIDE, has_length
from planner.timetable.lines import after, first_open
from planner.timetable.timetable import Timetable
from planner.timetable.trial import moved
from planner.work import NEVER

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
    return _earliest_ends(table, table.repaired([]))


def earliest_end(table: Timetable, op: int) -> int:
    """An end of one operation that no allowed plan goes below (minutes)."""
    behind, left = {op}, [op]
    while left:
        new = set(table.waits_for(left.pop())) - behind
        behind |= new
        left.extend(new)
    order = table.repaired([])
    return int(_earliest_ends(table, order[np.isin(order, list(behind))])[op])


def least_setups(data: Data, operations: np.ndarray) -> np.ndarray:
    """By alternative of these operations, the least setup minutes, whatever stands before it."""
    key = data.op["key"]
    keys, times = np.unique(key[data.op["planned"] != 0], return_counts=True)
    may_skip = np.isin(key, keys[times > 1]) | np.isin(key, data.machine["on_key"])
    least = np.zeros(len(data.alt), np.int64)
    for row in data.op[operations[~may_skip[operations]]]:
        # a changeover comes on top only after some families: after none, as at first, there is none
        least[row["alt_lo"] : row["alt_hi"]] = data.alt["setup_min"][row["alt_lo"] : row["alt_hi"]]
    return least


def _earliest_ends(table: Timetable, operations: np.ndarray) -> np.ndarray:
    """Of these, each behind what it waits for."""
    data, batches = table.data, table.work.batches
    release = ints(batches[o.batch].release_min for o in table.work.operations)
    ends = np.zeros(len(release), np.int64)
    _fill_ends(data, release, operations, least_setups(data, operations), ends)
    return ends


@compiled
def _fill_ends(data, release, operations, crossing, ends):
    for op in operations:
        ends[op] = min(NEVER, _end(data, release, op, ends, crossing))


@inner
def _end(data, release, op, ends, crossing):
    row = data.op[op]
    if row.out == 1:
        return row.back + row.wait_min
    t = row.earliest
    for i in range(row.need_lo, row.need_hi):
        t = max(t, ends[data.need_op[i]])
    if row.running == 1:
        t = 0
    elif row.transfer > 0:
        # sublots may be there long before the batch: only the step's own first pieces are counted on
        t = max(t, release[op])
    if row.kind == OUTSIDE:
        return _back(data, op, t, ends) + row.wait_min
    run_end = _ready(data, op, -1, t, ends) if row.alt_lo == row.alt_hi else 2 * NEVER
    for a in range(row.alt_lo, row.alt_hi):
        run_end = min(run_end, _run_end(data, op, a, t, ends, crossing))
    if row.transfer > 0 and row.running == 0:
        run_end = max(run_end, ends[row.before])  # its last pieces come when the step before is through
    return run_end + row.wait_min


@inner
def _ready(data, op, machine, t, ends):
    """When the whole batch is there (or, with sublots, the time of which nothing is known: ``t``)."""
    row = data.op[op]
    if row.before < 0 or row.running == 1 or row.transfer > 0:
        return t
    return max(t, moved(data, op, machine, ends[row.before]))


@inner
def _run_end(data, op, a, t, ends, crossing):
    row, alt = data.op[op], data.alt[a]
    line = data.machine[alt.machine].line
    ready = _ready(data, op, alt.machine if has_length(data, op, a) else -1, t, ends)
    set_min = row.setup_left if row.running == 1 else crossing[a]
    if row.ahead == 1 or row.running == 1:
        ready = max(ready, after(data.lines, line, t, set_min))
    else:
        ready = after(data.lines, line, ready, set_min) if ready < NEVER else NEVER
    if ready >= NEVER:
        return NEVER
    if row.running == 0 and alt.run_min > 0:
        ready = first_open(data.lines, line, ready)
    return after(data.lines, alt.line, ready, alt.run_min) if ready < NEVER else NEVER


@inner
def _back(data, op, t, ends):
    ready, service, back = _ready(data, op, -1, t, ends), data.op[op].service, NEVER
    for trip in range(data.trip_lo[service], data.trip_lo[service + 1]):
        if data.trip[trip].cutoff >= ready:
            back = min(back, data.trip[trip].back)
    return back
