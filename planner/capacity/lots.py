"""Batch quantities as formulas: setup cost against the cost of stock.

F. W. Harris, *Factory, The Magazine of Management* 10(2), 1913; with a make rate: E. W. Taft, *Iron Age* 101, 1918.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, sqrt
from typing import TypeVar

import numpy as np

Amount = TypeVar("Amount", float, np.ndarray)


@dataclass(frozen=True)
class Lot:
    """One part's figures, in any units that agree: a unit of time for ``demand``, ``make_rate`` and ``holding``, one of money.

    Parameters
    ----------
    demand
        Pieces used in a unit of time.
    setup_cost
        Of one batch, whatever its quantity.
    holding
        Of one piece in stock for a unit of time.
    make_rate
        Pieces made in a unit of time while a batch runs; infinite: a batch comes all at once.
    """

    demand: float
    setup_cost: float
    holding: float
    make_rate: float = inf

    def __post_init__(self) -> None:
        if self.demand <= 0 or self.setup_cost < 0 or self.holding <= 0 or self.make_rate <= self.demand:
            raise ValueError(f"demand and holding must be above 0, and more be made than used: {self}")

    @property
    def building_up(self) -> float:
        """Share of what is made that goes to stock: 1 - demand / make rate."""
        return 1 - self.demand / self.make_rate

    @property
    def economic(self) -> float:
        """The batch at which setups and stock cost least together."""
        return sqrt(2 * self.demand * self.setup_cost / (self.holding * self.building_up))

    def peak_stock(self, batch: Amount) -> Amount:
        """The most there is in stock."""
        return batch * self.building_up

    def setups(self, batch: Amount) -> Amount:
        """Cost of setups in a unit of time."""
        return self.demand / batch * self.setup_cost

    def stock(self, batch: Amount) -> Amount:
        """Cost of stock in a unit of time."""
        return self.peak_stock(batch) / 2 * self.holding

    def cost(self, batch: Amount) -> Amount:
        """Cost of setups and stock in a unit of time."""
        return self.setups(batch) + self.stock(batch)

    def cycle(self, batch: float) -> float:
        """Time from one batch to the next."""
        return batch / self.demand

    def run(self, batch: float) -> float:
        """Time a batch runs."""
        return batch / self.make_rate


def cost_ratio(share: float) -> float:
    """Cost at ``share`` times the economic batch, as a multiple of the least cost: the curve is flat at its foot."""
    return (share + 1 / share) / 2


def hour_price(lots: Sequence[Lot], setup_hours: Sequence[float], hours: float) -> float | None:
    """Price of an hour at which the economic batches of all lots need no more setting than there are hours.

    Parameters
    ----------
    lots, setup_hours
        Each lot, and the hours one of its setups takes of the resource that is short.
    hours
        Hours a unit of time that are left for these setups.

    Returns
    -------
    float or None
        0 where they fit as they are; None where no hours are left at all.

    Notes
    -----
    A Lagrange multiplier, found by bisection: every setup is charged that much an hour more.
    """
    if hours <= 0:
        return None if any(setup_hours) else 0.0

    def needed(price: float) -> float:
        return sum(x.demand / dearer(x, price * h).economic * h for x, h in zip(lots, setup_hours, strict=True) if h)

    if needed(0) <= hours:
        return 0.0
    low, high = 0.0, 1.0
    while needed(high) > hours:
        low, high = high, 2 * high
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if needed(middle) > hours else (low, middle)
    return high


def dearer(lot: Lot, more: float) -> Lot:
    """The lot with so much more to pay for a setup."""
    return Lot(lot.demand, lot.setup_cost + more, lot.holding, lot.make_rate)
