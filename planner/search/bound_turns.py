"""Better and better bounds, by turns with the search and within a small share of its time.

The whole model first, where the work is small enough for it, with larger and larger limits; then rounds of prices, and by turns with
them what people have to do, as long as there is a skill that has not been looked at.
The search may ask for more of the whole model than that: what it finds is often a better plan too.
"""

from __future__ import annotations

import time
from functools import partial

import numpy as np

from planner.plan import Bound
from planner.search.bound import order_alone_bound
from planner.search.bound_people import PeopleBound, Pool, pools
from planner.search.bound_prices import PriceBound
from planner.search.cpsat import Cpsat
from planner.search.whole import Whole
from planner.timetable.timetable import Timetable

SHARE = 0.1  # of the time of the search
MOST_WHOLE = 0.25  # of the time that is left, for a whole model that the search has not asked for
ROUNDS = 4  # of prices in a turn
# Limit of the first whole model, in the solver's measure, and how it grows from one to the next.
FIRST_LIMIT, GROWS = 1.0, 2.0
# Where there is a limit of time: what a long solve has learned is worth more than many short ones. After the first, each
# limit is given twice: near the best plan, then free of it.
TIMED_FIRST, TIMED_GROWS = 0.2, 10.0
EVERY = 3  # of so many turns one is for the whole model, while the work is small enough; fewer where it gains nothing

List = tuple[np.ndarray, np.ndarray]


class BoundTurns:
    """``bound`` is the best so far of any kind; ``spent`` the seconds that its turns took.

    The same turns with the same plans give the same bounds, whatever the clock says, unless ``seconds`` cuts one short.
    """

    def __init__(self, table: Timetable, cpsat: Cpsat) -> None:
        began, self._cpsat = time.monotonic(), cpsat
        self.bound: Bound = order_alone_bound(table)
        self._prices: PriceBound | None = None
        self._people: PeopleBound | None = None
        self._pools: list[Pool] = pools(table.work)  # still to be looked at
        self._turn, self._asked = 0, 0  # turns; whole models
        self._next_whole, self._every = 0, EVERY
        self._small = True  # enough for the whole model
        self._true = True  # as far as is known, what the whole model finds better is better
        self._open = True  # as far as is known, there may be something to gain
        self.spent = time.monotonic() - began

    @property
    def may_find(self) -> bool:
        """May the whole model find a better plan, given more time?"""
        return self._open and self._small and self._true

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
        began, cost = time.monotonic(), table.cost().first
        found: list[List] = []
        if table.unplaced():
            return found  # there is no cost to gain from yet
        self._open = self.bound.value < cost
        if self._open:
            # With seconds, the search asks for further whole models itself, as long as they may find something.
            wanted = seconds is None or self._turn == 0 or not self._true
            if wanted and self._small and self._turn >= self._next_whole:
                before = self.bound.value
                found = self.whole(table, seed, None if seconds is None else MOST_WHOLE * seconds)
                if self.bound.value == before:
                    self._every *= 2
                self._next_whole = self._turn + self._every
            elif self._pools and self._turn % 2:
                self._people = self._people or PeopleBound(table)
                self._keep(self._people.of(self._pools.pop(0)))
            else:
                self._price(table, cost, None if seconds is None else began + seconds)
            self._turn += 1
        self.spent += time.monotonic() - began
        return found

    def whole(self, table: Timetable, seed: int, seconds: float | None = None) -> list[List]:
        """The whole model, with a larger limit than before (or the same, free of the plan); see :meth:`turn`.

        ``table`` is left with what it found."""
        cost, model = table.cost().first, Whole(table)
        self._small = model.possible
        step, again = (self._asked, 0) if seconds is None else divmod(self._asked + 1, 2)
        limit = FIRST_LIMIT * GROWS**step if seconds is None else TIMED_FIRST * TIMED_GROWS**step
        found = model.solve(self._cpsat, limit, seed, seconds, near=not (step and again))
        self._asked += 1
        self._keep(found.bound)
        if not found.start:
            return []
        best = found.as_list(table)
        lost = table.retime(*best, 0)
        if found.cost < cost:  # it promised something; if not, its order may still turn out better when timed
            self._true = not lost and table.cost().first < cost
        return [best]

    def _price(self, table: Timetable, cost: int, until: float | None) -> None:
        if self._prices is None:
            self._prices = PriceBound(table, int(table.ends()[table.list].max(initial=0)))
        self._keep(self._prices.run(ROUNDS, cost, partial(self._over, until)))

    def _over(self, until: float | None) -> bool:
        """Is it past that moment, or is the search to stop?"""
        return self._cpsat.stopped or (until is not None and time.monotonic() >= until)

    def _keep(self, bound: Bound) -> None:
        if bound.value > self.bound.value:
            self.bound = bound
