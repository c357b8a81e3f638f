"""Place a few freed operations anew with CP-SAT while all else stands still.

The model simplifies (see :mod:`planner.search.starts`); it also keeps present changeovers, and sees sublots only
as 'not before, not done before'. Its answer is an order and a machine for each freed operation, which the timetable
times exactly: only that counts. Each operation's start lies in one of a few stretches, each with a fixed time from
start to end, so that closed time costs one Boolean a stretch instead of arithmetic on calendars.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from ortools.sat.python import cp_model

from planner.search.cpsat import Cpsat, longest_late
from planner.search.crews import fitted, profile
from planner.search.starts import Starts
from planner.timetable.state import (
    F_ALT,
    F_CHG,
    F_E1,
    F_E2,
    F_END,
    F_MACHINE,
    F_P1,
    F_P2,
    F_RUN_END,
    F_SETUP,
    F_START,
    F_TRIP,
    FIRST_OFF,
)
from planner.timetable.timetable import Timetable
from planner.work import NEVER, Kind

BACK_MIN = 14 * 1440  # how much earlier than now a freed operation may start
AHEAD_MIN = 10 * 1440  # and how much later, where nothing that stands still waits for it
WORK_LIMIT = 0.15  # of one solve, in the solver's own repeatable measure: a unit is a second or, on some machines, many


@dataclass(frozen=True)
class Moved:
    """Where the solver put the freed operations: starts by operation, and alternatives (-1: no machine).

    ``spent`` is the share of its limits that it took; 1 or more when it had to stop.
    """

    start: dict[int, int]
    alt: dict[int, int]
    spent: float


def place_anew(
    table: Timetable, starts: Starts, freed: list[int], cpsat: Cpsat, seed: int, seconds: float | None
) -> Moved | None:
    """Solve for the freed operations; ``None`` when nothing was found.

    Parameters
    ----------
    table
        Holding the plan to start from.
    freed
        In list order, with all outside and waiting steps that follow one of them.
    seconds
        Wall time left, or ``None`` for no limit but the repeatable one.
    """
    return _Model(table, starts, freed).solve(cpsat, seed, seconds)


class _Model:
    def __init__(self, table: Timetable, starts: Starts, freed: list[int]) -> None:
        self.table, self.data, self.res, self.starts = table, table.data, table.state.res, starts
        self.freed = freed
        self.free = set(freed)
        self.model = cp_model.CpModel()
        self.start: dict[int, cp_model.IntVar] = {}
        self.end: dict[int, cp_model.IntVar] = {}  # without the wait after it
        self.wait: dict[int, int] = {}
        self.alts: dict[int, list[tuple[int, cp_model.IntVar]]] = {}
        self.on_machine: dict[int, list[cp_model.IntervalVar]] = {}
        # skill, when it is needed, and when it is now
        self.hands: list[tuple[int, cp_model.IntervalVar, tuple[int, int]]] = []
        self.things: dict[int, list[tuple[cp_model.IntervalVar, int]]] = {}  # by equipment, with the units
        self.loads: dict[int, list[tuple[cp_model.IntVar, int]]] = {}  # by run of a van, with the pieces
        self.last = self._latest()
        self.taken = self._taken()
        self.room = self._room()
        self.possible = all(self._add(op) for op in freed)
        if self.possible:
            self._one_at_a_time()
            self._enough_hands()
            self._enough_equipment()
            self._enough_room()
            self._sequence()
            self._goal()

    # --- bounds from what stands still ---

    def _latest(self) -> dict[int, int]:
        """By freed operation, the end that it must keep for the sake of what stands still."""
        last = dict.fromkeys(self.freed, NEVER)
        for op in map(int, self.table.list):
            if op in self.free:
                continue
            row = self.data.op[op]
            for other in self.table.waits_for(op):
                if other in self.free:
                    begin = int(self.res[op, F_START])
                    if other == row["before"] and (row["transfer"] or row["ahead"]):
                        begin = int(self.res[op, F_RUN_END])
                    last[other] = min(last[other], max(begin, int(self.res[other, F_END])))
        return last

    def _earliest(self, op: int) -> int:
        t = max(int(self.data.op[op]["earliest"]), int(self.res[op, F_START]) - BACK_MIN, 0)
        for other in self.table.waits_for(op):
            if other not in self.free:
                sublots = other == self.data.op[op]["before"] and self.data.op[op]["ahead"]
                t = max(t, 0 if sublots else int(self.res[other, F_END]))
        return t

    def _taken(self) -> dict[int, np.ndarray]:
        """By machine, when what stands still holds it."""
        spans: dict[int, list[tuple[int, int]]] = {}
        for op in map(int, self.table.list):
            if op not in self.free and self.res[op, F_MACHINE] >= 0:
                spans.setdefault(int(self.res[op, F_MACHINE]), []).append(
                    (int(self.res[op, F_START]), int(self.res[op, F_RUN_END]))
                )
        return {m: np.array(sorted(s), np.int64) for m, s in spans.items()}

    def _room(self) -> np.ndarray:
        """By run of a van, room for the pieces of what is freed."""
        room = self.data.run_room - self.table.state.van_used
        for op in self.freed:
            if self.res[op, F_TRIP] >= 0:
                room[int(self.data.trip[self.res[op, F_TRIP]]["run"])] += int(self.data.op[op]["pieces"])
        return room

    # --- variables ---

    def _add(self, op: int) -> bool:
        row = self.data.op[op]
        first, wait = self._earliest(op), int(row["wait_min"])
        if row["kind"] == Kind.OUTSIDE:
            return self._add_outside(op, first)
        if row["kind"] == Kind.WAIT or self.res[op, F_MACHINE] < 0:
            self.start[op] = self.model.new_int_var(first, NEVER, "")
            self.end[op], self.wait[op] = self.start[op], wait
            self._hint(self.start[op], int(self.res[op, F_START]))
            self.model.add(self.end[op] <= min(NEVER, self.last[op]) - wait)
            self.alts[op] = []
            return True
        return self._add_timed(op, first, wait)

    def _add_timed(self, op: int, first: int, wait: int) -> bool:
        """Start, size and end by stretches: exactly one stretch of one alternative holds."""
        model, weighted = self.model, cp_model.LinearExpr.weighted_sum
        rows = self._stretches(op, first, wait)
        literals = [model.new_bool_var("") for _ in range(len(rows))]
        start = model.new_int_var(int(rows[:, 0].min()), int(rows[:, 1].max()), "")
        size = model.new_int_var(int(rows[:, 2].min()), int(rows[:, 2].max()), "")
        end = model.new_int_var(0, min(NEVER, self.last[op] - wait), "")
        model.add_exactly_one(literals)
        model.add(start >= weighted(literals, rows[:, 0].tolist()))
        model.add(start <= weighted(literals, rows[:, 1].tolist()))
        model.add(size == weighted(literals, rows[:, 2].tolist()))
        model.add(end == start + size)
        self.start[op], self.end[op], self.wait[op], self.alts[op] = start, end, wait, []
        self._hint(start, int(rows[0, 0]))
        self._hint(size, int(rows[0, 2]))
        self._hint(end, int(rows[0, 0] + rows[0, 2]))
        for i, literal in enumerate(literals):
            self._hint(literal, int(i == 0))
        self._ask_for_hands(op, literals, rows)
        whole = model.new_interval_var(start, size, end, "")
        for k in range(int(self.data.op[op]["eq_lo"]), int(self.data.op[op]["eq_hi"])):
            uses = self.things.setdefault(int(self.data.eq_what[k]), [])
            uses.append((whole, int(self.data.eq_units[k])))
        for alt in np.unique(rows[:, 4]).tolist():
            on = model.new_bool_var("")
            model.add(on == cp_model.LinearExpr.sum([x for x, a in zip(literals, rows[:, 4], strict=True) if a == alt]))
            self._hint(on, int(rows[0, 4] == alt))
            self.alts[op].append((alt, on))
            interval = model.new_optional_interval_var(start, size, end, on, "")
            self.on_machine.setdefault(int(self.data.alt[alt]["machine"]), []).append(interval)
        return True

    def _stretches(self, op: int, first: int, wait: int) -> np.ndarray:
        """Allowed stretches on all alternatives: as :meth:`Starts.of` with the alternative as fifth column.

        The first is what the plan does now, so that the model never rules it out.
        """
        row, res = self.data.op[op], self.res[op]
        now, alt_now = int(res[F_START]), int(res[F_ALT])
        set_end = int(res[F_E2] if res[F_P2] >= 0 else res[F_E1]) if res[F_P1] >= -1 else now
        found = [np.array([[now, now, int(res[F_RUN_END]) - now, set_end - now, alt_now]], np.int64)]
        last = now + AHEAD_MIN if self.last[op] >= NEVER else self.last[op] - wait
        for alt in range(int(row["alt_lo"]), int(row["alt_hi"])):
            taken = self.taken.get(int(self.data.alt[alt]["machine"]), np.zeros((0, 2), np.int64))
            rows = self.starts.of(op, alt, self._setting(op, alt), first, last, taken)
            rows[:, 1] = np.minimum(rows[:, 1], self.last[op] - wait - rows[:, 2])
            rows = rows[rows[:, 0] <= rows[:, 1]]
            found.append(np.column_stack([rows, np.full(len(rows), alt)]))
        return np.concatenate(found)

    def _ask_for_hands(self, op: int, literals: list[cp_model.IntVar], rows: np.ndarray) -> None:
        """Somebody with the skill, while the machine is set or the whole time of hand work."""
        row, model = self.data.op[op], self.model
        busy = rows[:, 2] if row["kind"] == Kind.MANUAL else rows[:, 3]
        if row["skill"] < 0 or not busy.max():
            return
        size = model.new_int_var(int(busy.min()), int(busy.max()), "")
        model.add(size == cp_model.LinearExpr.weighted_sum(literals, busy.tolist()))
        until = model.new_int_var(0, NEVER, "")
        self._hint(size, int(busy[0]))
        self._hint(until, int(rows[0, 0] + busy[0]))
        begin = int(self.res[op, F_START])
        interval = model.new_interval_var(self.start[op], size, until, "")
        self.hands.append((int(row["skill"]), interval, (begin, begin + int(busy[0]))))

    def _hint(self, variable: cp_model.IntVar, value: int) -> None:
        self.model.add_hint(variable, value)

    def _setting(self, op: int, alt: int) -> int:
        if self.res[op, F_ALT] == alt:
            return int(self.res[op, F_SETUP])
        return int(self.data.alt[alt]["setup_min"]) + int(self.res[op, F_CHG])

    def _add_outside(self, op: int, first: int) -> bool:
        row, wait = self.data.op[op], int(self.data.op[op]["wait_min"])
        service = int(row["service"])
        trips, literals = [], []
        for trip in range(int(self.data.trip_lo[service]), int(self.data.trip_lo[service + 1])):
            t = self.data.trip[trip]
            if t["cutoff"] < first or t["back"] + wait > self.last[op] or row["pieces"] > self.room[t["run"]]:
                continue
            trips.append(t)
            literals.append(self.model.new_bool_var(""))
            self.loads.setdefault(int(t["run"]), []).append((literals[-1], int(row["pieces"])))
            self._hint(literals[-1], int(self.res[op, F_TRIP] == trip))
            if t["collect"] > self.res[op, F_START] + AHEAD_MIN:
                break
        if not literals:
            return False
        weighted = cp_model.LinearExpr.weighted_sum
        self.model.add_exactly_one(literals)
        self.start[op] = self.model.new_int_var(first, NEVER, "")
        self.end[op] = self.model.new_int_var(0, min(NEVER, self.last[op]), "")
        self.wait[op] = wait
        self._hint(self.start[op], max(first, self._ready_now(op)))
        self._hint(self.end[op], int(self.res[op, F_RUN_END]))
        self.model.add(self.start[op] <= weighted(literals, [int(t["cutoff"]) for t in trips]))
        self.model.add(self.end[op] == weighted(literals, [int(t["back"]) for t in trips]))
        self.alts[op] = []
        return True

    def _ready_now(self, op: int) -> int:
        """When an outside step's pieces are there in the present plan."""
        before = int(self.data.op[op]["before"])
        return int(self.res[before, F_END]) + int(self.data.op[op]["move_min"]) if before >= 0 else 0

    # --- constraints and goal ---

    def _enough_hands(self) -> None:
        if not self.hands:
            return
        first = min(int(self.res[i, F_START]) for i in self.freed) - BACK_MIN
        last = max(int(self.res[i, F_START]) for i in self.freed) + AHEAD_MIN
        fixed = self._booked(first, last)
        for crew in self.starts.crews:
            asked = [i for skill, i, _ in self.hands if skill in crew.skills]
            if len(asked) < 2 and crew.most > 1:
                continue
            short = [(a, b, n) for a, b, n in crew.fewer if b > first and a < last]
            short += [(a, b, 1) for p in crew.people for a, b in fixed.get(p, ())]
            now = profile((a, b, 1) for skill, _, (a, b) in self.hands if skill in crew.skills)
            most = max([crew.most, *(n for _, _, n in now)])
            gone = fitted(short, now, most)
            away = [self.model.new_fixed_size_interval_var(a, b - a, "") for a, b, _ in gone]
            demands = [1] * len(asked) + [n for _, _, n in gone]
            self.model.add_cumulative(asked + away, demands, most)

    def _booked(self, first: int, last: int) -> dict[int, list[tuple[int, int]]]:
        book = self.table.state.people
        return {
            p: [
                (int(b["start"]), int(b["end"]))
                for b in book.at[p, : book.used[p]]
                if b["units"] != FIRST_OFF
                and int(b["owner"]) not in self.free
                and b["end"] > first
                and b["start"] < last
            ]
            for p in range(len(self.table.work.people))
        }

    def _enough_equipment(self) -> None:
        """Among what is freed only: held to what stands still too, it finds plans that are a third dearer where equipment is
        short, as there nothing could move; the timetable makes way for what goes first."""
        for thing, uses in self.things.items():
            self.model.add_cumulative([x for x, _ in uses], [n for _, n in uses], int(self.data.eq_count[thing]))

    def _enough_room(self) -> None:
        """On each van, for all that is freed together."""
        for run, load in self.loads.items():
            pieces = [n for _, n in load]
            if sum(pieces) > self.room[run]:
                self.model.add(cp_model.LinearExpr.weighted_sum([x for x, _ in load], pieces) <= int(self.room[run]))

    def _one_at_a_time(self) -> None:
        for intervals in self.on_machine.values():
            if len(intervals) > 1:
                self.model.add_no_overlap(intervals)

    def _sequence(self) -> None:
        for op in self.freed:
            row = self.data.op[op]
            for other in self.table.waits_for(op):
                if other not in self.free:
                    continue
                if other == row["before"] and row["transfer"]:
                    self.model.add(self.start[op] >= self.start[other])
                    self.model.add(self.end[op] >= self.end[other])
                elif other == row["before"] and row["ahead"]:
                    self.model.add(self.start[op] + int(self.res[op, F_SETUP]) >= self.end[other] + self.wait[other])
                else:
                    move = int(row["move_min"]) if other == row["before"] else 0
                    self.model.add(self.start[op] >= self.end[other] + self.wait[other] + move)

    def _goal(self) -> None:
        terms, weights, longest = [], [], longest_late(self.data)
        for order in self.data.order:
            ends = [int(i) for i in self.data.source_op[order["lo"] : order["hi"]]]
            moving = [i for i in ends if i in self.free]
            if not moving:
                continue
            still = max([int(order["at"]), *(int(self.res[i, F_END]) for i in ends if i not in self.free)])
            late = self.model.new_int_var(max(0, still - int(order["due"])), longest, "")
            now = max([still, *(int(self.res[i, F_END]) for i in moving)])
            self._hint(late, max(0, now - int(order["due"])))
            for i in moving:
                self.model.add(late >= self.end[i] + self.wait[i] - int(order["due"]))
            terms.append(late)
            weights.append(int(order["weight"]))
        for kept in self.data.kept:
            if int(kept["op"]) in self.free:
                self._price_change(kept, terms, weights)
        self.model.minimize(cp_model.LinearExpr.weighted_sum(terms, weights))

    def _price_change(self, kept: np.void, terms: list[cp_model.IntVar], weights: list[int]) -> None:
        """What it costs to be on another machine than in the kept plan, or before what was in front of it there.

        What comes in between the two is not seen.
        """
        op, before, machine = int(kept["op"]), int(kept["after"]), int(kept["machine"])
        there = [on for alt, on in self.alts[op] if self.data.alt[alt]["machine"] == machine]
        if not there:
            return
        price = int(kept["weight"])
        away = self.model.new_bool_var("")
        self.model.add(away + there[0] == 1)
        self._hint(away, int(self.res[op, F_MACHINE] != machine))
        terms.append(away)
        weights.append(price * int(self.data.change_machine))
        if before < 0 or (before not in self.free and self.res[before, F_MACHINE] != machine):
            return
        out = self.model.new_bool_var("")
        end = self.end[before] if before in self.free else int(self.res[before, F_RUN_END])
        self.model.add(self.start[op] >= end).only_enforce_if(~out, there[0])
        for alt, on in self.alts.get(before, ()):
            if self.data.alt[alt]["machine"] != machine:
                self.model.add_bool_or(~on, ~there[0], out)
        now_out = self.res[op, F_MACHINE] == machine and (
            self.res[before, F_MACHINE] != machine or self.res[before, F_RUN_END] > self.res[op, F_START]
        )
        self._hint(out, int(now_out))
        terms.append(out)
        weights.append(price * int(self.data.change_place))

    def solve(self, cpsat: Cpsat, seed: int, seconds: float | None) -> Moved | None:
        if not self.possible:
            return None
        solver = cpsat.solve(self.model, work_limit=WORK_LIMIT, seed=seed, seconds=seconds, small=True)
        if solver is None:
            return None
        start = {op: solver.value(self.start[op]) for op in self.freed}
        alt = {op: next((a for a, on in self.alts[op] if solver.value(on)), -1) for op in self.freed}
        spent = solver.response_proto.deterministic_time / WORK_LIMIT
        if seconds is not None:
            spent = max(spent, solver.wall_time / solver.parameters.max_time_in_seconds)
        return Moved(start, alt, spent)
