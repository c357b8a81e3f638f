"""From what the solver says to lists: who comes first on a machine is its answer, who has first call on people is not.

Lists in order of start time as the solver meant where machines alone are short. Where people are, such a list is another plan
even if the solver moved nothing: hand work that began early and gave way would come first in it. So there are also lists
that keep the present order but for what the new turns on machines ask for.
"""

from __future__ import annotations

from heapq import heapify, heappop, heappush
from itertools import pairwise

import numpy as np

from planner.search.solver import Moved
from planner.timetable.state import F_MACHINE, F_START
from planner.timetable.timetable import Timetable


def lists_of(table: Timetable, moved: Moved) -> list[tuple[np.ndarray, np.ndarray]]:
    """What the solver found as lists with machine choices, to be timed: in order of start, and near to the list timed last."""
    choice = table.choice.copy()
    for op, alt in moved.alt.items():
        if alt >= 0 and (choice[op] < 0 or table.data.alt[choice[op]]["plain"] != alt):
            choice[op] = alt  # on the same machine, who was named still is
    place = {int(op): i for i, op in enumerate(table.list)}
    start = {op: (moved.start.get(op, int(table.state.res[op, F_START])), i) for op, i in place.items()}
    orders = [sorted(start, key=start.__getitem__)]
    if table.work.people:
        orders += _near(_followers(table, moved, start), place)
    return [(table.repaired(order), choice) for order in orders]


def _followers(table: Timetable, moved: Moved, start: dict[int, tuple[int, int]]) -> dict[int, list[int]]:
    """By operation, which ones must stand behind it: those that wait for it, and the next on its machine."""
    behind: dict[int, list[int]] = {op: [] for op in start}
    on: dict[int, list[int]] = {}
    for op in start:
        for other in table.waits_for(op):
            behind[other].append(op)
        alt = moved.alt.get(op, -1)
        machine = int(table.data.alt[alt]["machine"]) if alt >= 0 else int(table.state.res[op, F_MACHINE])
        if machine >= 0:
            on.setdefault(machine, []).append(op)
    for ops in on.values():
        for op, other in pairwise(sorted(ops, key=start.__getitem__)):
            behind[op].append(other)
    return behind


def _near(behind: dict[int, list[int]], place: dict[int, int]) -> list[list[int]]:
    """Two lists near to the one of ``place``: what must stand behind an operation goes there, or that goes in front of it.
    None where they cannot be had, as turns go round in a circle."""
    ahead = dict.fromkeys(behind, 0)
    for ops in behind.values():
        for op in ops:
            ahead[op] += 1
    free, back = [(place[op], op) for op, n in ahead.items() if n == 0], []
    heapify(free)
    while free:
        op = heappop(free)[1]
        back.append(op)
        for other in behind[op]:
            ahead[other] -= 1
            if ahead[other] == 0:
                heappush(free, (place[other], other))
    if len(back) < len(behind):
        return []
    first = dict(place)
    for op in reversed(back):
        first[op] = min([first[op], *(first[other] for other in behind[op])])
    return [back, sorted(back, key=first.__getitem__)]
