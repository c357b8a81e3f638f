"""What a list holds back is let go where something is late because of it."""

from __future__ import annotations

import numpy as np

from planner.timetable import Timetable
from planner.timetable.arrays import WHY_HELD
from planner.timetable.kernel import order_end
from planner.timetable.state import F_ON, F_WHY


def let_go(table: Timetable, sequence: np.ndarray, choice: np.ndarray) -> None:
    """Take off holds that late orders wait for, as long as that lowers the first tier of the cost of the list.

    Parameters
    ----------
    table
        With the holds (:meth:`Timetable.hold`); in the end with those that stay, and nothing timed.
    sequence, choice
        The list and its machine choices.
    """
    kept: set[int] = set()
    best = _first_tier(table, sequence, choice)
    while held := _in_the_way(table) - kept:
        until = table.held.copy()
        table.hold(np.where(np.isin(np.arange(len(until)), list(held)), 0, until))
        cost = _first_tier(table, sequence, choice)
        if cost >= best:
            kept |= held
            table.hold(until)
            table.time(sequence, choice)
        best = min(best, cost)
    table.reset()


def _first_tier(table: Timetable, sequence: np.ndarray, choice: np.ndarray) -> tuple[int, int]:
    """Operations without a place, and the first tier of the cost."""
    return table.time(sequence, choice), table.cost().first


def _in_the_way(table: Timetable) -> set[int]:
    """Operations held back that a late order waits for in the end."""
    data, res, found = table.data, table.state.res, set()
    for i, row in enumerate(data.order):
        if row["hi"] == row["lo"] or order_end(data, table.state, i) <= row["due"]:
            continue
        for end in data.source_op[row["lo"] : row["hi"]]:
            op = int(end)
            for _ in range(len(res)):
                if op < 0 or res[op, F_WHY] == WHY_HELD:
                    break
                op = int(res[op, F_ON])
            if op >= 0 and res[op, F_WHY] == WHY_HELD:
                found.add(op)
    return found
