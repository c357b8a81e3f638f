"""Better and better bounds, by turns with the search and within a small share of its time.

The whole model first, where the work is small enough for it, each time with a larger limit; then rounds of prices.
"""

from __future__ import annotations

import time

import numpy as np

from planner.plan import Bound
from planner.search.bound import order_alone_bound
from planner.search.bound_prices import PriceBound
from planner.search.cpsat import Cpsat
from planner.search.whole import Whole
from planner.timetable.timetable import Timetable

SHARE = 0.1  # of the time of the search
ROUNDS = 4  # of prices in a turn
FIRST_LIMIT = 1.0  # of the first whole model, in the solver's measure (about seconds)
GROWS = 2.0  # the limit, from one to the next
EVERY = 3  # of so many turns one is for the whole model, while the work is small enough; fewer where it gains nothing

List = tuple[np.ndarray, np.ndarray]


class BoundTurns:
    """``bound`` is the best so far of any kind; ``spent`` the seconds that it took.

    The same turns with the same plans give the same bounds, whatever the clock says, unless ``seconds`` cuts one short.
    """

    def __init__(self, table: Timetable, cpsat: Cpsat) -> None:
        began, self._cpsat = time.monotonic(), cpsat
        self.bound: Bound = order_alone_bound(table)
        self._prices: PriceBound | None = None
        self._limit, self._turn = FIRST_LIMIT, 0
        self._next_whole, self._every = 0, EVERY
        self._small = True  # enough for the whole model
        self._open = True  # as far as is known, there may be something to gain
        self.spent = time.monotonic() - began

    def due(self, spent: float) -> bool:
        """Has the bound had less than its share of the ``spent`` seconds, and is it not met yet?"""
        return self._open and self.spent < SHARE * spent

    def turn(self, table: Timetable, seed: int, seconds: float | None = None) -> list[List]:
        """One turn. ``table`` holds the best plan so far.

        Returns
        -------
        list
            Lists with machine choices that the whole model found, to be timed: they may be better than what there is.
        """
        began, cost, found = time.monotonic(), table.cost().first, []
        self._open = self.bound.value < cost and not table.unplaced()
        if self._open:
            if self._small and self._turn == self._next_whole:
                found = self._whole(table, seed, seconds)
            else:
                self._price(table, cost)
            self._turn += 1
        self.spent += time.monotonic() - began
        return found

    def _whole(self, table: Timetable, seed: int, seconds: float | None) -> list[List]:
        model = Whole(table)
        self._small = model.possible
        found = model.solve(self._cpsat, self._limit, seed, seconds)
        self._limit *= GROWS
        if not self._keep(found.bound):
            self._every *= 2
        self._next_whole = self._turn + self._every
        return [found.as_list(table)] if found.start else []

    def _price(self, table: Timetable, cost: int) -> None:
        if self._prices is None:
            self._prices = PriceBound(table, int(table.ends()[table.list].max(initial=0)))
        self._keep(self._prices.run(ROUNDS, cost))

    def _keep(self, bound: Bound) -> bool:
        """Is it better?"""
        better = bound.value > self.bound.value
        if better:
            self.bound = bound
        return better
