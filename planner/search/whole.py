"""Small work as one CP-SAT model that leaves something out but never too much: a bound, often the optimum.

Kept whole: machines, their hours, alternatives, what waits for what, moves, waits, collections. Made easier:
people (somebody with the skill is there), settings (the least that anything could leave), equipment (free), room on
vans (for each piece of work by itself), sublots (a step only ends after the step before it). What it finds is at most
what any allowed plan costs; and where nothing had to be made easier, a plan with that cost exists.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from ortools.sat.python import cp_model

from planner.compiling import compiled
from planner.plan import Bound
from planner.search.bound import earliest_ends, least_late
from planner.search.bound_kernel import left_by, set_cursors, way_end
from planner.search.bound_ways import Ways
from planner.search.cpsat import Cpsat, longest_late
from planner.timetable.lines import window_at
from planner.timetable.state import F_ALT, F_END, F_RUN, F_START
from planner.timetable.timetable import Timetable
from planner.work import NEVER, Kind

KIND = "all orders together on machines that do one thing at a time; people, equipment and changeovers made easier"
PIECES = 30_000  # of open time in one model; with more it is slow to build and proves little
_ROOM = 16_384


@dataclass(frozen=True)
class Found:
    """``bound`` holds for every allowed plan. ``start`` and ``alt`` by operation are the model's own best plan, empty
    where it found none: an order and machines for the timetable. ``cost`` is what that costs by the model."""

    bound: Bound
    start: dict[int, int]
    alt: dict[int, int]
    cost: int

    def as_list(self, table: Timetable) -> tuple[np.ndarray, np.ndarray]:
        """Priority list and machine choices."""
        choice = np.full(len(table.data.op), -1, np.int64)
        for op, a in self.alt.items():
            choice[op] = a
        return table.repaired(sorted(self.start, key=lambda op: (self.start[op], op))), choice


class Whole:
    """The model, made once.

    Parameters
    ----------
    table
        Holding an allowed plan: nothing that costs more is looked at.
    """

    def __init__(self, table: Timetable) -> None:
        self.table, self.data, self.ways = table, table.data, Ways(table)
        self.cost = table.cost().first
        self.ends = earliest_ends(table)
        self.last = self._latest_ends()
        self.model = cp_model.CpModel()
        self.start: dict[int, Any] = {}  # linear expressions
        self.end: dict[int, Any] = {}  # with the wait after it
        self.lead: dict[int, Any] = {}  # from the end of the step before to the start
        self.alts: dict[int, list[tuple[int, cp_model.IntVar]]] = {}
        self.on_machine: dict[int, list[cp_model.IntervalVar]] = {}
        self._cut = np.zeros((_ROOM, 5), np.int64)
        self.pieces = 0
        self.possible = not table.unplaced()
        for op in table.repaired([]).tolist() if self.possible else ():
            if self.last[op] < NEVER:
                self.possible = self.possible and self._add(op) and self.pieces <= PIECES
        if self.possible:
            for intervals in self.on_machine.values():
                self.model.add_no_overlap(intervals)
            self._goal()

    # --- what no plan as good as the one we have goes beyond ---

    def _latest_ends(self) -> np.ndarray:
        """By operation, an end beyond which its orders alone would cost more than the plan we have (NEVER: it feeds none)."""
        data, n = self.data, len(self.data.op)
        last, feeds = np.full(n, -1, np.int64), np.zeros(n, bool)
        least = [least_late(data, row, self.ends) for row in data.order]
        for row, own in zip(data.order, least, strict=True):
            room = NEVER
            if row["weight"] > 0:
                room = int(row["due"]) + (self.cost - sum(least) + own) // int(row["weight"])
            for i in data.source_op[row["lo"] : row["hi"]]:
                last[i] = room if not feeds[i] else min(last[i], room)
                feeds[i] = True
        last[~feeds] = NEVER
        for op in reversed(self.table.repaired([]).tolist()):
            begun = data.op[op]["running"] or data.op[op]["out"]
            for i in () if begun else self.table.waits_for(op):
                last[i] = min(last[i], last[op])
        return np.minimum(last, NEVER)

    # --- variables ---

    def _add(self, op: int) -> bool:
        row = self.data.op[op]
        if row["running"] or row["out"]:
            return self._add_begun(op)
        if row["kind"] == Kind.OUTSIDE:
            return self._add_outside(op)
        ways = range(int(row["alt_lo"]), int(row["alt_hi"]))
        if not ways or not all(self.ways.way[a]["has_length"] for a in ways):
            self._add_waiting(op)
            return True
        return self._add_timed(op)

    def _add_begun(self, op: int) -> bool:
        row = self.data.op[op]
        self.start[op], self.end[op], self.alts[op] = 0, int(self.ends[op]), []
        a, run_end = int(row["alt_lo"]), int(self.ends[op] - row["wait_min"])
        if row["running"] and self.ways.way[a]["has_length"] and run_end > 0:
            interval = self.model.new_fixed_size_interval_var(0, run_end, "")
            self.on_machine.setdefault(int(self.ways.way[a]["machine"]), []).append(interval)
        return self.ends[op] < NEVER

    def _add_waiting(self, op: int) -> None:
        """A wait, or work that may have no length: anywhere after what it waits for."""
        first, wait = self._first(op), int(self.data.op[op]["wait_min"])
        start = self.model.new_int_var(first, max(first, int(self.last[op])), "")
        self.model.add_hint(start, max(first, int(self.table.state.res[op, F_START])))
        self.start[op], self.end[op], self.lead[op], self.alts[op] = start, start + wait, self._least_lead(op), []
        self._after(op)

    def _least_lead(self, op: int) -> int:
        return int(self.data.op[op]["move_min"])

    def _first(self, op: int) -> int:
        """A start that no plan goes below."""
        row = self.data.op[op]
        needs = self.data.need_op[row["need_lo"] : row["need_hi"]]
        first = max([int(row["earliest"]), *(int(self.ends[i]) for i in needs)])
        if row["before"] >= 0 and not row["transfer"]:
            first = max(first, int(self.ends[row["before"]]) + self._least_lead(op))
        return first

    def _add_timed(self, op: int) -> bool:
        """Start, length and lead by pieces of open time: exactly one piece of one way holds."""
        model, total = self.model, cp_model.LinearExpr.weighted_sum
        row, rows = self.data.op[op], self._pieces(op)
        self.pieces += len(rows)
        if not len(rows):
            return False
        literals = [model.new_bool_var("") for _ in range(len(rows))]
        model.add_exactly_one(literals)
        start = model.new_int_var(int(rows[:, 0].min()), int(rows[:, 1].max()), "")
        model.add(start >= total(literals, rows[:, 0].tolist()))
        model.add(start <= total(literals, rows[:, 1].tolist()))
        end = model.new_int_var(0, min(NEVER, int(self.last[op] - row["wait_min"])), "")
        size = model.new_int_var(int(rows[:, 2].min()), NEVER if row["transfer"] else int(rows[:, 2].max()), "")
        least = total(literals, rows[:, 2].tolist())
        model.add(size >= least if row["transfer"] else size == least)
        model.add(end == start + size)
        self.lead[op] = total(literals, rows[:, 3].tolist())
        before = int(row["before"])
        if before in self.end and row["move_min"] and not row["transfer"]:
            model.add(self.end[before] <= total(literals, rows[:, 4].tolist()))
        self.start[op], self.end[op] = start, end + int(row["wait_min"])
        self.alts[op] = self._choices(op, rows, literals, start, size, end)
        self._hint(op, rows, literals, start)
        self._after(op)
        return True

    def _choices(
        self, op: int, rows: np.ndarray, literals: list, start: Any, size: Any, end: Any
    ) -> list[tuple[int, cp_model.IntVar]]:
        """By way, whether it is taken; each with its interval on the machine."""
        found = []
        for a in np.unique(rows[:, 5]).tolist():
            on = self.model.new_bool_var("")
            mine = [x for x, w in zip(literals, rows[:, 5], strict=True) if w == a]
            self.model.add(on == cp_model.LinearExpr.sum(mine))
            interval = self.model.new_optional_interval_var(start, size, end, on, "")
            self.on_machine.setdefault(int(self.ways.way[a]["machine"]), []).append(interval)
            self.model.add_hint(on, int(self.table.state.res[op, F_ALT] == a))
            found.append((a, on))
        return found

    def _hint(self, op: int, rows: np.ndarray, literals: list, start: cp_model.IntVar) -> None:
        res = self.table.state.res[op]
        now = int(res[F_RUN] if self.data.op[op]["ahead"] else res[F_START])
        self.model.add_hint(start, now)
        for literal, row in zip(literals, rows, strict=True):
            self.model.add_hint(literal, int(row[5] == res[F_ALT] and row[0] <= now <= row[1]))

    def _pieces(self, op: int) -> np.ndarray:
        """Pieces of all ways: columns as in :func:`_pieces`, and the way."""
        row, found = self.data.op[op], []
        last = int(min(self.last[op], NEVER - 1) - row["wait_min"])
        for a in range(int(row["alt_lo"]), int(row["alt_hi"])):
            n = _pieces(
                self.ways.lines, self.ways.way, a, int(self.ways.move_line[a]), int(row["move_min"]),
                self._first(op), last, np.zeros(10, np.int64), self._cut,
            )  # fmt: skip
            if n == len(self._cut):
                return np.zeros((0, 6), np.int64)
            found.append(np.column_stack([self._cut[:n], np.full(n, a)]))
        return np.concatenate(found)

    def _add_outside(self, op: int) -> bool:
        row, wait = self.data.op[op], int(self.data.op[op]["wait_min"])
        first, lo = self._first(op), self.data.trip_lo
        trips = self.data.trip[lo[row["service"]] : lo[row["service"] + 1]]
        room = self.data.run_room[trips["run"]]
        trips = trips[(trips["cutoff"] >= first) & (trips["back"] + wait <= self.last[op]) & (room >= row["pieces"])]
        self.pieces += len(trips)
        if not len(trips):
            return False
        literals = [self.model.new_bool_var("") for _ in trips]
        self.model.add_exactly_one(literals)
        total = cp_model.LinearExpr.weighted_sum
        for literal, trip in zip(literals, trips, strict=True):
            self.model.add_hint(literal, int(trip["back"] + wait == self.table.state.res[op, F_END]))
        self.start[op], self.end[op] = (
            total(literals, trips["cutoff"].tolist()),
            total(literals, (trips["back"] + wait).tolist()),
        )
        self.lead[op], self.alts[op] = self._least_lead(op), []
        self._after(op)
        return True

    def _after(self, op: int) -> None:
        """Nothing starts before what it waits for."""
        row = self.data.op[op]
        for i in self.data.need_op[row["need_lo"] : row["need_hi"]].tolist():
            self.model.add(self.start[op] >= self.end[i])
        before = int(row["before"])
        if before >= 0 and row["transfer"]:
            self.model.add(self.end[op] >= self.end[before] + int(row["wait_min"]))
        elif before >= 0:
            self.model.add(self.start[op] >= self.end[before] + self.lead[op])

    def _goal(self) -> None:
        terms, weights, longest = [], [], longest_late(self.data)
        for row in self.data.order[self.data.order["weight"] > 0]:
            late = self.model.new_int_var(max(0, int(row["at"] - row["due"])), longest, "")
            for i in self.data.source_op[row["lo"] : row["hi"]].tolist():
                self.model.add(late >= self.end[i] - int(row["due"]))
            terms.append(late)
            weights.append(int(row["weight"]))
        self.model.minimize(cp_model.LinearExpr.weighted_sum(terms, weights))

    # --- solving ---

    def solve(
        self, cpsat: Cpsat, work_limit: float, seed: int, seconds: float | None = None, *, near: bool = True
    ) -> Found:
        """Look for the optimum of the model; limits as in :meth:`Cpsat.solve`.

        ``near``: begin with the plan that the table held. That is mostly the quicker way to a better one; not where the
        better ones are nothing like it.
        """
        if not self.possible:
            return Found(Bound(0, KIND), {}, {}, self.cost)
        if not near:
            self.model.clear_hints()
        solver = cpsat.solve(self.model, work_limit=work_limit, seed=seed, seconds=seconds)
        bound = round(max(0, min(self.cost, cpsat.least)))
        if solver is None:
            return Found(Bound(bound, KIND), {}, {}, self.cost)
        start = {op: int(solver.value(self.start[op])) for op in self.start}
        alt = {op: a for op, alts in self.alts.items() for a, on in alts if solver.value(on)}
        return Found(Bound(bound, KIND), start, alt, round(solver.objective_value))


@compiled
def _pieces(lines, ways, a, move_line, move_min, first, last, cursor, out):
    """Starts from ``first`` on with an end up to ``last``, as pieces in which length and lead are the same.

    Of starts with the same end only the latest is of use. Columns: first and last start, minutes to the end, least minutes
    from the end of the step before, and the latest such end; in a piece either the minutes are the same for all starts,
    or that end. Returns how many; all of ``out`` means: more than fit.
    """
    way, n = ways[a], 0
    line = way.start_line
    set_cursors(lines, way, max(0, first), cursor)
    before_t, before_end, same_lead, same_cap = -1, -1, True, True
    for w in range(window_at(lines, line, max(0, first)), lines.lo[line + 1]):
        for t in range(max(0, first, lines.start[w]), lines.end[w]):
            end = way_end(lines, way, t, cursor)
            if end > last or n == len(out):
                return n
            cap = left_by(lines, move_line, move_min, t)
            if n > 0 and end == before_end and out[n - 1, 1] == before_t:
                if out[n - 1, 0] == before_t:
                    n -= 1
                else:
                    out[n - 1, 1] -= 1  # its last start is no better than this one
            joins = n > 0 and out[n - 1, 1] == t - 1 and out[n - 1, 2] == end - t
            if joins and same_lead and out[n - 1, 3] == t - cap:
                same_cap = same_cap and out[n - 1, 4] == cap
            elif joins and same_cap and out[n - 1, 4] == cap:
                same_lead = False
            else:
                n += 1
                same_lead, same_cap, out[n - 1, 0], out[n - 1, 2], out[n - 1, 3] = True, True, t, end - t, t - cap
            out[n - 1, 1], out[n - 1, 4] = t, cap
            before_t, before_end = t, end
    return n
