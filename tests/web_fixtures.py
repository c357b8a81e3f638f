"""A made-up shop of any size with a plan by a plain greedy rule, for looking at pages.

The plan keeps to machines, hours, people and the steps' order, which is what pages draw. It does not
claim to be a good plan, and the batches have no scrap allowance.
"""

from __future__ import annotations

import heapq
import itertools
import random
from bisect import bisect_right
from collections import Counter
from dataclasses import dataclass, field
from datetime import UTC, datetime

from planner.plan import Bound, Burst, Cost, FirstOff, Plan, State, Step, Stint
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


@dataclass
class Bookings:
    """When machines and people are free again, and the plan as it grows."""

    work: Work
    machine: dict[int, int] = field(default_factory=dict)
    person: dict[int, int] = field(default_factory=dict)
    last: dict[int, int] = field(default_factory=dict)  # machine -> operation
    end: dict[int, int] = field(default_factory=dict)  # operation -> end
    steps: dict[int, Step] = field(default_factory=dict)


def made_plan(work: Work) -> Plan:
    """Operations in the order they become ready, each as early as its machine and setter are free."""
    books = Bookings(work)
    consumer = {n.batch: n.operation for n in work.needs if n.batch is not None}
    missing = Counter(n.operation for n in work.needs if n.batch is not None)
    follows = {a: b for batch in work.batches for a, b in itertools.pairwise(batch.operations)}
    ready = {b.operations[0]: (b.release_min, "release", None) for b in work.batches}
    queue = [(0, work.batches[work.operations[i].batch].due_min, i) for i in ready if not missing[i]]
    heapq.heapify(queue)

    def tell(op: int, moment: tuple[int, str, int | None]) -> None:
        ready[op] = max(ready.get(op, moment), moment, key=lambda m: m[0])

    while queue:
        _, due, i = heapq.heappop(queue)
        step = _placed(books, work.operations[i], *ready[i])
        books.steps[i], books.end[i] = step, step.end
        if i in follows:
            after = follows[i]
            tell(after, (step.end + 15, "step before", i))
        else:
            batch = work.operations[i].batch
            after = consumer.get(batch)
            if after is None:
                continue
            missing[after] -= 1
            tell(after, (step.end, "component", batch))
        before = after - 1 if after - 1 in follows else None
        if not missing[after] and (before is None or before in books.end):
            heapq.heappush(queue, (ready[after][0], due, after))
    return _finished(books)


def _finished(books: Bookings) -> Plan:
    work = books.work
    steps = tuple(books.steps[i] for i in sorted(books.steps))
    late = sum(o.weight * max(0, books.end[work.batches[o.sources[0].batch].operations[-1]] - o.due_min) for o in work.orders)  # fmt: skip
    cost = Cost(late, 0, sum(s.end - s.start for s in steps), 10 * sum(s.setup_min for s in steps), 15000)
    order = tuple(sorted(books.steps, key=lambda i: books.steps[i].start))
    return Plan(work.fingerprint, steps, order, cost, Bound(late // 2, "machine relaxation"), State.GOOD, 1, 0, 0.1, "1")  # fmt: skip


def _placed(books: Bookings, op: Operation, ready: int, why: str, on: int | None) -> Step:
    if op.kind is Kind.OUTSIDE:
        n, trip = next((n, t) for n, t in enumerate(books.work.services[0].trips) if t.cutoff_min >= ready)
        return Step(op.index, None, ready, 0, 0, (), None, trip.collect_min, (), trip.back_min, trip.back_min, (),
                    ready, n, "van", None)  # fmt: skip
    best = min(op.alternatives, key=lambda a: (books.machine.get(a.machine, 0), a.machine))
    free = books.machine.get(best.machine, 0)
    if free > ready:
        ready, why, on = free, "machine", books.last.get(best.machine)
    work = _manual if op.kind is Kind.MANUAL else _machined
    step = work(books, op, best, ready, why, on)
    books.machine[best.machine], books.last[best.machine] = step.run_end, op.index
    return step


def _manual(books: Bookings, op: Operation, best: Alternative, ready: int, why: str, on: int | None) -> Step:
    hours = books.work.machines[best.machine].hours.attended
    left = -(-op.pieces * best.cycle_sec // 60)
    stints: list[Stint] = []
    t = ready
    while left:
        person, a, b = _soonest(books, op.skill, hours, t)
        took = min(left, b - a)
        stints.append(Stint(person, a, a + took))
        books.person[person] = t = a + took
        left -= took
    start = stints[0].start
    return Step(op.index, best.machine, start, 0, 0, (), None, start, (), t, t, tuple(stints), start, None, why, on)


def _machined(books: Bookings, op: Operation, best: Alternative, ready: int, why: str, on: int | None) -> Step:
    hours = books.work.machines[best.machine].hours
    setup: tuple[Stint, ...] = ()
    t = start = _advance(hours.attended, ready, 0)
    if best.setup_min:
        setter, start, _ = _soonest(books, op.skill, hours.attended, ready)
        common = _both(hours.attended, books.work.people[setter].hours)
        t = _advance(common, start, best.setup_min)
        books.person[setter] = t
        setup = (Stint(setter, start, t),)
    run_hours = _run_hours(hours, op.unattended_limit_min)
    run_start = _open_at(hours.attended, t)
    minutes = -(-op.pieces * best.cycle_sec // 60)
    bursts, first_off, done = [Burst(run_start, 0)], None, 0
    if op.first_off_skill is not None:
        done = min(minutes, -(-best.cycle_sec // 60))
        cycle_end = _advance(hours.attended, run_start, done)
        approver, a, b = _approval(books, op, setup, cycle_end)
        first_off = FirstOff(cycle_end, approver, a, b)
        bursts.append(Burst(_open_at(hours.attended, b), done))
    end = _advance(run_hours, bursts[-1].start, minutes - done)
    return Step(op.index, best.machine, start, best.setup_min, 0, setup, first_off, run_start, tuple(bursts), end, end,
                (), start, None, why, on)  # fmt: skip


def _approval(books: Bookings, op: Operation, setup: tuple[Stint, ...], at: int) -> tuple[int, int, int]:
    barred = {s.person for s in setup}
    able = [i for i, p in enumerate(books.work.people) if op.first_off_skill in p.skills and i not in barred]
    starts = {i: _open_at(books.work.people[i].hours, at) for i in able}
    who = min(able, key=lambda i: (starts[i], i))
    return who, starts[who], _advance(books.work.people[who].hours, starts[who], op.first_off_min)


def _soonest(books: Bookings, skill: int, hours: tuple[Span, ...], at: int) -> tuple[int, int, int]:
    """Who with the skill can begin first, when, and when that common window ends."""
    found = []
    for i, person in enumerate(books.work.people):
        if skill in person.skills:
            both = _both(hours, person.hours)
            a = _open_at(both, max(at, books.person.get(i, 0)))
            found.append((a, i, both[_window(both, a)][1]))
    a, person_index, b = min(found)
    return person_index, a, b


def _both(left: tuple[Span, ...], right: tuple[Span, ...]) -> tuple[Span, ...]:
    key = (id(left), id(right))
    if key not in _BOTH:
        pairs = ((max(a, c), min(b, d)) for a, b in left for c, d in right if c < b and a < d)
        _BOTH[key] = tuple(sorted(pairs))
    return _BOTH[key]


_BOTH: dict[tuple[int, int], tuple[Span, ...]] = {}


def _run_hours(hours: Hours, limit: int) -> tuple[Span, ...]:
    if not limit or not hours.unattended:
        return hours.attended
    return tuple(sorted((*hours.attended, *((a, min(b, a + limit)) for a, b in hours.unattended))))


def _window(windows: tuple[Span, ...], at: int) -> int:
    i = bisect_right(windows, (at, 1 << 40)) - 1
    return i if i >= 0 and windows[i][1] > at else i + 1


def _open_at(windows: tuple[Span, ...], at: int) -> int:
    return max(at, windows[_window(windows, at)][0])


def _advance(windows: tuple[Span, ...], at: int, minutes: int) -> int:
    if minutes == 0:
        return at
    i = _window(windows, at)
    while True:
        a, b = max(at, windows[i][0]), windows[i][1]
        if b - a >= minutes:
            return a + minutes
        minutes -= b - a
        i += 1
