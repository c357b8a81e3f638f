"""Outside firms: which collections there are, and when what goes with them is back.

The day of collection is day 0. Work is ready at the collection's clock time on the firm's
n-th working day after (its calendar says which days those are), and comes back with the first
delivery at or after that. Neither van runs on a day on which the firm or the shop is closed.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache

from planner import shop, worktime
from planner.explode.clock import Clock
from planner.work import Run, Service, Trip


@dataclass(frozen=True)
class Outside:
    services: tuple[Service, ...]
    runs: tuple[Run, ...]


def outside_of(shop_: shop.Shop, clock: Clock) -> Outside:
    """A service for each (supplier, process), with all collections whose return is known."""
    services: list[Service] = []
    runs: list[Run] = []
    for _, supplier in sorted(shop_.suppliers.items()):
        found = _of_supplier(supplier, shop_.calendars[supplier.calendar], clock, len(runs))
        services += found.services
        runs += found.runs
    return Outside(tuple(services), tuple(runs))


@lru_cache(maxsize=64)
def _of_supplier(supplier: shop.Supplier, calendar: shop.Calendar, clock: Clock, first_run: int) -> Outside:
    """Kept, because a shop is exploded for every question that is asked."""
    vans = _vans(supplier, calendar, clock)
    return Outside(
        tuple(
            Service(
                supplier.name,
                p.name,
                _trips(supplier, calendar, p, vans, first_run, clock),
                p.minimum_pence,
                p.line_fee_pence,
            )
            for p in sorted(supplier.processes, key=lambda p: p.name)
        ),
        tuple(Run(supplier.name, clock.minute(collect), c.capacity_pieces) for collect, c in vans),
    )


def _vans(supplier: shop.Supplier, calendar: shop.Calendar, clock: Clock) -> list[tuple[datetime, shop.Collection]]:
    """Collections from the plan start to the end of the known calendars, in order of time."""
    found = []
    for day in worktime.days(clock.today, calendar.known_to):
        for c in sorted(supplier.collections, key=lambda c: c.collect):
            collect, cutoff = datetime.combine(day, c.collect), datetime.combine(day, c.cutoff)
            if (
                _comes_on(c, day)
                and runs_on(calendar, day, clock)
                and min(clock.minute(collect), clock.minute(cutoff)) >= 0
            ):
                found.append((collect, c))
    return found


def _comes_on(van: shop.Collection | shop.WeeklyTime, day: date) -> bool:
    return van.weekday == day.weekday() if van.day is None else van.day == day


def runs_on(calendar: shop.Calendar, day: date, clock: Clock) -> bool:
    return worktime.works_on(calendar, day) and clock.open_on(day)


def _trips(
    supplier: shop.Supplier,
    calendar: shop.Calendar,
    process: shop.Process,
    vans: list[tuple[datetime, shop.Collection]],
    first_run: int,
    clock: Clock,
) -> tuple[Trip, ...]:
    trips = []
    for run, (collect, c) in enumerate(vans, first_run):
        ready = _ready(calendar, process, collect)
        back = _delivery(supplier, calendar, ready, clock) if ready else None
        if ready and back:
            cutoff = datetime.combine(collect.date(), c.cutoff)
            trips.append(
                Trip(clock.minute(cutoff), clock.minute(collect), clock.minute(ready), clock.minute(back), run)
            )
    return tuple(trips)


def _ready(calendar: shop.Calendar, process: shop.Process, collected: datetime) -> datetime | None:
    day = worktime.working_day_after(calendar, collected.date(), process.turn_days)
    return datetime.combine(day, collected.time()) if day else None


def _delivery(supplier: shop.Supplier, calendar: shop.Calendar, earliest: datetime, clock: Clock) -> datetime | None:
    """First delivery at or after a local moment; None beyond the known calendars."""
    for day in worktime.days(earliest.date(), calendar.known_to):
        for delivery in sorted(supplier.deliveries, key=lambda d: d.at):
            at = datetime.combine(day, delivery.at)
            if _comes_on(delivery, day) and at >= earliest and runs_on(calendar, day, clock):
                return at
    return None


def back_from(
    shop_: shop.Shop, operation: shop.Operation, collected: datetime, clock: Clock
) -> tuple[int | None, bool]:
    """When work that was collected earlier is back, and whether it should have been back already.

    Overdue work is taken to come with the next delivery. None: not within the known calendars.
    """
    supplier = shop_.suppliers[operation.supplier or ""]
    calendar = shop_.calendars[supplier.calendar]
    process = next(p for p in supplier.processes if p.name == operation.process)
    ready = _ready(calendar, process, collected)
    back = _delivery(supplier, calendar, ready, clock) if ready else None
    overdue = back is not None and clock.minute(back) < 0
    if overdue:
        back = _delivery(supplier, calendar, clock.now, clock)
    return (clock.minute(back) if back else None), overdue
