"""How far an actual time is from its planned one: ratios of actual to planned, drawn from a chance between 0 and 1.

Each kind answers ``ratios(chance)``: an array of the same shape as ``chance``, which is evenly spread over [0, 1).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from types import ModuleType
from typing import Protocol

import numpy as np

# chances at which the inverse of a three-point distribution is worked out: the nearer to an end, the closer
CHANCES = (1 - np.cos(np.linspace(0, np.pi, 4097))) / 2
CREDIBLE = 20  # as many bookings weigh as much as what was assumed before


def _special() -> ModuleType:
    """scipy's special functions; loaded here, since every command would wait for them."""
    from scipy import special

    return special


class Spread(Protocol):
    """Draws ratios of actual to planned."""

    def ratios(self, chance: np.ndarray) -> np.ndarray:
        """Ratios for chances in [0, 1); the shape stays."""
        ...


@dataclass(frozen=True)
class Lognormal:
    """Lognormal with ``mean`` and a standard deviation of ``percent`` of it; 0 percent: always the mean."""

    percent: float = 0.0
    mean: float = 1.0

    def ratios(self, chance: np.ndarray) -> np.ndarray:
        """Moments as in any text: variance of the logarithm ln(1 + cv^2), so that the mean stays."""
        if self.percent <= 0:
            return np.full(chance.shape, self.mean)
        variance = np.log1p((self.percent / 100) ** 2)
        return self.mean * np.exp(_special().ndtri(chance) * np.sqrt(variance) - variance / 2)


@dataclass(frozen=True)
class ThreePoint:
    """Beta-PERT (or triangular) between ``low`` and ``high`` with its mode at ``likely``; all are ratios or all days.

    Beta-PERT has the mean (low + 4 likely + high) / 6 (Malcolm et al., Operations Research 7:646-669, 1959) and, as a beta
    distribution, the variance (mean - low)(high - mean) / 7.
    """

    low: float
    likely: float
    high: float
    triangular: bool = False

    def __post_init__(self) -> None:
        if not self.low <= self.likely <= self.high:
            raise ValueError(f"low, likely and high must rise, not {self.low}, {self.likely}, {self.high}")

    @property
    def _peak(self) -> float:
        """Where between low (0) and high (1) the mode is."""
        return (self.likely - self.low) / (self.high - self.low)

    def ratios(self, chance: np.ndarray) -> np.ndarray:
        if self.low == self.high:
            return np.full(chance.shape, self.low)
        return np.interp(chance, CHANCES, _quantiles(self))

    def up_to(self, value: np.ndarray) -> np.ndarray:
        """Chance of at most each value."""
        if self.low == self.high:
            return (value >= self.low).astype(float)
        at, peak = np.clip((value - self.low) / (self.high - self.low), 0, 1), self._peak
        if self.triangular:
            return np.where(at < peak, at**2 / (peak or 1), 1 - (1 - at) ** 2 / (1 - peak or 1))
        return _special().betainc(1 + 4 * peak, 5 - 4 * peak, at)


@lru_cache(maxsize=512)
def _quantiles(points: ThreePoint) -> np.ndarray:
    peak = points._peak
    if points.triangular:
        at = np.where(peak > CHANCES, np.sqrt(CHANCES * peak), 1 - np.sqrt((1 - CHANCES) * (1 - peak)))
    else:
        at = _special().betaincinv(1 + 4 * peak, 5 - 4 * peak, CHANCES)
    return points.low + (points.high - points.low) * at


@dataclass(frozen=True)
class BookedDays:
    """A ``share`` of the draws takes whole days as they were ``booked`` (sorted), each as likely as any; the rest ``otherwise``."""

    booked: tuple[int, ...]
    share: float = 1.0
    otherwise: ThreePoint | None = None

    @property
    def low(self) -> float:
        return self.booked[0] if self.otherwise is None else min(self.booked[0], self.otherwise.low)

    @property
    def high(self) -> float:
        return self.booked[-1] if self.otherwise is None else max(self.booked[-1], self.otherwise.high)

    def up_to(self, value: np.ndarray) -> np.ndarray:
        """Chance of at most each value."""
        booked = np.searchsorted(np.array(self.booked), value, side="right") / len(self.booked)
        return (
            booked if self.otherwise is None else self.share * booked + (1 - self.share) * self.otherwise.up_to(value)
        )


@dataclass(frozen=True)
class AsBooked:
    """A ``share`` of the draws takes one of the ``booked`` ratios (sorted), each as likely as any; the rest ``otherwise``."""

    booked: tuple[float, ...]
    share: float
    otherwise: Spread

    def ratios(self, chance: np.ndarray) -> np.ndarray:
        booked = np.array(self.booked)
        at = np.minimum((chance / self.share * len(booked)).astype(np.int64), len(booked) - 1)
        if self.share >= 1:
            return booked[at]
        rest = self.otherwise.ratios(np.clip((chance - self.share) / (1 - self.share), 0, np.nextafter(1, 0)))
        return np.where(chance < self.share, booked[at], rest)


def shrunk(booked: Sequence[float], before: Spread) -> Spread:
    """What was booked, mixed with what was assumed ``before`` by n / (n + 20): few bookings change little.

    The weight is that of credibility theory (Buehlmann, ASTIN Bulletin 4:199-207, 1967); its constant of 20 is common
    practice, no source.
    """
    if not booked:
        return before
    return AsBooked(tuple(sorted(booked)), len(booked) / (len(booked) + CREDIBLE), before)


def shrunk_days(booked: Sequence[int], before: ThreePoint) -> ThreePoint | BookedDays:
    """The same of whole days."""
    if not booked:
        return before
    return BookedDays(tuple(sorted(booked)), len(booked) / (len(booked) + CREDIBLE), before)
