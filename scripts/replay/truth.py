"""What really happens in the simulated shop. The planner never sees this module, only what comes of it.

Every random number is a function of the seed and of what it is about (a step of a batch, a week, a machine), never of the
order in which things are asked for: two ways of promising meet the same luck.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import lru_cache

import numpy as np

from replay.world import OPENS, WEEK_DAYS, day_of, opening

WEEKS = 60 * 52


@dataclass(frozen=True)
class Disturbance:
    """How large the disturbances are. All at 0 is a shop in which everything goes as planned.

    Times are multiplied by lognormal factors; a share ``tail_share`` of runs is multiplied once more, by 1 + 0.6 of a Lomax
    number of shape 2.5 (heavy tail). Slow weeks are an autoregressive series, the same for the whole shop.
    """

    run_sigma: float = 0.15
    setup_sigma: float = 0.3
    one_off_run_sigma: float = 0.4  # of parts made for the first time
    one_off_setup_sigma: float = 0.6
    part_sigma: float = 0.12  # of the standard time of a step, wrong every time it is made
    tail_share: float = 0.06
    week_sigma: float = 0.09
    week_memory: float = 0.6
    down_mean_days: float = 45.0  # between breakdowns of a machine; 0: none
    repair_median_h: float = 9.0
    repair_sigma: float = 0.9
    absent_share: float = 0.025  # of the days of a person
    missed_share: float = 0.04  # of collections that do not happen
    late_share: float = 0.15  # of outside work that misses the delivery it was expected with, once or more

    @staticmethod
    def none() -> Disturbance:
        return Disturbance(*[0] * 14)


@dataclass(frozen=True)
class Down:
    """A breakdown, and when the fitter says it will be over."""

    start: datetime
    end: datetime
    said: datetime
    repair_min: int  # worked on it


@dataclass(frozen=True)
class Truth:
    """The luck of one run."""

    seed: int
    size: Disturbance = field(default_factory=Disturbance)

    def _rng(self, *about: str | int) -> np.random.Generator:
        words = [zlib.crc32(a.encode()) if isinstance(a, str) else a for a in about]
        return np.random.default_rng([self.seed, 3, *words])

    def run_factor(self, batch: str, part: str, number: int, one_off: bool) -> float:
        """True run time of a step over its standard, without the week."""
        rng, sigma = self._rng("run", batch, number), self.size.one_off_run_sigma if one_off else self.size.run_sigma
        factor = float(np.exp(sigma * rng.standard_normal())) * self._part_factor(part, number)
        return factor * (1.0 + 0.6 * float(rng.pareto(2.5)) if rng.random() < self.size.tail_share else 1.0)

    def setup_factor(self, batch: str, number: int, one_off: bool) -> float:
        """True setup time of a step over its standard, without the week."""
        sigma = self.size.one_off_setup_sigma if one_off else self.size.setup_sigma
        return float(np.exp(sigma * self._rng("setup", batch, number).standard_normal()))

    def _part_factor(self, part: str, number: int) -> float:
        return float(np.exp(self.size.part_sigma * self._rng("part", part, number).standard_normal()))

    def week_factor(self, day: int) -> float:
        """How much longer everything takes in the week of a working day."""
        week = day // WEEK_DAYS
        return float(np.exp(_weeks(self.seed, self.size.week_sigma, self.size.week_memory)[week]))

    def absent(self, person: str, day: int) -> bool:
        return bool(self._rng("absent", person, day).random() < self.size.absent_share)

    def missed(self, supplier: str, collect: datetime) -> bool:
        """Does the van not come for this collection?"""
        return bool(self._rng("van", supplier, collect.toordinal()).random() < self.size.missed_share)

    def late_deliveries(self, batch: str, number: int) -> int:
        """By how many deliveries outside work is later than expected."""
        rng = self._rng("late", batch, number)
        return int(rng.geometric(0.7)) if rng.random() < self.size.late_share else 0

    def breakdowns(self, machine: str) -> tuple[Down, ...]:
        return _breakdowns(self, machine)

    def down_at(self, machine: str, begin: datetime, end: datetime) -> list[Down]:
        """Breakdowns that touch a span of time."""
        return [down for down in self.breakdowns(machine) if down.start < end and down.end > begin]


@lru_cache(maxsize=8)
def _weeks(seed: int, sigma: float, memory: float) -> np.ndarray:
    rng = np.random.default_rng([seed, 4])
    shocks = sigma * np.sqrt(1.0 - memory**2) * rng.standard_normal(WEEKS)
    series = np.zeros(WEEKS)
    for i in range(1, WEEKS):
        series[i] = memory * series[i - 1] + shocks[i]
    return series


@lru_cache(maxsize=64)
def _breakdowns(truth: Truth, machine: str) -> tuple[Down, ...]:
    """Of the whole run, in order; they begin on working days while somebody is there."""
    size = truth.size
    if size.down_mean_days <= 0:
        return ()
    rng = truth._rng("down", machine)
    found = []
    at = float(rng.exponential(size.down_mean_days))
    while at < WEEKS * WEEK_DAYS:
        day = int(at)
        start = opening(day) + timedelta(minutes=60 + round((at - day) * 480))
        hours = size.repair_median_h * float(np.exp(size.repair_sigma * rng.standard_normal()))
        said = hours * float(np.exp(0.4 * rng.standard_normal()))
        found.append(Down(start, _working(start, hours), _working(start, said), round(60 * hours)))
        at += hours / 8.0 + float(rng.exponential(size.down_mean_days))
    return tuple(found)


def _working(start: datetime, hours: float) -> datetime:
    """The end of so many hours of repair, of which eight are worked on a working day, to the minute."""
    days = (start.date() - day_of(0)).days
    number = days // 7 * WEEK_DAYS + days % 7
    left = round(60 * hours)
    today = datetime.combine(start.date(), OPENS) + timedelta(minutes=540)
    while (room := int((today - start).total_seconds()) // 60) < left:
        left -= room
        number += 1
        start, today = opening(number) + timedelta(minutes=60), opening(number) + timedelta(minutes=540)
    return start + timedelta(minutes=left)
