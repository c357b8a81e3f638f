"""One plain CP-SAT model of all work at once: what the search has to be better than.

An interval for every operation, an optional one for each machine that could do it, one thing at a time on a machine,
steps in order, minutes late as the goal; in the machines' hours the starts are cut into pieces of constant length with a
Boolean each. Beyond the present plan's end (and a week) machines count as always open.

What it leaves out or makes easier: changeovers and skipped settings, breaks in runs that may not pause, sublots (a
step begins after the step before has ended), first-offs as attended minutes without the approver, people as counts by
skill whenever somebody with it is there, moves as elapsed minutes. Its order and machines go through the timetable.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

from ortools.sat.python import cp_model

from engine_suites.plain_starts import Line, Phase, Piece, pieces
from planner.plan import Step
from planner.work import Alternative, Begun, Kind, Operation, Order, Trip, Work
from planner.worktime import common, run_hours, stretches, united

WORKERS = 2
A_WEEK_MIN = 7 * 1440


@dataclass(frozen=True)
class Solved:
    """Start and machine by operation (empty where nothing was found); ``bound`` None where the model may ask too much."""

    start: dict[int, int]
    machine: dict[int, int | None]
    bound: int | None
    proved: bool
    seconds: float


@dataclass
class _Way:
    """An operation on one machine (None: it takes none); ``on`` None: it is the only way."""

    machine: int | None
    on: Any
    interval: Any = None


@dataclass
class _Placed:
    """Variables of one operation; ``set_end`` only where somebody sets the machine."""

    start: Any
    run_end: Any
    end: Any
    ways: list[_Way] = field(default_factory=list)
    size: Any = None  # from start to run_end, where that is a variable
    set_end: Any = None
    literals: list[tuple[Any, int | None, int, int]] = field(default_factory=list)  # with machine, first, last start


class PlainModel:
    """The model of ``work``.

    Parameters
    ----------
    steps, cost
        Of a plan that is known: a hint, and nothing that alone would cost more is looked at.
    """

    def __init__(self, work: Work, steps: Iterable[Step], cost: int) -> None:
        self.work, self.cost = work, cost
        self.known = {step.operation: step for step in steps}
        self.exact_until = max((step.end for step in self.known.values()), default=0) + A_WEEK_MIN
        self.model = cp_model.CpModel()
        self.lines: dict[tuple[int, int | None, int], tuple[Line, Line, Line]] = {}
        self.last = _latest_ends(work, cost)
        self.far = max(self.last, default=0) + self.exact_until
        self.placed: dict[int, _Placed] = {}
        self.hints: dict[int, tuple[cp_model.IntVar, int]] = {}  # by index of the variable
        self.chosen_trips: dict[int, list[tuple[Any, Trip]]] = {}  # by outside operation: does it go then?
        for batch in work.batches:
            first = batch.release_min
            for op in map(work.operations.__getitem__, batch.operations):
                if op.begun is not Begun.DONE:
                    first = self._place(op, max(0, first, op.not_before_min))
        for rule in RULES:
            rule(self)
        self._hint()

    # --- variables ---

    def _place(self, op: Operation, first: int) -> int:
        """Variables of ``op``; returns the earliest start of the step after it."""
        step = self.known[op.index]
        if op.begun in (Begun.RUNNING, Begun.OUT):
            self._begun(op, step)
            return step.end
        if op.kind is Kind.OUTSIDE:
            self._outside(op)
            return first
        if op.kind is Kind.WAIT or not self._minutes(op):
            start = self.model.new_int_var(first, max(first, self.last[op.batch]), "")
            self.placed[op.index] = _Placed(start, start, start + op.wait_min, [_Way(None, None)])
            return first + op.wait_min
        return self._timed(op, first)

    def _minutes(self, op: Operation) -> int:
        ways = self._alternatives(op)
        return max((alt.setup_min for alt in ways), default=0) + max((run_minutes(op, alt) for alt in ways), default=0)

    def _alternatives(self, op: Operation) -> list[Alternative]:
        return [a for a in op.alternatives if op.pin_machine is None or a.machine == op.pin_machine]

    def _begun(self, op: Operation, step: Step) -> None:
        way = _Way(step.machine, None)
        if step.machine is not None and step.run_end > step.start:
            way.interval = self.model.new_fixed_size_interval_var(step.start, step.run_end - step.start, "")
        self.placed[op.index] = _Placed(step.start, step.run_end, step.end, [way])

    def _outside(self, op: Operation) -> None:
        """One collection of its service; from a week past the known plan's end on there are none."""
        assert op.service is not None
        trips = [t for t in self.work.services[op.service].trips if t.collect_min < self.exact_until]
        chosen = [self.model.new_bool_var("") for _ in trips]
        self.model.add_exactly_one(chosen)
        weighted = cp_model.LinearExpr.weighted_sum
        start = weighted(chosen, [t.collect_min for t in trips])
        back = weighted(chosen, [t.back_min for t in trips])
        self.placed[op.index] = _Placed(start, back, back + op.wait_min, [_Way(None, None)])
        self.placed[op.index].literals = [
            (x, None, t.collect_min, t.collect_min) for x, t in zip(chosen, trips, strict=True)
        ]
        self.chosen_trips[op.index] = list(zip(chosen, trips, strict=True))

    def _timed(self, op: Operation, first: int) -> int:
        rows: list[tuple[Alternative, list[Piece]]] = []
        for alt in self._alternatives(op):
            phases = self._phases(op, alt)
            last = self.last[op.batch] - op.wait_min - sum(p.minutes for p in phases)
            rows.append((alt, pieces(phases, first, max(last, self.known[op.index].start), self.exact_until)))
        found = [(alt, piece) for alt, own in rows for piece in own]
        self.placed[op.index] = self._alone(op, *found[0]) if len(found) == 1 else self._chosen(op, rows)
        return min(piece.first + piece.minutes for _, piece in found) + op.wait_min

    def _alone(self, op: Operation, alt: Alternative, piece: Piece) -> _Placed:
        """One way in one piece: nothing to choose."""
        start = self.model.new_int_var(piece.first, piece.last, "")
        interval = self.model.new_fixed_size_interval_var(start, piece.minutes, "")
        end = start + piece.minutes
        return _Placed(
            start, end, end + op.wait_min, [_Way(alt.machine, None, interval)],
            set_end=start + piece.set_min if _is_set(op, alt) else None,
        )  # fmt: skip

    def _chosen(self, op: Operation, rows: list[tuple[Alternative, list[Piece]]]) -> _Placed:
        """Exactly one piece of one way holds."""
        model, weighted = self.model, cp_model.LinearExpr.weighted_sum
        found = [(alt, piece) for alt, own in rows for piece in own]
        literals = [model.new_bool_var("") for _ in found]
        model.add_exactly_one(literals)
        start = model.new_int_var(min(p.first for _, p in found), max(p.last for _, p in found), "")
        model.add(start >= weighted(literals, [p.first for _, p in found]))
        model.add(start <= weighted(literals, [p.last for _, p in found]))
        size = model.new_int_var(min(p.minutes for _, p in found), max(p.minutes for _, p in found), "")
        model.add(size == weighted(literals, [p.minutes for _, p in found]))
        end = model.new_int_var(0, max(p.last + p.minutes for _, p in found), "")
        model.add(end == start + size)
        placed = _Placed(start, end, end + op.wait_min, size=size)
        placed.literals = [(x, alt.machine, p.first, p.last) for x, (alt, p) in zip(literals, found, strict=True)]
        if any(_is_set(op, alt) for alt, _ in rows):
            placed.set_end = start + weighted(literals, [p.set_min if _is_set(op, alt) else 0 for alt, p in found])
        for alt, own in rows:
            mine = [x for x, (a, _) in zip(literals, found, strict=True) if a is alt]
            if own:
                placed.ways.append(self._way(alt.machine, own, mine, start, size, end))
        return placed

    def _way(self, machine: int, own: list[Piece], mine: list[Any], start: Any, size: Any, end: Any) -> _Way:
        if len(own) == 1:
            interval = self.model.new_optional_fixed_size_interval_var(start, own[0].minutes, mine[0], "")
            return _Way(machine, mine[0], interval)
        on = self.model.new_bool_var("")
        self.model.add(on == cp_model.LinearExpr.sum(mine))
        return _Way(machine, on, self.model.new_optional_interval_var(start, size, end, on, ""))

    def _phases(self, op: Operation, alt: Alternative) -> list[Phase]:
        """Setting, first-off and run, each in its hours; those without length left out."""
        manned, attended, run = self._hours(alt.machine, op.skill, op.unattended_limit_min)
        if op.kind is Kind.MANUAL:
            return [Phase(manned, alt.setup_min + run_minutes(op, alt))]
        asked = op.first_off_min if op.first_off_skill is not None and not op.first_off_passed else 0
        found = [Phase(manned, alt.setup_min), Phase(attended, asked), Phase(run, run_minutes(op, alt))]
        return [phase for phase in found if phase.minutes]

    def _hours(self, machine: int, skill: int | None, limit: int) -> tuple[Line, Line, Line]:
        """Of a machine: with somebody of the skill there, attended, and for running on."""
        if (machine, skill, limit) not in self.lines:
            hours = self.work.machines[machine].hours
            attended = stretches(hours.attended, 0)
            there = united(s for p in self.work.people if skill in p.skills for s in p.hours)
            manned = attended if skill is None else stretches(common(attended, stretches(there, 0)), 0)
            run = stretches(run_hours(hours, limit), 0)
            self.lines[machine, skill, limit] = Line(manned), Line(attended), Line(run)
        return self.lines[machine, skill, limit]

    # --- hint, solving ---

    def hint(self, variable: Any, value: int) -> None:
        """What the known plan has there; nothing where it is no variable."""
        if isinstance(variable, cp_model.IntVar):
            self.hints[variable.index] = (variable, int(value))

    def _hint(self) -> None:
        """Every variable of the known plan: the solver takes only a whole hint as its first plan."""
        for i, placed in self.placed.items():
            step = self.known[i]
            self.hint(placed.start, step.start)
            self.hint(placed.size, step.run_end - step.start)
            self.hint(placed.run_end, step.run_end)
            for way in placed.ways:
                self.hint(way.on, step.machine == way.machine)
            for literal, machine, first, last in placed.literals:
                self.hint(literal, step.machine == machine and first <= step.start <= last)
        for variable, value in self.hints.values():
            self.model.add_hint(variable, value)

    def solve(
        self, seconds: float, workers: int = WORKERS, seed: int = 1, deterministic: float | None = None
    ) -> Solved:
        """``deterministic`` is a limit in the solver's own repeatable measure."""
        began = time.monotonic()
        solver = cp_model.CpSolver()
        solver.parameters.max_time_in_seconds = max(0.1, seconds)
        solver.parameters.num_workers = workers
        solver.parameters.random_seed = seed
        if deterministic is not None:
            solver.parameters.max_deterministic_time = deterministic
        status = solver.solve(self.model)
        seconds = time.monotonic() - began
        bound = max(0, round(solver.best_objective_bound)) if allows_all(self.work) else None
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return Solved({}, {}, bound, False, seconds)
        start = {i: int(solver.value(placed.start)) for i, placed in self.placed.items()}
        machine = {i: _machine(solver, placed) for i, placed in self.placed.items()}
        return Solved(start, machine, bound, status == cp_model.OPTIMAL and bound is not None, seconds)


def _machine(solver: cp_model.CpSolver, placed: _Placed) -> int | None:
    return next((way.machine for way in placed.ways if way.on is None or solver.value(way.on)), None)


def run_minutes(op: Operation, alt: Alternative) -> int:
    """Minutes of the run: whole cycles of the pieces left."""
    cycles = -(-op.pieces_left // op.pieces_per_cycle)
    return -(-cycles * alt.cycle_sec // 60)


def _is_set(op: Operation, alt: Alternative) -> bool:
    return op.kind is Kind.MACHINE and op.skill is not None and alt.setup_min > 0


def allows_all(work: Work) -> bool:
    """Does the model allow every plan that the timing rules allow, so that its bound holds?"""
    return all(
        op.kind in (Kind.MACHINE, Kind.WAIT)
        and op.begun is Begun.NO
        and op.skill is op.first_off_skill is op.transfer_pieces is None
        and not (op.setup_ahead or op.equipment or op.move_min or any(alt.setup_min for alt in op.alternatives))
        for op in work.operations
    )


def _latest_ends(work: Work, cost: int) -> list[int]:
    """By batch, an end after which one order alone would cost more than the known plan (far off where it feeds none)."""
    far = max((b.due_min for b in work.batches), default=0) + cost + 52 * A_WEEK_MIN
    last = [far] * len(work.batches)
    for order in work.orders:
        room = order.due_min + cost // order.weight if order.weight else far
        for source in order.sources:
            if source.batch is not None:
                last[source.batch] = min(last[source.batch], max(room, 0))
    feeds = [(n.batch, work.operations[n.operation].batch) for n in work.needs if n.batch is not None]
    changed = True
    while changed:  # as often as components go into components
        later = [(part, into) for part, into in feeds if last[part] > last[into]]
        changed = bool(later)
        for part, into in later:
            last[part] = min(last[part], last[into])
    return last


# --- rules: each adds its constraints to the model ---------------------------------------------------


def machines(plain: PlainModel) -> None:
    """One thing at a time on a machine."""
    on: dict[int, list[Any]] = {}
    for placed in plain.placed.values():
        for way in placed.ways:
            if way.interval is not None:
                assert way.machine is not None
                on.setdefault(way.machine, []).append(way.interval)
    for intervals in on.values():
        plain.model.add_no_overlap(intervals)


def steps_in_order(plain: PlainModel) -> None:
    """A step begins (an outside one is ready for its collection) when the step before has ended and moved."""
    work = plain.work
    for batch in work.batches:
        own = [i for i in batch.operations if i in plain.placed]
        for before, i in pairwise(own):
            ready = plain.placed[before].end + work.operations[before].move_min
            _begins_after(plain, i, ready)
        for i in own[:1]:
            _begins_after(plain, i, batch.release_min)


def _begins_after(plain: PlainModel, i: int, ready: Any) -> None:
    if plain.work.operations[i].begun in (Begun.RUNNING, Begun.OUT):
        return
    if i in plain.chosen_trips:
        chosen = plain.chosen_trips[i]
        cutoffs = cp_model.LinearExpr.weighted_sum([x for x, _ in chosen], [t.cutoff_min for _, t in chosen])
        plain.model.add(cutoffs >= ready)
    else:
        plain.model.add(plain.placed[i].start >= ready)


def components(plain: PlainModel) -> None:
    """What a step waits for besides the step before it."""
    for need in plain.work.needs:
        if need.operation not in plain.placed:
            continue
        i = _last_of(plain, need.batch)
        _begins_after(plain, need.operation, need.at_min if i is None else plain.placed[i].end)


def hands(plain: PlainModel) -> None:
    """As many settings and pieces of hand work at once as there are people with the skill."""
    busy: dict[int, list[Any]] = {}
    for i, placed in plain.placed.items():
        op = plain.work.operations[i]
        if op.skill is None or op.begun is Begun.RUNNING:
            continue
        step = plain.known[i]
        end, known = (placed.run_end, step.run_end) if op.kind is Kind.MANUAL else (placed.set_end, step.run_start)
        if end is not None:
            busy.setdefault(op.skill, []).append(_held(plain, placed.start, end, (step.start, known)))
    for skill, intervals in busy.items():
        people = sum(skill in person.skills for person in plain.work.people)
        plain.model.add_cumulative(intervals, [1] * len(intervals), people)


def _held(plain: PlainModel, start: Any, end: Any, known: tuple[int, int]) -> cp_model.IntervalVar:
    """From start to end, each of which may be a sum of variables; ``known`` are both in the known plan."""
    from_min, until, size = (plain.model.new_int_var(0, plain.far, "") for _ in range(3))
    for variable, value in ((from_min, known[0]), (until, known[1]), (size, known[1] - known[0])):
        plain.hint(variable, value)
    plain.model.add(from_min == start)
    plain.model.add(until == end)
    return plain.model.new_interval_var(from_min, size, until, "")


def equipment(plain: PlainModel) -> None:
    """No more units held at once than there are."""
    held: dict[int, list[tuple[Any, int]]] = {}
    for i, placed in plain.placed.items():
        for thing, units in plain.work.operations[i].equipment:
            step = plain.known[i]
            interval = _held(plain, placed.start, placed.run_end, (step.start, step.run_end))
            held.setdefault(thing, []).append((interval, units))
    for thing, uses in held.items():
        plain.model.add_cumulative([x for x, _ in uses], [n for _, n in uses], plain.work.equipment[thing].count)


def vans(plain: PlainModel) -> None:
    """The pieces on one van are at most its room."""
    loads: dict[int, list[tuple[Any, int]]] = {}
    for i, chosen in plain.chosen_trips.items():
        for x, trip in chosen:
            loads.setdefault(trip.run, []).append((x, plain.work.operations[i].pieces))
    for run, load in loads.items():
        room = plain.work.runs[run].room_pieces
        if room is not None:
            plain.model.add(cp_model.LinearExpr.weighted_sum([x for x, _ in load], [n for _, n in load]) <= room)


def lateness(plain: PlainModel) -> None:
    """Least sum of weight x minutes late."""
    late = [_late(plain, order) for order in plain.work.orders]
    weights = [order.weight for order in plain.work.orders]
    plain.model.minimize(cp_model.LinearExpr.weighted_sum(late, weights))


def _late(plain: PlainModel, order: Order) -> Any:
    late = plain.model.new_int_var(0, plain.cost // order.weight if order.weight else plain.far, "")
    known = 0
    for source in order.sources:
        i = _last_of(plain, source.batch)
        plain.model.add(late >= (source.at_min if i is None else plain.placed[i].end) - order.due_min)
        known = max(known, (source.at_min if i is None else plain.known[i].end) - order.due_min)
    plain.hint(late, known)
    return late


def _last_of(plain: PlainModel, batch: int | None) -> int | None:
    """The batch's last operation; None where nothing of it is left, or there is no batch."""
    if batch is None:
        return None
    return next((i for i in reversed(plain.work.batches[batch].operations) if i in plain.placed), None)


RULES: tuple[Callable[[PlainModel], None], ...] = (
    machines,
    steps_in_order,
    components,
    hands,
    equipment,
    vans,
    lateness,
)
