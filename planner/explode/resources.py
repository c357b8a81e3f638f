"""Machines, people and equipment with their hours in minutes; names become positions in sorted order."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from planner import shop, worktime
from planner.explode.clock import Clock
from planner.work import Equipment, Factors, Group, Hours, Machine, Person, Span


@dataclass(frozen=True)
class Index:
    """Position of each name in the tuples of ``Work``."""

    skills: dict[str, int]
    groups: dict[str, int]
    machines: dict[str, int]
    people: dict[str, int]
    equipment: dict[str, int]
    moves: dict[str, int]
    services: dict[tuple[str, str], int]


@dataclass(frozen=True)
class Resources:
    machines: tuple[Machine, ...]
    groups: tuple[Group, ...]
    skills: tuple[str, ...]
    people: tuple[Person, ...]
    equipment: tuple[Equipment, ...]
    changeovers: dict[tuple[int, str, str], int]
    move_calendars: tuple[tuple[Span, ...], ...]
    known_to_min: int
    factors: tuple[Factors, ...]


def index_of(shop_: shop.Shop) -> Index:
    """Positions by sorted name, so that the order of rows in the tables changes nothing."""
    operations = [op for routing in shop_.routings.values() for op in routing.operations]
    skills = {s for p in shop_.people.values() for s in p.skills}
    skills |= {s for g in shop_.groups.values() for s in (g.setup_skill, g.minding_skill) if s}
    skills |= {s for op in operations for s in (op.skill, op.first_off_skill) if s}
    moves = {op.move_calendar for op in operations if op.move_calendar}
    if shop_.settings.shop_calendar:
        moves.add(shop_.settings.shop_calendar)
    services = {(s.name, process.name) for s in shop_.suppliers.values() for process in s.processes}
    return Index(
        _numbered(skills),
        _numbered(shop_.groups),
        _numbered(shop_.machines),
        _numbered(shop_.people),
        _numbered(shop_.equipment),
        _numbered(moves),
        {service: i for i, service in enumerate(sorted(services))},
    )


def _numbered(names: Iterable[str]) -> dict[str, int]:
    return {name: i for i, name in enumerate(sorted(names))}


def resources_of(shop_: shop.Shop, index: Index, clock: Clock) -> Resources:
    """Everything that has hours or a count, in the order of ``index``."""
    in_use = {m.calendar for m in shop_.machines.values()} | {p.calendar for p in shop_.people.values()}
    in_use |= {s.calendar for s in shop_.suppliers.values()} | set(index.moves)
    ends = [worktime.known_to_min(shop_.calendars[c], clock.zone, clock.plan_start) for c in in_use]
    return Resources(
        tuple(_machine(shop_, shop_.machines[name], index, clock) for name in index.machines),
        tuple(_group(shop_, shop_.groups[name], index) for name in index.groups),
        tuple(index.skills),
        tuple(_person(shop_, shop_.people[name], index, clock) for name in index.people),
        tuple(Equipment(name, shop_.equipment[name].count) for name in index.equipment),
        {(index.groups[g], a, b): minutes for (g, a, b), minutes in sorted(shop_.changeovers.items())},
        tuple(_hours(shop_, name, clock).attended for name in index.moves),
        min(ends, default=0),
        tuple(Factors(g.availability_percent, g.performance_percent) for g in map(shop_.groups.get, index.groups) if g),
    )


def _hours(shop_: shop.Shop, calendar: str, clock: Clock, absences: tuple[shop.Absence, ...] = ()) -> Hours:
    return worktime.hours_of(shop_.calendars[calendar], clock.zone, clock.plan_start, absences)


def _machine(shop_: shop.Shop, machine: shop.Machine, index: Index, clock: Clock) -> Machine:
    key = None
    family = machine.on_family
    if machine.on_part is not None and machine.on_operation is not None:
        key = (machine.on_part, shop_.parts[machine.on_part].revision, machine.on_operation)
        family = family or _family(shop_, machine.on_part, machine.on_operation)
    return Machine(
        machine.name,
        index.groups[machine.group],
        _hours(shop_, machine.calendar, clock, machine.downtime),
        key,
        family or "",
        tuple(sorted(index.equipment[name] for name in machine.on_equipment)),
    )


def _family(shop_: shop.Shop, part: str, number: int) -> str | None:
    """Family of what is set on a machine, where the table leaves it to the routing."""
    routing = shop_.routings.get(part)
    return next((op.family for op in routing.operations if op.number == number), None) if routing else None


def _group(shop_: shop.Shop, group: shop.Group, index: Index) -> Group:
    members = tuple(index.machines[m.name] for m in shop_.machines.values() if m.group == group.name)
    minding = index.skills[group.minding_skill] if group.minding_skill else None
    return Group(group.name, tuple(sorted(members)), minding, group.machines_per_person)


def _person(shop_: shop.Shop, person: shop.Person, index: Index, clock: Clock) -> Person:
    hours = _hours(shop_, person.calendar, clock, person.leave).attended
    return Person(person.name, frozenset(index.skills[s] for s in person.skills), hours)
