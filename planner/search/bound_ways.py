"""What an operation asks of a machine at the least, on each machine that may do it: lines and minutes in stages.

People count as 'somebody with the skill is there', settings as the least that anything could leave, sublots not
at all. A start later never ends sooner in this reading, and no allowed plan is quicker.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from itertools import pairwise

import numpy as np

from planner.search.bound import least_setups
from planner.timetable.arrays import records
from planner.timetable.kernel import has_length
from planner.timetable.lines import Lines, build_lines
from planner.timetable.timetable import Timetable
from planner.work import Kind, Operation, Span, Work
from planner.worktime import common, run_hours, stretches, united

WAY_FIELDS = (
    "machine", "has_length", "start_line", "hand_line", "hand_min", "attended_line", "first_min", "check_line",
    "check_min", "run_line", "run_min",
)  # fmt: skip


ELAPSED = -2  # in place of a line: a move that is counted in minutes as they go by


class _Store:
    """Windows by name, each laid down once; windows that touch are one."""

    def __init__(self) -> None:
        self.windows: list[Sequence[Span]] = []
        self.at: dict[tuple, int] = {}

    def line(self, name: tuple, make: Callable[[], Sequence[Span]]) -> int:
        if name not in self.at:
            self.at[name] = len(self.windows)
            self.windows.append(stretches(sorted(make()), 0))
        return self.at[name]


class Ways:
    """Lines and ways of all operations.

    ``way`` has a row for each row of ``table.data.alt``: the start lies in ``start_line``; ``hand_min`` are worked
    off in ``hand_line`` (setting, or the whole of hand work), the first cycle ``first_min`` in ``attended_line``,
    its approval in ``check_line``, the rest in ``run_line``. ``machine_line`` is all time in which a machine may be at
    work. ``move_line`` by way, ``idle_line`` by operation: where the move to it is counted.
    """

    def __init__(self, table: Timetable) -> None:
        self.table = table
        self._store = _Store()
        work = table.work
        self.machine_line = np.array([self._open(work, m) for m in range(len(work.machines))], np.int64)
        self.way = records(**{name: np.zeros(len(table.data.alt), np.int64) for name in WAY_FIELDS})
        setups = least_setups(table.data, np.flatnonzero(table.data.op["planned"]))
        for operation in work.operations:
            row = table.data.op[operation.index]
            for a in range(int(row["alt_lo"]), int(row["alt_hi"])):
                self._fill(operation, a, int(setups[a]))
        self.move_line, self.idle_line = self._moves()
        self.lines: Lines = build_lines(self._store.windows, 0)

    def _open(self, work: Work, m: int) -> int:
        hours = work.machines[m].hours
        return self._store.line(("open", m), lambda: united([*hours.attended, *hours.unattended]))

    def _fill(self, operation: Operation, a: int, setup_min: int) -> None:
        data, work, way = self.table.data, self.table.work, self.way[a]
        row, m = data.op[operation.index], int(data.alt[a]["machine"])
        hours, run = work.machines[m].hours, int(data.alt[a]["run_min"])
        attended = self._store.line(("attended", m), lambda: hours.attended)
        staffed = self._staffed(operation, m, attended)
        way["machine"], way["has_length"] = m, has_length(data, operation.index, a)
        way["attended_line"] = way["start_line"] = way["run_line"] = way["check_line"] = attended
        way["hand_line"] = staffed
        if operation.kind is Kind.MANUAL:
            way["hand_min"], way["start_line"] = setup_min + run, staffed
            return
        limit = operation.unattended_limit_min
        way["hand_min"] = 0 if row["ahead"] else setup_min
        way["start_line"] = staffed if way["hand_min"] else attended
        way["run_line"] = self._store.line(("run", m, limit), lambda: run_hours(hours, limit))
        way["run_min"] = run
        if row["first_off_skill"] >= 0:
            self._ask_for_approval(way, row, int(data.alt[a]["cycle_sec"]), run)

    def _ask_for_approval(self, way: np.void, row: np.void, cycle_sec: int, run: int) -> None:
        people, skill = self.table.work.people, int(row["first_off_skill"])
        way["first_min"] = min(run, max(1, -(-cycle_sec // 60)))
        way["run_min"] = run - way["first_min"]
        way["check_min"] = row["first_off_min"]
        way["check_line"] = self._store.line(
            ("skill", skill), lambda: united(s for p in people if skill in p.skills for s in p.hours)
        )

    def _staffed(self, operation: Operation, m: int, attended: int) -> int:
        """Attended time in which somebody who may set it, or do it by hand, is there."""
        skill = operation.skill
        if skill is None:
            return attended
        people, hours = self.table.work.people, self.table.work.machines[m].hours
        pinned = operation.pin_person if operation.kind is Kind.MANUAL else None  # a setter may hand over
        able = [p for i, p in enumerate(people) if skill in p.skills and pinned in (None, i)]
        return self._store.line(
            ("staffed", m, skill, pinned), lambda: common(hours.attended, united(s for p in able for s in p.hours))
        )

    def _moves(self) -> tuple[np.ndarray, np.ndarray]:
        """Lines in which the move to an operation is counted: by way, and by operation where no machine takes it."""
        table, work = self.table, self.table.work
        by_way = np.full(len(table.data.alt), ELAPSED, np.int64)
        idle = np.full(len(work.operations), ELAPSED, np.int64)
        for batch in work.batches:
            for before, op in pairwise(batch.operations):
                named = work.operations[before].move_calendar
                calendar = work.shop_calendar if named is None else named
                if calendar is not None:
                    idle[op] = self._store.line(("calendar", calendar), partial(tuple, work.move_calendars[calendar]))
                row = table.data.op[op]
                by_way[row["alt_lo"] : row["alt_hi"]] = (
                    self.way["attended_line"][row["alt_lo"] : row["alt_hi"]] if row["move_line"] == -1 else idle[op]
                )
        return by_way, idle
