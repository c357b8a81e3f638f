"""The state of the shop floor: open orders, released batches, what of each step is done; and what the planner is told of it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta

from planner.shop import Absence, Machine, OpenBatch, Order, Person, Progress, Shop
from replay.stream import Enquiry
from replay.truth import Truth
from replay.world import World, day_of, on_day, opening

AWAY = timedelta(hours=18)  # the rest of the day, from its opening
REPAIR_LEAST = timedelta(hours=5)  # said of a machine that is still down when the fitter's time is over


@dataclass
class Live:
    """A step that has begun. ``*_left_min`` are true minutes at ``week_factor``; ``told_setup_min`` is what is left of the
    standard setup; ``back`` is when outside work really comes back, ``expected`` when it should."""

    machine: str | None = None
    standard_setup_min: int = 0
    standard_run_min: int = 0
    setup_min: int = 0  # worked so far
    run_min: int = 0  # worked so far
    setup_left_min: int = 0
    run_left_min: int = 0
    week_factor: float = 1.0
    began: datetime | None = None
    collected: datetime | None = None
    expected: datetime | None = None
    back: datetime | None = None
    done: bool = False

    @property
    def told_setup_min(self) -> int:
        """What is left of the setup by the standard time; at least a little while it is not over."""
        return max(min(5, self.setup_left_min), self.standard_setup_min - self.setup_min) if self.setup_left_min else 0


@dataclass
class Released:
    """A batch on the floor, with its begun steps by operation number. ``order``: whom it is for."""

    part: str
    quantity: int
    order: str
    steps: dict[int, Live] = field(default_factory=dict)


@dataclass
class Taken:
    """An accepted order with the working day it is due (promised, or wanted of a hot one)."""

    enquiry: Enquiry
    due_day: int


@dataclass
class Floor:
    """All that is the case on a working day before it begins."""

    world: World
    day: int = 0
    orders: dict[str, Taken] = field(default_factory=dict)
    batches: dict[str, Released] = field(default_factory=dict)
    set_up: dict[str, tuple[str, int]] = field(default_factory=dict)  # machine: part and operation on it

    def order(self, enquiry: Enquiry, due: date) -> Order:
        """An enquiry as an order of the planner's."""
        item = self.world.items[enquiry.item]
        kind = "hot" if enquiry.hot else "normal"
        here = day_of(enquiry.day + enquiry.material_days)
        return Order(enquiry.number, "customer", item.part, enquiry.quantity, due, kind, material_date=here)

    def shop(self, truth: Truth, more: Iterable[Order] = ()) -> Shop:
        """What the planner may know this morning: progress, who and what is not there, the orders, and ``more``."""
        basis = on_day(self.world.shop, self.day)
        orders = [self.order(taken.enquiry, day_of(taken.due_day)) for taken in self.orders.values()]
        return replace(
            basis,
            orders={order.number: order for order in (*orders, *more)},
            batches={name: _open_batch(name, batch) for name, batch in self.batches.items()},
            machines={name: self._told(machine, truth) for name, machine in basis.machines.items()},
            people={name: self._here(person, truth) for name, person in basis.people.items()},
        )

    def true_shop(self, told: Shop, truth: Truth) -> Shop:
        """The same with the breakdowns as they really are until the next working day."""
        begin, end = opening(self.day), opening(self.day + 1)
        machines = {
            name: replace(
                machine,
                downtime=tuple(Absence(d.start, d.end, "breakdown") for d in truth.down_at(name, begin, end)),
            )
            for name, machine in told.machines.items()
        }
        return replace(told, machines=machines)

    def _told(self, machine: Machine, truth: Truth) -> Machine:
        if machine.name in self.set_up:
            part, number = self.set_up[machine.name]
            machine = replace(machine, on_part=part, on_operation=number)
        now = opening(self.day)
        said = [down.said for down in truth.down_at(machine.name, now, now + timedelta(minutes=1))]
        if said:
            until = max(*said, now + REPAIR_LEAST)
            machine = replace(machine, downtime=(Absence(now, until, "breakdown"),))
        return machine

    def _here(self, person: Person, truth: Truth) -> Person:
        if not truth.absent(person.name, self.day):
            return person
        now = opening(self.day)
        return replace(person, leave=(Absence(now, now + AWAY, "away"),))


def _open_batch(name: str, batch: Released) -> OpenBatch:
    rows = tuple(_progress(batch, number, live) for number, live in sorted(batch.steps.items()))
    return OpenBatch(name, batch.part, batch.quantity, batch.order, progress=rows)


def _progress(batch: Released, number: int, live: Live) -> Progress:
    if live.done:
        return Progress(number, "done", good=batch.quantity)
    if live.collected is not None:
        return Progress(number, "out", collected=live.collected)
    made = batch.quantity * live.run_min // max(1, live.run_min + live.run_left_min)
    good = min(made, batch.quantity - 1)
    return Progress(number, "running", machine=live.machine, setup_left_min=live.told_setup_min, good=good)
