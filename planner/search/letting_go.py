"""What a list holds back is let go where something is late, or finds no place, because of it."""

from __future__ import annotations

import numpy as np

from planner.search.freed import late_orders
from planner.timetable import Timetable
from planner.timetable.arrays import WHY_HELD
from planner.timetable.state import F_ON, F_WHY


def let_go(table: Timetable, sequence: np.ndarray, choice: np.ndarray) -> None:
    """Take off holds that late orders wait for, as far as that lowers the first tier of the cost of the list.

    Taking one off may bring nothing by itself, where the next one behind it ends at the same minute: so all on the way are
    taken off one after another, and what brought nothing in the end is put back.

    Parameters
    ----------
    table
        With the holds (:meth:`Timetable.hold`); in the end with those that stay, and nothing timed.
    sequence, choice
        The list and its machine choices.
    """
    best, until = _first_tier(table, sequence, choice), table.held.copy()
    while held := _in_the_way(table):
        table.hold(np.where(np.isin(np.arange(len(until)), list(held)), 0, table.held))
        cost = _first_tier(table, sequence, choice)
        if cost < best:
            best, until = cost, table.held.copy()
    table.hold(until)


def _first_tier(table: Timetable, sequence: np.ndarray, choice: np.ndarray) -> tuple[int, int]:
    """Operations without a place, and the first tier of the cost."""
    return table.time(sequence, choice), table.cost().first


def _in_the_way(table: Timetable) -> set[int]:
    """Operations held back that a late order waits for in the end; all that are, where something finds no place."""
    data, res, found = table.data, table.state.res, set()
    if table.unplaced():
        return set(np.flatnonzero(table.held).tolist())
    for i, _ in late_orders(table):
        row = data.order[i]
        for end in data.source_op[row["lo"] : row["hi"]]:
            op = int(end)
            for _ in range(len(res)):
                if op < 0 or res[op, F_WHY] == WHY_HELD:
                    break
                op = int(res[op, F_ON])
            if op >= 0 and res[op, F_WHY] == WHY_HELD:
                found.add(op)
    return found
