"""Small shops for the explode tests: a two-shift week, a lathe, a mill, a bench, an anodiser."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time
from typing import Any

from planner.shop import (
    Alternative,
    Calendar,
    Collection,
    Component,
    Equipment,
    Group,
    Hours,
    Machine,
    OpenBatch,
    Operation,
    Order,
    Part,
    Person,
    PriorityClass,
    Process,
    Routing,
    Settings,
    Shop,
    Supplier,
    WeeklyTime,
)

MONDAY = datetime(2026, 3, 23, 8, 0)  # plan start, local
PERIODS = ((time(8), time(12)), (time(12, 30), time(16, 30)))
EASTER = (date(2026, 4, 3), date(2026, 4, 6))


def calendar(name: str, known_to: date = date(2026, 6, 30), **more: Any) -> Calendar:
    """Monday to Friday 08:00-12:00 and 12:30-16:30."""
    week = tuple(Hours(day, start, end, True) for day in range(5) for start, end in PERIODS)
    return Calendar(name, known_to, **{"hours": week, **more})


def machine_step(
    number: int, machine: str = "LATHE", setup_min: int = 30, cycle_sec: int = 60, **more: Any
) -> Operation:
    alternatives = more.pop("alternatives", (Alternative(machine, setup_min, cycle_sec),))
    return Operation(number, f"step {number}", "machine", "lathes", alternatives, **more)


def manual_step(number: int, setup_min: int = 0, cycle_sec: int = 60, **more: Any) -> Operation:
    more = {"skill": "fitting", **more}
    return Operation(
        number, f"step {number}", "manual", "benches", (Alternative("BENCH", setup_min, cycle_sec),), **more
    )


def outside_step(number: int, **more: Any) -> Operation:
    return Operation(number, f"step {number}", "outside", supplier="Bright", process="hard", **more)


def part(number: str, made: bool = True, **more: Any) -> Part:
    return Part(number, "A", f"the {number.lower()}", made, **more)


def order(number: str, part_: str, quantity: int, due: datetime | date = date(2026, 4, 30), **more: Any) -> Order:
    more = {"material_date": date(2026, 3, 2), **more}
    return Order(number, "Customer", part_, quantity, due, "normal", **more)


def open_batch(number: str, part_: str, quantity: int, **more: Any) -> OpenBatch:
    return OpenBatch(number, part_, quantity, **more)


def supplier() -> Supplier:
    """Collected Tuesday and Thursday 15:00, five working days, back Tuesday and Thursday 10:00."""
    vans = tuple(Collection(day, time(15), time(15), 500) for day in (1, 3))
    back = tuple(WeeklyTime(day, time(10)) for day in (1, 3))
    return Supplier("Bright", "anodiser", (Process("hard", 5, 8500, 500), Process("soft", 3)), vans, back)


def shop(
    orders: tuple[Order, ...] = (),
    parts: tuple[Part, ...] = (part("P"),),
    routings: dict[str, tuple[Operation, ...]] | None = None,
    structure: tuple[Component, ...] = (),
    batches: tuple[OpenBatch, ...] = (),
    settings: dict[str, Any] | None = None,
    **more: Any,
) -> Shop:
    """A shop in which every made part is turned in one step unless ``routings`` says otherwise."""
    steps = {p.number: (machine_step(10),) for p in parts if p.made} | (routings or {})
    chosen = {"shop_name": "Test", "plan_start": MONDAY, "shop_calendar": "day", **(settings or {})}
    basis = Shop(
        settings=Settings(**chosen),
        calendars={c.name: c for c in (calendar("day"), calendar("anodiser"))},
        people={
            "Ann": Person("Ann", "day", ("turning", "inspecting")),
            "Bob": Person("Bob", "day", ("fitting", "turning")),
        },
        groups={"lathes": Group("lathes", "", "turning"), "benches": Group("benches", "", None)},
        machines={
            "LATHE": Machine("LATHE", "lathes", "day"),
            "LATHE2": Machine("LATHE2", "lathes", "day"),
            "BENCH": Machine("BENCH", "benches", "day"),
        },
        equipment={"chuck": Equipment("chuck", 1)},
        parts={p.number: p for p in parts},
        routings={number: Routing(number, ops) for number, ops in steps.items()},
        structure=structure,
        suppliers={"Bright": supplier()},
        classes={"normal": PriorityClass("normal", 3)},
        orders={o.number: o for o in orders},
        batches={b.number: b for b in batches},
    )
    return replace(basis, **more)
