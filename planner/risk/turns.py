"""How long outside firms take, in days that may differ, and when work is back after each."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta

from planner import shop, worktime
from planner.explode.clock import Clock
from planner.explode.outside import runs_on
from planner.risk.spread import ThreePoint, shrunk_days
from planner.risk.spreads import Turn
from planner.work import NEVER, Begun, Work

FIRST_DAYS = 366  # collections later than this come back as planned
LONGEST_TURN = 90


def days_of(process: shop.Process) -> ThreePoint:
    """Shortest, usual and longest turn in working days of the firm.

    Where the shop does not say: a day less than usual, and half as long again and a day (common practice, no source).
    """
    usual = process.turn_days
    low = max(0, usual - 1) if process.turn_low is None else process.turn_low
    high = usual + 1 + usual // 2 if process.turn_high is None else process.turn_high
    return ThreePoint(low, usual, high)


class Firm:
    """Working days and deliveries of one outside firm."""

    def __init__(self, supplier: shop.Supplier, calendar: shop.Calendar, clock: Clock, since: date) -> None:
        last = min(calendar.known_to, clock.today + timedelta(days=FIRST_DAYS + 3 * LONGEST_TURN))
        self._clock, self._all_known = clock, last == calendar.known_to
        self._days = worktime.working_days(calendar, since, last)
        self._deliveries = sorted(
            clock.minute(datetime.combine(day, d.at))
            for day in self._days
            for d in supplier.deliveries
            if d.weekday == day.weekday() and runs_on(calendar, day, clock)
        )

    def backs(self, collected: datetime, most: int) -> tuple[int, ...]:
        """When work collected at a local moment is back after 0, 1... ``most`` working days; ``NEVER`` when that is not
        known. Never before now: what should have come already comes with the next delivery."""
        first = bisect_right(self._days, collected.date()) - 1
        days = [collected.date(), *self._days[first + 1 : first + 1 + most]]
        known = [self._delivery(datetime.combine(day, collected.time())) for day in days]
        return tuple(known + [NEVER] * (most + 1 - len(known)))

    def _delivery(self, ready: datetime) -> int:
        at = bisect_left(self._deliveries, max(0, self._clock.minute(ready)))
        return self._deliveries[at] if at < len(self._deliveries) else NEVER


def turns_of(
    shop_: shop.Shop, work: Work, clock: Clock, booked: Mapping[tuple[str, str], Sequence[int]]
) -> tuple[dict[int, Turn], dict[int, Turn]]:
    """By service, and by operation that is at a firm at the plan start. ``booked``: working days by firm and process."""
    turns: dict[int, Turn] = {}
    out_turns: dict[int, Turn] = {}
    out = {op.index: op for op in work.operations if op.begun is Begun.OUT}
    since = clock.today - timedelta(days=FIRST_DAYS)
    for i, service in enumerate(work.services):
        supplier = shop_.suppliers[service.supplier]
        firm = Firm(supplier, shop_.calendars[supplier.calendar], clock, since)
        process = next(p for p in supplier.processes if p.name == service.process)
        days = shrunk_days(booked.get((service.supplier, service.process), ()), days_of(process))
        most = min(int(days.high), LONGEST_TURN)
        trips = [t for t in service.trips if t.collect_min < FIRST_DAYS * 1440]
        collected = [work.local(t.collect_min).replace(tzinfo=None, fold=0) for t in trips]
        turns[i] = Turn(days, tuple(firm.backs(moment, most) for moment in collected))
        for op in [op for op in out.values() if op.service == i]:
            moment = _collected(shop_, work.batches[op.batch].name, op.number)
            if moment is not None:
                out_turns[op.index] = Turn(days, (firm.backs(moment, most),))
    return turns, out_turns


def _collected(shop_: shop.Shop, batch: str, number: int) -> datetime | None:
    found = shop_.batches.get(batch)
    rows = [row for row in found.progress if row.operation == number] if found else []
    return rows[0].collected if rows else None
