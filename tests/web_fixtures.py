"""A made-up shop of any size with a quick plan, for looking at pages. Its batches have no scrap allowance."""

from __future__ import annotations

import random
from datetime import UTC, datetime
from functools import cache

from planner.plan import Plan
from planner.search import search
from planner.work import (
    Alternative,
    Batch,
    Equipment,
    Given,
    Group,
    Hours,
    Kind,
    Machine,
    Need,
    Operation,
    Order,
    Person,
    Run,
    Service,
    Source,
    Span,
    Trip,
    Work,
)

DAY = 1440
WEEKS = 60
HOSTILE = "<img src=x onerror=alert(1)>"
PARTS = ("burr ring", "crank arm", "body tube", "hopper", "axle", "thrust nut", "catch cup", "lid", "knob", "spacer")
CLASSES = (("line stop", 8), ("first time", 4), ("repeat", 2), ("stock", 1))
GROUPS = (("lathes", 0.3), ("mills", 0.4), ("5-axis", 0.1), ("benches", 0.2))


def spans(first: int, *windows: Span, weekdays: int = 5) -> tuple[Span, ...]:
    """The windows (minutes from 08:00) on the first days of each of the known weeks."""
    days = [week * 7 + day for week in range(WEEKS) for day in range(weekdays)]
    return tuple((d * DAY + a, d * DAY + b) for d in days for a, b in windows if d * DAY + a >= first)


DAY_HOURS = spans(0, (0, 240), (285, 510))
TWO_SHIFTS = spans(0, (0, 240), (285, 480), (480, 840))
LATE_HOURS = spans(0, (480, 840))
NIGHT = spans(0, (840, 1440), weekdays=4)


@cache
def made_work(operations: int = 300, machines: int = 15, seed: int = 1) -> Work:
    """About as many operations as asked for, five or six to a batch, two or three batches to an order."""
    rng = random.Random(seed)
    shop_machines, groups = _machines(machines)
    people = _people(machines)
    batches: list[Batch] = []
    steps: list[Operation] = []
    needs: list[Need] = []
    orders: list[Order] = []
    while len(steps) < operations:
        _add_order(rng, groups, batches, steps, needs, orders)
    return Work(
        shop="Hopper Lane Works", zone="Europe/London", plan_start=datetime(2026, 3, 23, 8, tzinfo=UTC),
        machines=shop_machines, groups=groups, skills=SKILLS, people=people,
        equipment=(Equipment("soft jaws 40", 3), Equipment("collet set B", 2)), changeovers={},
        batches=tuple(batches), operations=tuple(steps), needs=tuple(needs), orders=tuple(orders),
        services=(_anodiser(),), runs=tuple(Run("Blue Tank Finishing", t.collect_min, 400) for t in _anodiser().trips),
        move_calendars=(DAY_HOURS,), shop_calendar=0,
        given=(Given("burr ring", 12, "stock", "order O-1001"),),
        assumptions=("Order O-1002 has no material date: material is taken as here at the plan start.",),
        left_out=("Order O-0900 has quantity 0.",),
    )  # fmt: skip


SKILLS = ("turning set", "milling set", "inspection", "finishing")


def _machines(count: int) -> tuple[tuple[Machine, ...], tuple[Group, ...]]:
    made: list[Machine] = []
    groups: list[Group] = []
    for g, (name, share) in enumerate(GROUPS):
        own = max(1, round(count * share))
        for n in range(own):
            hours = Hours(TWO_SHIFTS if n % 2 == 0 else DAY_HOURS, NIGHT if name == "lathes" and n == 0 else ())
            made.append(Machine(f"{name.rstrip('s')} {n + 1}", g, hours))
        groups.append(Group(name, tuple(range(len(made) - own, len(made)))))
    return tuple(made), tuple(groups)


def _people(machines: int) -> tuple[Person, ...]:
    names = ("Ada", "Ben", "Cleo", "Dev", "Esme", "Finn", "Gita", "Hal", "Iris", "Jon")
    many = max(8, machines)
    return tuple(
        Person(
            names[i % 10] + ("" if i < 10 else f" {i // 10 + 1}"),
            frozenset({i % 4, (i // 4 + i + 1) % 4}),
            LATE_HOURS if i % 3 == 2 else DAY_HOURS,
        )
        for i in range(many)
    )


def _anodiser() -> Service:
    trips = []
    for week in range(WEEKS - 3):
        for day in (1, 3):
            start = (week * 7 + day) * DAY
            trips.append(Trip(start + 360, start + 420, start + 7 * DAY, start + 7 * DAY + 120, len(trips)))
    return Service("Blue Tank Finishing", "hard anodise", tuple(trips), 4500, 350)


def _add_order(rng, groups, batches, steps, needs, orders) -> None:
    number = len(orders) + 1001
    priority, weight = rng.choice(CLASSES)
    pieces = rng.choice((10, 25, 40, 60))
    due = rng.randint(4, 12 + len(steps) // 22) * DAY + 480
    first = len(batches)
    for child in range(rng.choice((1, 2, 3))):
        _add_batch(rng, groups, batches, steps, f"B{number}-{child + 1}", pieces, due, number, child)
    top = batches[-1]
    for made in batches[first:-1]:
        needs.append(Need(top.operations[-1], made.part, pieces, made.index))
    orders.append(Order(len(orders), f"O-{number}", f"Customer {chr(65 + number % 9)}", top.part, pieces, due, weight,
                        priority, (Source(pieces, top.index),)))  # fmt: skip


def _add_batch(rng, groups, batches, steps, name, pieces, due, number, child) -> None:
    index, first = len(batches), len(steps)
    part = HOSTILE if number == 1001 and child == 0 else f"{rng.choice(PARTS)} {number % 7}"
    for n in range(rng.choice((4, 5, 6))):
        steps.append(_step(rng, groups, len(steps), index, n, pieces))
    batches.append(Batch(index, name, part, "A", part, pieces, 0, pieces, 0, tuple(range(first, len(steps))), due))


def _step(rng, groups, index, batch, n, pieces) -> Operation:
    common = {"index": index, "batch": batch, "number": 10 * (n + 1), "pieces": pieces, "pieces_left": pieces}
    if n == 3 and rng.random() < 0.3:
        return Operation(**common, description="hard anodise", kind=Kind.OUTSIDE, service=0, charge_key="black",
                         piece_price_pence=85)  # fmt: skip
    g = 3 if n == 4 else rng.choice((0, 1, 1, 2)) if n else 0
    members = rng.sample(groups[g].machines, min(2, len(groups[g].machines)))
    times = tuple(Alternative(m, rng.choice((0, 15, 30, 45, 60)), rng.randint(30, 300)) for m in members)
    if g == 3:
        return Operation(**common, description="deburr and inspect", kind=Kind.MANUAL, alternatives=times, skill=3)
    first_off = 2 if rng.random() < 0.4 else None
    limit = 480 if g == 0 and rng.random() < 0.5 else 0
    return Operation(**common, description=("turn", "mill", "5-axis mill")[g], kind=Kind.MACHINE, alternatives=times,
                     family="40 mm", skill=min(g, 1), first_off_skill=first_off, first_off_min=10 if first_off else 0,
                     unattended_limit_min=limit, equipment=((g % 2, 1),))  # fmt: skip


_plans: dict[str, Plan] = {}  # by the fingerprint of what they are for: one for all modules that a process runs


def made_plan(work: Work) -> Plan:
    """A first plan by rule: allowed, quick, and the same each time."""
    if work.fingerprint not in _plans:
        _plans[work.fingerprint] = search(work, trials=1)
    return _plans[work.fingerprint]
