"""Looking things up in a shop, and putting changed steps back into it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

from planner.shop import Calendar, Operation, Routing, Shop


def machines_named(shop: Shop, names: Iterable[str]) -> list[str]:
    """Machines, and all machines of groups, once each, in the order they are named."""
    found: dict[str, None] = {}
    for name in names:
        if name in shop.machines:
            found[name] = None
        else:
            found.update((m.name, None) for m in shop.machines.values() if m.group == name)
    return list(found)


def with_calendars(
    shop: Shop, machines: Iterable[str], people: Iterable[str], note: str, change: Callable[[Calendar], Calendar]
) -> Shop:
    """A copy of the shop in which these machines and people have changed copies of their calendars.

    ``note`` is added to the copies' names; the calendars themselves stay, for those who share them.
    """
    of_machines = {name: shop.machines[name] for name in machines}
    of_people = {name: shop.people[name] for name in people}
    calendars, new = dict(shop.calendars), {}
    for old in sorted({*(m.calendar for m in of_machines.values()), *(p.calendar for p in of_people.values())}):
        name = f"{old}, {note}"
        while name in calendars:
            name += "+"
        new[old], calendars[name] = name, replace(change(calendars[old]), name=name)
    return replace(
        shop,
        calendars=calendars,
        machines={**shop.machines, **{n: replace(m, calendar=new[m.calendar]) for n, m in of_machines.items()}},
        people={**shop.people, **{n: replace(p, calendar=new[p.calendar]) for n, p in of_people.items()}},
    )


def skills_on(shop: Shop, machine: str) -> set[str]:
    """Skills without which nothing can be begun on a machine: of its setters, else of those who do its steps."""
    setter = shop.groups[shop.machines[machine].group].setup_skill
    if setter:
        return {setter}
    steps = (op for routing in shop.routings.values() for op in routing.operations)
    return {op.skill for op in steps if op.skill and any(a.machine == machine for a in op.alternatives)}


def step_of(shop: Shop, part: str, number: int) -> Operation | None:
    """A step of a part's routing."""
    routing = shop.routings.get(part)
    return next((op for op in routing.operations if op.number == number), None) if routing else None


def step_before(shop: Shop, part: str, number: int) -> Operation | None:
    """The step before a step of a routing."""
    return max((op for op in shop.routings[part].operations if op.number < number), key=_number, default=None)


def step_after(shop: Shop, part: str, number: int) -> Operation | None:
    """The step after a step of a routing."""
    return min((op for op in shop.routings[part].operations if op.number > number), key=_number, default=None)


def _number(op: Operation) -> int:
    return op.number


def with_steps(shop: Shop, change: Callable[[str, Operation], Operation]) -> Shop:
    """A copy of the shop in which every step of every routing is what ``change(part, step)`` makes of it."""
    routings = {
        part: Routing(part, tuple(change(part, op) for op in routing.operations))
        for part, routing in shop.routings.items()
    }
    return replace(shop, routings=routings)


def with_step(shop: Shop, part: str, number: int, /, **fields: object) -> Shop:
    """A copy of the shop with fields of one step changed."""
    return with_steps(
        shop, lambda p, op: replace(op, **fields) if (p, op.number) == (part, number) else op  # type: ignore[arg-type]
    )  # fmt: skip
