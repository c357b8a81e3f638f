"""What a plan reckons with, operation by operation: the minutes that draws are spread about."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from planner.risk.hours import stretch_minutes
from planner.timetable import Timetable
from planner.timetable.arrays import Data
from planner.timetable.kernel import MACHINE, MANUAL
from planner.timetable.state import F_ALT
from planner.work import NEVER, Operation


class Planned(NamedTuple):
    """Planned minutes by operation, of the alternative it is planned on: ``alt``, or -1 where it takes no machine.

    ``setup``: with the changeover, of which ``changeover`` is due to its place on the machine (no setup is drawn shorter than
    that); ``least``: what it has at least without it; ``most``: a run may be no longer (runs that may not pause).
    """

    alt: np.ndarray
    setup: np.ndarray
    changeover: np.ndarray
    least: np.ndarray
    most: np.ndarray


def planned(table: Timetable) -> Planned:
    """What the plan that a timetable holds reckons with."""
    data, state = table.data, table.state
    alt = np.where(np.isin(data.op["kind"], (MACHINE, MANUAL)), state.res[:, F_ALT], -1)
    alt = np.where(data.op["planned"] == 1, alt, -1)
    running = data.op["running"] == 1
    changeover = np.array([_changeover(data, state.prev[i], i, a) for i, a in enumerate(alt)], np.int64)
    base = np.where(running, data.op["setup_left"], of_alternative(data, "setup_min", alt))
    nothing_else = (of_alternative(data, "run_min", alt) == 0) & (data.op["first_off_skill"] < 0)
    changeover[running | (nothing_else & (base == 0))] = 0
    # what has no other length must keep one, or it would take no machine at all
    least = np.where(nothing_else & (base > 0), 1, 0)
    most = np.array([_most_run(table, o, int(a)) for o, a in zip(table.work.operations, alt, strict=True)], np.int64)
    return Planned(alt, base + changeover, changeover, least, most)


def _changeover(data: Data, before: int, op: int, alt: int) -> int:
    if alt < 0:
        return 0
    machine = data.alt[alt]["machine"]
    family = data.op[before]["family"] if before >= 0 else data.machine[machine]["on_family"]
    return int(data.changeover[data.machine[machine]["group"], family, data.op[op]["family"]])


def of_alternative(data: Data, name: str, alt: np.ndarray) -> np.ndarray:
    """A column of the alternatives, by operation; 0 where it takes no machine."""
    return np.where(alt >= 0, data.alt[name][alt], 0) if len(data.alt) else np.zeros(len(alt), np.int64)


def _most_run(table: Timetable, op: Operation, alt: int) -> int:
    """A run that may not pause has to fit into some stretch, whatever is drawn."""
    data = table.data
    if op.may_pause or alt < 0:
        return NEVER
    machine, planned_min = data.alt[alt]["machine"], int(data.alt[alt]["run_min"])
    if data.op[op.index]["kind"] == MANUAL:
        able = [int(p) for p in data.skill_person[data.skill_lo[op.skill or 0] : data.skill_lo[(op.skill or 0) + 1]]]
        lines = [int(data.pair_line[machine, p]) for p in able if op.pin_person in (None, p)]
        longest = max((stretch_minutes(data.lines, k) for k in lines if k >= 0), default=0)
    else:
        longest = stretch_minutes(data.lines, int(data.alt[alt]["line"])) - 2 * op.first_off_min
    return max(planned_min, longest)
