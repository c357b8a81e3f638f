"""What is still to be done behind each operation, where one order waits for all: a move that cannot pay is seen at once.

What stands behind an operation takes at least its run minutes, whatever the hours and whoever is there. A list in which
an operation ends too late for that is dropped without timing the rest (Taillard, ORSA Journal on Computing
6:108-117, 1994, reckons with the same tails). The exact backward pass, with hours and people, is in ``holding.py``.
"""

from __future__ import annotations

from planner.compiling import inner
from planner.timetable.state import F_ALT

NO_WAY = 1 << 50  # behind what no order waits for


@inner
def fill_latest(data, st, cur, hi, latest):
    """Into ``latest``, by operation up to place ``hi``: the latest minute to end a run at for the order to be ready at 0.

    Operations behind that place must hold theirs already, in the order that the list has now.
    """
    for i in range(hi, -1, -1):
        op = cur[i]
        row = data.op[op]
        after = 0 if data.feeds_lo[op] < data.feeds_lo[op + 1] else NO_WAY
        if row.after >= 0 and data.op[row.after].ahead == 0:
            after = min(after, _start(data, st, row.after, latest))
        for j in range(row.use_lo, row.use_hi):
            after = min(after, _start(data, st, data.use_op[j], latest))
        after = after - row.wait_min if after < NO_WAY else NO_WAY
        latest[op] = min(after, _start(data, st, st.next[op], latest)) if st.next[op] >= 0 else after


@inner
def _start(data, st, op, latest):
    """The latest start of ``op`` for the order to be ready at 0."""
    alt = st.res[op, F_ALT]
    if latest[op] >= NO_WAY or alt < 0:
        return latest[op]
    return latest[op] - data.alt[alt].run_min
