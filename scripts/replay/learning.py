"""What the planner learns, and from what: only what the shop has booked.

Setup and run times go through ``Spreads.learned``; breakdowns, absences, missed vans and turns of the outside firm are
counted and entered where a shop would enter them, in its tables.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field, replace

import numpy as np

from planner.risk import Booked, BookedDays, Lognormal, Spreads, spreads_of
from planner.risk.allowance import Station, station_of
from planner.risk.common import common_of
from planner.risk.record import Record
from planner.risk.spreads import RUN, SETUP
from planner.shop import Shop
from planner.work import Kind, Work
from replay.working import Ended
from replay.world import NIGHT_MIN, WEEK_DAYS, promise_day

KEPT = 1200  # bookings of setups and runs that are remembered
EVERY_DAYS = 20  # between two looks at them
ENOUGH = 30  # turns of the outside firm before they are believed
SHIFT_H = 8
OPEN_MIN = {"day": 480, "night": 480 + NIGHT_MIN}  # run minutes of a day, by calendar
QUOTES = 1000  # quotes that are remembered
AGE_DAYS = 45  # a quote is looked at when nearly all of its time are ready, so that the quick ones do not count alone


@dataclass
class Outcome:
    """A quote of ``day`` and the chance its draws gave for the last day before the order was ready (None: not ready yet)."""

    day: int
    outside: bool
    reached: float | None = None


@dataclass
class Bookings:
    """What was booked so far. ``days`` is how long; ``down_min`` [breakdown], ``turn_days`` [outside step]."""

    times: deque[Ended] = field(default_factory=lambda: deque(maxlen=KEPT))
    turn_days: deque[int] = field(default_factory=lambda: deque(maxlen=KEPT))
    down_min: list[int] = field(default_factory=list)
    away_days: int = 0
    vans: int = 0
    missed: int = 0
    days: int = 0
    quotes: deque[Outcome] = field(default_factory=lambda: deque(maxlen=QUOTES))
    _spreads: Spreads | None = None
    _looked: int = -EVERY_DAYS

    def add(self, ended: tuple[Ended, ...]) -> None:
        for row in ended:
            if row.kind is Kind.OUTSIDE:
                self.turn_days.append(_turn_days(row))
            else:
                self.times.append(row)

    def shop(self, shop: Shop) -> Shop:
        """The shop's tables with what was counted."""
        running = [m for m in shop.machines.values() if shop.groups[m.group].setup_skill]
        hours = SHIFT_H * self.days * len(running)
        between = round(hours / (1 + len(self.down_min))) if self.down_min else shop.settings.breakdown_hours
        repair = max(1, round(float(np.mean(self.down_min)) / 60)) if self.down_min else shop.settings.repair_hours
        settings = shop.settings
        if self.days > EVERY_DAYS:
            people_days = self.days * len(shop.people)
            settings = replace(
                settings,
                breakdown_hours=between, repair_hours=repair,
                absence_days=round(225 * self.away_days / people_days),
                missed_collection_percent=round(100 * (self.missed + 0.5) / (self.vans + 10)),
            )  # fmt: skip
        high = max(self.turn_days, default=0)
        suppliers = {
            name: replace(s, processes=tuple(replace(p, turn_high=max(high, p.turn_days + 3)) for p in s.processes))
            for name, s in shop.suppliers.items()
        }
        return replace(shop, settings=settings, suppliers=suppliers)

    def spreads(self, shop: Shop, work: Work, day: int) -> Spreads:
        """Spreads of this work: times and turns as booked, the rest as the tables say."""
        made = spreads_of(shop, work)
        if self._spreads is None or day - self._looked >= EVERY_DAYS:
            self._spreads, self._looked = (
                replace(made, common=self._common() or made.common).learned(self._booked()),
                day,
            )
        made = replace(made, times=self._spreads.times, common=self._spreads.common)
        if len(self.turn_days) < ENOUGH:
            return made
        days = BookedDays(tuple(sorted(self.turn_days)))
        return replace(
            made,
            turns={i: replace(turn, days=days) for i, turn in made.turns.items()},
            out_turns={i: replace(turn, days=days) for i, turn in made.out_turns.items()},
        )

    def record(self, day: int, outside: bool) -> Record:
        """What became of the quotes of ``AGE_DAYS`` ago and before, those that are not ready yet included: of orders with
        outside work or of those without."""
        old = [(q.outside, 1.0 if q.reached is None else q.reached) for q in self.quotes if q.day <= day - AGE_DAYS]
        return Record.of_kind(old, outside)

    def stations(self, shop: Shop) -> dict[str, Station]:
        """Machine groups as queues, from how long what was booked held them."""
        if not self.times:
            return {}
        days = max(1, self.days - promise_day(self.times[0].began))
        found = {}
        for group in shop.groups:
            machines = [m for m in shop.machines.values() if m.group == group]
            open_min = sum(OPEN_MIN[m.calendar] for m in machines) * days
            held = [r.setup_min + r.run_min for r in self.times if r.group == group]
            station = station_of(len(machines), open_min, held)
            if station is not None:
                found[group] = station
        return found

    def _booked(self) -> list[Booked]:
        return [
            Booked(kind, planned, actual, r.first_time, r.group)
            for r in self.times
            for kind, planned, actual in _times(r)
        ]

    def _common(self) -> Lognormal | None:
        weeks: dict[int, list[float]] = {}
        for row in self.times:
            if row.standard_run_min > 0 and row.run_min > 0:
                week = promise_day(row.ended) // WEEK_DAYS
                weeks.setdefault(week, []).append(row.run_min / row.standard_run_min)
        return common_of(weeks.values())


def _turn_days(row: Ended) -> int:
    """Working days of the firm: it is collected in the afternoon, and what comes in the morning was ready the day before."""
    return promise_day(row.ended) - promise_day(row.began) - 1


def _times(row: Ended) -> tuple[tuple[str, int, int], ...]:
    return (SETUP, row.standard_setup_min, row.setup_min), (RUN, row.standard_run_min, row.run_min)
