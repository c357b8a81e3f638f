"""Small shops for tests, by name and in one expression.

    work = (
        ShopBuilder()
        .machine("L1", attended=days(5, (0, 480)))
        .person("Ann", "turning", hours=days(5, (0, 480)))
        .batch("B1", pieces=10)
        .op("L1", setup=30, cycle=120, skill="turning")  # operation 10
        .manual("bench", cycle=60, skill="deburr")  # operation 20
        .outside("anodise")  # operation 30
        .order("O1", "B1", due=960, weight=2)
        .build()
    )

Minute 0 is Monday 23 March 2026, 08:00 in London, unless said otherwise; ``cycle`` is in seconds,
all else in minutes. A machine or person without hours is there round the clock. Machines,
skills and people that are only mentioned are made as they are needed (a machine open round the clock in
a group of its own; a person is never made by itself). ``at(work, "B1", 20)`` is an operation.

Hand-made plans for such a work, costs added up:

    plan(
        work,
        step(work, "B1", 10, "L1", setup=[("Ann", 0, 30)], run=(30, 50)),
        step(work, "B1", 20, "bench", stints=[("Bob", 50, 60)]),
        step(work, "B1", 30, trip=0, run=(100, 500)),
    )
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any, Self

from planner.plan import Bound, Burst, Cost, FirstOff, Plan, State, Step, Stint
from planner.timetable import Timetable
from planner.verify import cost as cost_terms
from planner.verify import verify
from planner.verify.context import Context
from planner.work import (
    NEVER,
    Alternative,
    Batch,
    Begun,
    Equipment,
    Group,
    Hours,
    Kept,
    Kind,
    Machine,
    Need,
    Operation,
    Order,
    Person,
    Prices,
    Run,
    Service,
    Source,
    Span,
    Trip,
    Work,
)

ALWAYS: tuple[Span, ...] = ((-10_000_000, 10_000_000),)
DAY = 1440

Machines = str | Sequence[str] | Mapping[str, tuple[int, int]]


def days(count: int, *windows: Span, first: int = 0, weekends: bool = False) -> tuple[Span, ...]:
    """The same windows (minutes from the plan start's time of day) on each of ``count`` days.

    Day 0 is a Monday; Saturdays and Sundays are left out unless ``weekends``.
    """
    numbers = [day for day in range(first, first + count) if weekends or day % 7 < 5]
    return tuple((day * DAY + a, day * DAY + b) for day in numbers for a, b in windows)


def at(work: Work, batch: str, number: int) -> Operation:
    """The operation with that number of the batch with that name."""
    found = next(b for b in work.batches if b.name == batch)
    return next(work.operations[i] for i in found.operations if work.operations[i].number == number)


class Names(dict[str, int]):
    """Indices by name in order of first mention."""

    def of(self, name: str) -> int:
        return self.setdefault(name, len(self))


class ShopBuilder:
    """Collects a shop call by call; ``build`` makes the ``Work``. Extra keywords go to the record."""

    def __init__(self, **work_fields: Any) -> None:
        self._fields: dict[str, Any] = work_fields
        self._skills, self._machines, self._groups = Names(), Names(), Names()
        self._machine_records: dict[str, Machine] = {}
        self._minding: dict[str, tuple[int, int]] = {}
        self._people: list[Person] = []
        self._equipment: list[Equipment] = []
        self._changeovers: dict[tuple[int, str, str], int] = {}
        self._calendars: dict[str, tuple[Span, ...]] = {}
        self._services: dict[str, Service] = {}
        self._runs: list[Run] = []
        self._batches: list[Batch] = []
        self._operations: list[Operation] = []
        self._needs: list[Need] = []
        self._orders: list[Order] = []
        self._kept: list[Kept] = []

    # ---- the shop ------------------------------------------------------------

    def machine(
        self,
        name: str,
        attended: Iterable[Span] = ALWAYS,
        unattended: Iterable[Span] = (),
        *,
        group: str | None = None,
        on: tuple[str, str, int] | None = None,
        on_family: str = "",
        on_equipment: Sequence[str] = (),
    ) -> Self:
        """``on`` is the (part, revision, operation number) set at the plan start."""
        self._machines.of(name)
        hours = Hours(tuple(attended), tuple(unattended))
        pieces = tuple(self._equipment_index(e) for e in on_equipment)
        self._machine_records[name] = Machine(name, self._groups.of(group or name), hours, on, on_family, pieces)
        return self

    def minding(self, group: str, skill: str, machines_per_person: int) -> Self:
        self._groups.of(group)
        self._minding[group] = (self._skills.of(skill), machines_per_person)
        return self

    def person(self, name: str, skills: str | Sequence[str], hours: Iterable[Span] = ALWAYS) -> Self:
        names = [skills] if isinstance(skills, str) else skills
        self._people.append(Person(name, frozenset(self._skills.of(s) for s in names), tuple(hours)))
        return self

    def equipment(self, name: str, count: int = 1) -> Self:
        self._equipment.append(Equipment(name, count))
        return self

    def changeover(self, group: str, before: str, after: str, minutes: int) -> Self:
        """A machine made without a group is in the group of its own name."""
        self._changeovers[self._groups.of(group), before, after] = minutes
        return self

    def calendar(self, name: str, spans: Iterable[Span], *, shop: bool = False) -> Self:
        """A calendar in which moves can be counted; ``shop``: it is the shop calendar."""
        self._calendars[name] = tuple(spans)
        if shop:
            self._fields["shop_calendar"] = list(self._calendars).index(name)
        return self

    def service(
        self, name: str, trips: Iterable[tuple[int, int, int]], *, room: int | None = None, van: str | None = None,
        minimum: int = 0, line_fee: int = 0,
    ) -> Self:  # fmt: skip
        """Trips are (cutoff, collect, back). ``van``: share the runs of that earlier service."""
        made = []
        for number, (cutoff, collect, back) in enumerate(trips):
            if van is None:
                self._runs.append(Run(name, collect, room))
            run = len(self._runs) - 1 if van is None else self._services[van].trips[number].run
            made.append(Trip(cutoff, collect, back, back, run))
        self._services[name] = Service(name, name, tuple(made), minimum, line_fee)
        return self

    # ---- the work ------------------------------------------------------------

    def batch(
        self, name: str, *, pieces: int = 1, part: str | None = None, revision: str = "A", release: int = 0,
        due: int = NEVER, own_product: bool = False,
    ) -> Self:  # fmt: skip
        """A batch; the calls that follow add its operations, numbered 10, 20, 30..."""
        self._batches.append(Batch(
            len(self._batches), name, part or name, revision, name, pieces, 0, pieces, release, (), due, own_product,
        ))  # fmt: skip
        return self

    def op(self, machines: Machines, setup: int = 0, cycle: int = 60, **fields: Any) -> Self:
        """A MACHINE operation. ``machines``: a name, names, or {name: (setup, cycle)} of its own."""
        return self._add(Kind.MACHINE, alternatives=self._alternatives(machines, setup, cycle), **fields)

    def manual(self, machines: Machines, cycle: int = 60, *, skill: str, setup: int = 0, **fields: Any) -> Self:
        return self._add(Kind.MANUAL, alternatives=self._alternatives(machines, setup, cycle), skill=skill, **fields)

    def outside(self, service: str, **fields: Any) -> Self:
        return self._add(Kind.OUTSIDE, service=list(self._services).index(service), **fields)

    def wait(self, minutes: int, **fields: Any) -> Self:
        return self._add(Kind.WAIT, wait_min=minutes, **fields)

    def need(self, batch: str, number: int, source: str | None = None, *, at: int = 0, pieces: int = 1) -> Self:
        """``source`` is a batch; without one it is a receipt at minute ``at`` (0: stock)."""
        made = None if source is None else self._batch_index(source)
        part = "bought" if made is None else self._batches[made].part
        receipt = f"R{len(self._needs) + 1}" if made is None and at else ""
        self._needs.append(Need(self._operation_index(batch, number), part, pieces, made, receipt, at))
        return self

    def order(self, number: str, *batches: str, due: int, weight: int = 1, pieces: int = 1, receipt_at: int | None = None) -> Self:  # fmt: skip
        """Fed by the batches named, and by a receipt if ``receipt_at`` is given."""
        sources = [Source(pieces, self._batch_index(b)) for b in batches]
        if receipt_at is not None:
            sources.append(Source(pieces, None, "R", receipt_at))
        part = self._batches[self._batch_index(batches[0])].part if batches else "bought"
        self._orders.append(Order(
            len(self._orders), number, "a customer", part, pieces, due, weight, "normal", tuple(sources),
        ))  # fmt: skip
        for name in batches:
            index = self._batch_index(name)
            self._batches[index] = replace(self._batches[index], due_min=min(due, self._batches[index].due_min))
        return self

    def kept(
        self, batch: str, number: int, machine: str, after: tuple[str, int] | None = None, weight: int = 1
    ) -> Self:
        """The accepted plan has the operation on ``machine`` just after ``after``; frozen or decided with a weight over 1."""
        before = None if after is None else self._operation_index(*after)
        self._kept.append(Kept(self._operation_index(batch, number), self._machine_index(machine), before, weight))
        return self

    def build(self) -> Work:
        fields: dict[str, Any] = {
            "shop": "Test shop", "zone": "Europe/London", "plan_start": datetime(2026, 3, 23, 8, tzinfo=UTC),
            "prices": Prices(), **self._fields,
        }  # fmt: skip
        for name in self._machines:
            if name not in self._machine_records:
                self.machine(name)
        machines = tuple(self._machine_records[name] for name in self._machines)
        return Work(
            machines=machines, groups=self._group_records(machines), skills=tuple(self._skills),
            people=tuple(self._people), equipment=tuple(self._equipment), changeovers=dict(self._changeovers),
            batches=tuple(self._batches), operations=tuple(self._operations), needs=tuple(self._needs),
            orders=tuple(self._orders), services=tuple(self._services.values()), runs=tuple(self._runs),
            move_calendars=tuple(self._calendars.values()), kept=tuple(self._kept), **fields,
        )  # fmt: skip

    # ---- names to indices ------------------------------------------------------

    def _add(self, kind: Kind, *, skill: str | None = None, first_off_skill: str | None = None, **fields: Any) -> Self:
        """Names in place of indices in begun_machine, begun_person, pin_machine, pin_person,
        move_calendar; ``equipment`` is {name: units}."""
        batch = self._batches[-1]
        index = len(self._operations)
        fields.setdefault("pieces", batch.start_pieces)
        fields.setdefault("pieces_left", fields["pieces"])
        fields.setdefault("number", 10 * (len(batch.operations) + 1))
        fields.setdefault("description", f"{batch.name} step {fields['number']}")
        for key, find in (
            ("begun_machine", self._machine_index), ("pin_machine", self._machine_index),
            ("begun_person", self._person_index), ("pin_person", self._person_index),
            ("move_calendar", list(self._calendars).index),
        ):  # fmt: skip
            if isinstance(fields.get(key), str):
                fields[key] = find(fields[key])
        held = fields.pop("equipment", {})
        self._operations.append(Operation(
            index=index, batch=batch.index, kind=kind,
            skill=None if skill is None else self._skills.of(skill),
            first_off_skill=None if first_off_skill is None else self._skills.of(first_off_skill),
            equipment=tuple((self._equipment_index(name), units) for name, units in held.items()), **fields,
        ))  # fmt: skip
        self._batches[-1] = replace(batch, operations=(*batch.operations, index))
        return self

    def _alternatives(self, machines: Machines, setup: int, cycle: int) -> tuple[Alternative, ...]:
        if isinstance(machines, str):
            machines = [machines]
        if not isinstance(machines, Mapping):
            machines = {name: (setup, cycle) for name in machines}
        return tuple(Alternative(self._machine_index(name), *times) for name, times in machines.items())

    def _group_records(self, machines: tuple[Machine, ...]) -> tuple[Group, ...]:
        return tuple(
            Group(
                name, tuple(i for i, m in enumerate(machines) if m.group == g), *self._minding.get(name, (None, None))
            )
            for name, g in self._groups.items()
        )

    def _machine_index(self, name: str) -> int:
        return self._machines.of(name)

    def _person_index(self, name: str) -> int:
        return next(i for i, p in enumerate(self._people) if p.name == name)

    def _equipment_index(self, name: str) -> int:
        return next(i for i, e in enumerate(self._equipment) if e.name == name)

    def _batch_index(self, name: str) -> int:
        return next(b.index for b in self._batches if b.name == name)

    def _operation_index(self, batch: str, number: int) -> int:
        found = self._batches[self._batch_index(batch)]
        return next(i for i in found.operations if self._operations[i].number == number)


# ---- plans by hand ---------------------------------------------------------------

Stints = Sequence[tuple[str | None, int, int]]


def step(
    work: Work,
    batch: str,
    number: int,
    machine: str | None = None,
    *,
    run: tuple[int, int] | None = None,
    start: int | None = None,
    setup: Stints = (),
    stints: Stints = (),
    bursts: Sequence[tuple[int, int]] | None = None,
    first_off: tuple[int, str, int, int] | None = None,
    trip: int | None = None,
    **fields: Any,
) -> Step:
    """A step with all that follows from what is given; any field of ``Step`` may be given as well.

    ``setup`` and ``stints`` are (person, start, end), person None being nobody in particular; ``bursts`` are
    (start, minutes before), one burst unless given; ``first_off`` is (cycle end, approver, start, end).
    """
    operation = at(work, batch, number)
    setters, workers = _stints(work, setup), _stints(work, stints)
    setup_min = fields.pop("setup_min", sum(s.end - s.start for s in setters))
    if run is None:
        run = (workers[0].start + setup_min, workers[-1].end) if workers else (start or 0, start or 0)
    if start is None:
        start = (setters or workers)[0].start if setters or workers else run[0]
    if operation.begun == Begun.RUNNING:
        start = 0
    if bursts is None:
        bursts = [(run[0], 0)] if operation.kind == Kind.MACHINE and run[0] < run[1] else []
    approval = None if first_off is None else FirstOff(first_off[0], _person(work, first_off[1]), *first_off[2:])
    return replace(
        Step(
            operation.index, None if machine is None else _machine(work, machine), start, setup_min, 0, setters, approval,
            run[0], tuple(Burst(*b) for b in bursts), run[1], run[1] + operation.wait_min, workers, start, trip, "release",
        ),
        **fields,
    )  # fmt: skip


def plan(work: Work, *steps: Step, **fields: Any) -> Plan:
    """A plan of those steps; its cost terms are added up from them unless ``cost`` is given."""
    ordered = tuple(sorted(steps, key=lambda s: s.operation))
    sequence = tuple(s.operation for s in sorted(steps, key=lambda s: (s.start, s.operation)))
    made = Plan(
        work.fingerprint, ordered, sequence, Cost(0, 0, 0, 0, 0), Bound(0, "none"), State.GOOD, 1, 0, 0.0, "test",
    )  # fmt: skip
    fields.setdefault("cost", cost_of(work, made))
    return replace(made, **fields)


def as_plan(work: Work, table: Timetable) -> Plan:
    """What the timetable holds, as a plan."""
    sequence = tuple(int(i) for i in table.list)
    return Plan(
        work.fingerprint, table.steps(), sequence, table.cost(), Bound(0, "none"), State.GOOD, 1, 0, 0.0, "test"
    )


def broken(work: Work, *steps: Step, **fields: Any) -> list[str]:
    """The rules that a plan of those steps breaks, each once, sorted."""
    return sorted({breach.rule for breach in verify(work, plan(work, *steps, **fields))})


def cost_of(work: Work, made: Plan) -> Cost:
    """The cost terms of a plan's steps; a term that cannot be known (a step is missing) is 0."""
    ctx = Context(work, made)
    terms = (cost_terms.late, cost_terms.change, cost_terms.wip, cost_terms.setup, cost_terms.charges)
    return Cost(*(term(ctx) or 0 for term in terms))


def _stints(work: Work, stints: Stints) -> tuple[Stint, ...]:
    return tuple(Stint(_person(work, who), a, b) for who, a, b in stints)


def _person(work: Work, name: str | None) -> int:
    return -1 if name is None else next(i for i, p in enumerate(work.people) if p.name == name)


def _machine(work: Work, name: str) -> int:
    return next(i for i, m in enumerate(work.machines) if m.name == name)
