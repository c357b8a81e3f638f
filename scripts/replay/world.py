"""The simulated shop: machines, people, an anodiser, and a catalogue of parts and kits with their routings.

All of it is invented. The zone is UTC, so that a minute of the plan is a minute of the wall clock. Nothing here is disturbed;
what really happens is in ``truth.py``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

import numpy as np

from planner.shop import (
    Alternative,
    Calendar,
    Collection,
    Component,
    Group,
    Hours,
    Machine,
    Operation,
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

FIRST_DAY = date(2026, 1, 5)  # a Monday
OPENS = time(6)  # the plan of a day begins before anybody is there, so that no minute is cut in two
CUTOFF = time(15)
CHANGE_DAYS = 15  # in which the running order is changed only for a promise: it is what the floor has been told
ONE_OFF = (
    3  # every so many-th part of a route is one-off: no two orders for it are the same, and its times are estimates
)
NIGHT_MIN = 300  # that a turn-mill runs on its own
KNOWN_DAYS = 150  # calendars are known this far ahead: a queue of seven weeks with its worst draws has to fit in
WEEK_DAYS = 5
YEAR_DAYS = 52 * WEEK_DAYS


@dataclass(frozen=True)
class Item:
    """Something customers ask for: a part number, how often (a weight), and the quantities they want."""

    part: str
    weight: float
    quantities: tuple[int, int]
    route: str  # class of its routing, for fixed lead times
    kit: bool
    outside: bool


@dataclass(frozen=True)
class World:
    """A shop without orders, what can be ordered in it, and the machine group that limits it."""

    shop: Shop
    items: tuple[Item, ...]
    limiting: str


def day_of(number: int) -> date:
    """Date of a working day, counted from 0."""
    return FIRST_DAY + timedelta(days=number // WEEK_DAYS * 7 + number % WEEK_DAYS)


def opening(number: int) -> datetime:
    """Moment from which a working day is planned."""
    return datetime.combine(day_of(number), OPENS)


def promise_day(moment: datetime) -> int:
    """Number of the first working day whose dispatch cut-off is at or after a moment."""
    days = (moment.date() - FIRST_DAY).days
    number = days // 7 * WEEK_DAYS + min(days % 7, WEEK_DAYS)
    return number + (days % 7 < WEEK_DAYS and moment.time() > CUTOFF)


def dispatch(number: int) -> datetime:
    """The dispatch cut-off of a working day."""
    return datetime.combine(day_of(number), CUTOFF)


def on_day(shop: Shop, number: int) -> Shop:
    """The shop with its calendars and its plan start moved on to a working day."""
    known = day_of(number) + timedelta(days=KNOWN_DAYS)
    return replace(
        shop,
        settings=replace(shop.settings, plan_start=opening(number)),
        calendars={name: replace(calendar, known_to=known) for name, calendar in shop.calendars.items()},
    )


# --- machines, people, the anodiser ----------------------------------------------------------------


def _week(*windows: tuple[time, time, bool]) -> tuple[Hours, ...]:
    return tuple(Hours(day, a, b, manned) for day in range(WEEK_DAYS) for a, b, manned in windows)


_SHIFT = ((time(7), time(15), True),)  # without a break, for speed


def _supplier() -> Supplier:
    """Collected Tuesday and Thursday, four working days, back Tuesday and Thursday."""
    vans = tuple(Collection(day, time(14), time(13, 30)) for day in (1, 3))
    back = tuple(WeeklyTime(day, time(9, 30)) for day in (1, 3))
    return Supplier("Fellside Finishing", "day", (Process("anodise", 4, 4500, 500),), vans, back)


def _basis(groups: dict[str, int], people: Sequence[Person]) -> Shop:
    """A shop with so many machines in each group; ``turn-mill`` runs on into the night."""
    calendars = {
        "day": Calendar("day", FIRST_DAY, _week(*_SHIFT)),
        "night": Calendar("night", FIRST_DAY, _week(*_SHIFT, (time(15), OPENS, False))),
    }
    machines = [
        Machine(f"{group} {i + 1}", group, "night" if group == "turn-mill" else "day")
        for group, count in groups.items()
        for i in range(count)
    ]
    manual = ("bench", "inspection", "assembly", "saw")
    return Shop(
        settings=Settings(
            "Replayed shop",
            opening(0),
            zone="UTC",
            shop_calendar="day",
            dispatch_cutoff=CUTOFF,
            start_early=True,
            batch_proposals=False,
            change_days=CHANGE_DAYS,
        ),
        calendars=calendars,
        people={person.name: person for person in people},
        groups={group: Group(group, group, None if group in manual else "setting") for group in groups},
        machines={machine.name: machine for machine in machines},
        suppliers={"Fellside Finishing": _supplier()},
        classes={"normal": PriorityClass("normal", 1), "hot": PriorityClass("hot", 20)},
    )


# --- the catalogue -----------------------------------------------------------------------------------


class _Steps:
    """Makes the operations of one routing after another, with random standard times."""

    def __init__(self, shop: Shop, rng: np.random.Generator) -> None:
        self.shop, self.rng = shop, rng
        self.families = ("soft jaws", "fixture", "bar")

    def _between(self, low: float, high: float) -> int:
        return round(float(self.rng.uniform(low, high)))

    def machine(self, number: int, group: str, setup: tuple[int, int], cycle: tuple[int, int]) -> Operation:
        setup_min, cycle_sec = self._between(*setup), self._between(*cycle)
        on = tuple(Alternative(m.name, setup_min, cycle_sec) for m in self.shop.machines.values() if m.group == group)
        kind = "machine" if self.shop.groups[group].setup_skill else "manual"
        skill = {"bench": "finishing", "inspection": "inspecting", "assembly": "assembling", "saw": "finishing"}
        return Operation(
            number, group, kind, group, on, skill=skill.get(group),
            unattended_limit_min=NIGHT_MIN if group == "turn-mill" else 0,
        )  # fmt: skip

    def outside(self, number: int) -> Operation:
        return Operation(
            number, "anodise", "outside", supplier="Fellside Finishing", process="anodise", charge_key="all"
        )

    def routing(self, kinds: Sequence[str]) -> tuple[Operation, ...]:
        times = {
            "saw": ((5, 15), (20, 60)),
            "lathe": ((35, 90), (250, 650)),
            "mill": ((45, 120), (240, 620)),
            "turn-mill": ((90, 180), (200, 500)),
            "bench": ((5, 10), (40, 110)),
            "inspection": ((10, 20), (30, 90)),
            "assembly": ((15, 30), (240, 600)),
        }
        return tuple(
            self.outside(10 * (i + 1)) if kind == "anodise" else self.machine(10 * (i + 1), kind, *times[kind])
            for i, kind in enumerate(kinds)
        )


ROUTES = {
    "turned": ("saw", "lathe", "bench", "inspection"),
    "milled": ("saw", "mill", "mill", "bench", "inspection"),
    "turned and milled": ("saw", "lathe", "mill", "bench", "inspection"),
    "milled, anodised": ("saw", "mill", "mill", "bench", "anodise", "inspection"),
    "turned, anodised": ("lathe", "bench", "anodise", "inspection"),
    "bar work": ("turn-mill", "bench", "inspection"),
}
SHARES = {"turned": 3, "milled": 3, "turned and milled": 4, "milled, anodised": 2, "turned, anodised": 2, "bar work": 4}


def _catalogue(
    shop: Shop, routes: dict[str, int], kits: Sequence[Sequence[str]], seed: int
) -> tuple[Shop, tuple[Item, ...]]:
    """``routes``: how many parts of each; ``kits``: the routes of the components of each kit."""
    steps = _Steps(shop, np.random.default_rng([seed, 1]))
    parts: dict[str, Part] = {}
    routings: dict[str, Routing] = {}
    structure: list[Component] = []
    items: list[Item] = []

    def add(number: str, kinds: Sequence[str], description: str, one_off: bool = False) -> None:
        parts[number] = Part(number, "A", description, made=True, first_time=one_off)
        routings[number] = Routing(number, steps.routing(kinds))

    for route, count in routes.items():
        for i in range(count):
            number = f"{route.replace(', ', '-').replace(' ', '-')}-{i + 1}"
            add(number, ROUTES[route], f"{route} part", one_off=i % ONE_OFF == ONE_OFF - 1)
            items.append(Item(number, SHARES[route] / count, (15, 85), route, False, "anodise" in ROUTES[route]))
    for k, components in enumerate(kits):
        kit = f"kit-{k + 1}"
        add(kit, ("assembly", "inspection"), "kit")
        for i, route in enumerate(components):
            add(f"{kit}-{i + 1}", ROUTES[route], f"component of {kit}")
            structure.append(Component(kit, f"{kit}-{i + 1}", 1))
        outside = any("anodise" in ROUTES[route] for route in components)
        items.append(Item(kit, 1.6 / len(kits), (8, 24), "kit", True, outside))
    return replace(shop, parts=parts, routings=routings, structure=tuple(structure)), tuple(items)


def _crew(**counts: int) -> list[Person]:
    """So many people with each skill (underscore in place of a blank); all work the day shift."""
    return [Person(f"{skill} {i + 1}", "day", (skill,)) for skill, count in counts.items() for i in range(count)]


def large_world(seed: int) -> World:
    """About 100 open operations; the three mills limit it."""
    groups = {"saw": 1, "lathe": 2, "mill": 2, "turn-mill": 1, "bench": 2, "inspection": 2, "assembly": 1}
    basis = _basis(groups, _crew(setting=2, finishing=2, inspecting=2, assembling=1))
    kits = (
        ("turned", "milled, anodised", "bar work"),
        ("turned and milled", "turned", "milled"),
        ("turned, anodised", "milled"),
    )
    shop, items = _catalogue(basis, {route: 6 for route in ROUTES}, kits, seed)
    return World(shop, items, "mill")


def small_world(seed: int) -> World:
    """A lathe and a mill, for tests; the mill limits it."""
    groups = {"saw": 1, "lathe": 1, "mill": 1, "bench": 1, "inspection": 1, "assembly": 1}
    basis = _basis(groups, _crew(setting=2, finishing=2, inspecting=1, assembling=1))
    routes = {"turned": 2, "turned and milled": 2, "turned, anodised": 1}
    shop, items = _catalogue(basis, routes, (("turned", "turned, anodised"),), seed)
    return World(shop, items, "mill")
