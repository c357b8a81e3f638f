"""The solver's side of the search: small parts of the best plan placed anew, and the bound.

It has a timetable of its own, so that it can be at work in another thread while the list search goes on. Where small parts
have not gained anything for some seconds, most of the time goes to others: a second list search, which goes its own way from
another first plan, and the whole work as one model, where it is small enough for that.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable

import numpy as np

from planner.plan import Bound
from planner.search.bound_turns import BoundTurns, List
from planner.search.climb import UNPLACED, Climber
from planner.search.cpsat import Cpsat
from planner.search.freed import KINDS, around_what_costs
from planner.search.limit import Limit
from planner.search.lists import lists_of
from planner.search.pace import QUICK_CHUNK, Pace
from planner.search.solver import place_anew
from planner.search.starts import Starts
from planner.timetable import Timetable

SMALLEST, LARGEST = 50, 400  # operations that are freed at once at most, more while that is quick
SIZES = (0.4, 0.7, 1.0)  # of that, how many
TURN_SEC = 0.5  # the shortest turn where there is a time limit
FRUITLESS_SEC = 1.0  # of neighbourhoods without a gain, for each second of other turns to one of neighbourhoods
MOST_OTHERS = 4  # such seconds
# The longest solve of the whole model is half of what is left, or all of it where that is less than some seconds: then the
# bound and neighbourhoods have their turns in between.
MOST_LEFT, SHORT_SEC = 0.5, 5.0
# Seconds of the whole model, while it may find something, to one of the second list search. The nearer the bound is to the
# best plan, the better is the model at finding what is left to gain.
WHOLE, NEAR, WHOLE_NEAR = 0.25, 0.7, 4.0
ENOUGH = 1  # trials an operation in a turn of the list search: where a move takes so long that it makes fewer, it has no more


class Solving:
    """Turns of the solver. ``keeper.best`` is the best list it knows."""

    def __init__(self, table: Timetable, climber: Climber, seed: int, second: List | None = None) -> None:
        """``second``: what the second list search begins with (None: with the climber's best)."""
        self.table = table
        self.keeper = Climber(table, climber.best, climber.best_choice, seed, climber.weights)
        self.trials = 0  # of the second list search
        self._first = second or (climber.best.copy(), climber.best_choice.copy())
        self._second: Climber | None = None
        self._pace, self._quick = Pace(QUICK_CHUNK), True
        self._fruitless_sec, self._others_sec = 0.0, 0.0  # in neighbourhoods since one gained, and in other turns
        self._whole_sec, self._climbed_sec = 0.0, 0.0  # in all such turns, by kind
        self._cpsat = Cpsat()
        self._free = table.twin()  # the bound is of all plans, whatever is held back in these
        self._free.hold(np.zeros_like(table.held))
        self.bounds = BoundTurns(self._free, self._cpsat)
        self._starts: Starts | None = None
        self._rng = random.Random(seed)
        self._size = SMALLEST
        # what each kind of neighbourhood has gained lately, in turns that gained; and each size, in usual gains: small ones gain
        # as often, but less
        self._kinds_paid, self._sizes_paid, self._usual_gain = np.ones(len(KINDS)), np.ones(len(SIZES)), 0.0

    @property
    def bound(self) -> Bound:
        return self.bounds.bound

    def turn(self, limit: Limit) -> None:
        """One turn: the bound if it is due, then neighbourhoods of the best list known, or something else instead.

        Something else only where the limit is in seconds, as its share depends on how long it takes.
        """
        began = time.monotonic()
        if limit.seconds is None or self.bounds.due(2 * limit.spent):
            self._look(self.bounds.turn, limit.left)
        share = min(MOST_OTHERS, self._fruitless_sec // FRUITLESS_SEC)
        if limit.seconds is not None and self._others_sec < share * self._fruitless_sec and self._other(limit):
            return
        while self.keeper.best_cost < UNPLACED and self._free_some(limit):
            if limit.left is None or time.monotonic() - began > min(TURN_SEC, limit.left) or self._cpsat.stopped:
                break

    def _other(self, limit: Limit) -> bool:
        """A turn of the whole model or of the second list search; False where neither is of use."""
        began = time.monotonic()
        share = WHOLE_NEAR if self.bound.value >= NEAR * self.keeper.best_cost else WHOLE
        if self.bounds.may_find and (self._whole_sec < share * self._climbed_sec or not self._quick):
            left = limit.left or 0.0
            self._look(self.bounds.whole, min(left, max(SHORT_SEC, MOST_LEFT * left)))
            spent = time.monotonic() - began
            self._whole_sec += spent
        elif self._quick:
            self._climb(limit)
            spent = time.monotonic() - began
            self._climbed_sec += spent
        else:
            return False
        self._others_sec += spent
        return True

    def _climb(self, limit: Limit) -> None:
        """A turn of the second list search."""
        second = self._second = self._second or Climber(
            self.table.twin(), *self._first, self.keeper.seed + 1, self.keeper.weights
        )
        before, until = self.trials, time.monotonic() + min(TURN_SEC, limit.left or 0.0)
        while (began := time.monotonic()) < until and not self._cpsat.stopped:
            n = self._pace.chunk
            second.run(n)
            self.trials += n
            self._pace.took(n, time.monotonic() - began)
        self._quick = self.trials - before >= ENOUGH * len(second.best)
        self.keeper.learn(second)

    def stop(self) -> None:
        """Let the turn that is on, in another thread, come to its end soon; see :meth:`Cpsat.stop`."""
        self._cpsat.stop()

    def _back_to_best(self) -> None:
        self.keeper.restart(self.keeper.best, self.keeper.best_choice)

    def _look(self, turn: Callable[[Timetable, int, float | None], list[List]], seconds: float | None) -> None:
        """A turn for the bound or of the whole model, from the best list known; what it finds counts."""
        self._free.retime(self.keeper.best, self.keeper.best_choice, 0)
        for sequence, choice in turn(self._free, self._rng.randrange(1 << 30), seconds):
            self.keeper.restart(sequence, choice)

    def _free_some(self, limit: Limit) -> bool:
        """Place a small part of the best plan anew; it counts if the exact timetable says that it got better. False where
        there was nothing to place, as nothing is late or changed."""
        began = time.monotonic()
        self._starts = self._starts or Starts(self.table)
        self._back_to_best()
        before = self.keeper.best_cost
        kind = self._rng.choices(range(len(KINDS)), self._kinds_paid.tolist())[0]
        size = self._rng.choices(range(len(SIZES)), self._sizes_paid.tolist())[0]
        freed = around_what_costs(self.table, self._rng, round(SIZES[size] * self._size), KINDS[kind])
        seed = self._rng.randrange(1 << 30)
        moved = place_anew(self.table, self._starts, freed, self._cpsat, seed, limit.left) if freed else None
        quick = moved is not None and moved.spent < 0.5
        step = max(1, self._size // 8)
        if not quick:
            self._size = max(SMALLEST, self._size - step)
        elif SIZES[size] == max(SIZES):
            self._size = min(LARGEST, self._size + step)
        for sequence, choice in lists_of(self.table, moved) if moved else ():
            self.keeper.restart(sequence, choice)
        gain = before - self.keeper.best_cost
        gained = gain > 0.5
        if gained:
            self._fruitless_sec, self._others_sec = 0.0, 0.0
        else:
            self._fruitless_sec += time.monotonic() - began if freed else TURN_SEC
        if gained:
            self._usual_gain = 0.9 * self._usual_gain + 0.1 * gain if self._usual_gain else gain
        self._kinds_paid[kind] = 0.9 * self._kinds_paid[kind] + (1.0 if gained else 0.02)
        self._sizes_paid[size] = 0.9 * self._sizes_paid[size] + (gain / self._usual_gain if gained else 0.02)
        return bool(freed)
