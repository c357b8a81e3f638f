"""A bound from prices for machine time: each order for itself, but paying for the hours that it takes.

A machine does one thing at a time. Give each hour of each machine a price; let every order, alone in the shop, choose
the times and machines for which its weighted minutes late and what it pays come to least; take away what all open
hours would earn if sold. Whatever the prices, no plan with one thing at a time on each machine has less weighted
lateness than that (Lagrangian relaxation of machine capacity: Fisher, Operations Research 21:1114-1127, 1973; Luh
and Hoitomt, IEEE Transactions on Automatic Control 38:1066-1079, 1993). Good prices are found by raising them where orders would
overlap and lowering them where hours stay free (subgradient steps after Polyak, USSR Computational Mathematics and
Mathematical Physics 9(3):14-29, 1969, each going on partly in the direction of the last: Camerini, Fratta and
Maffioli, Mathematical Programming Study 3:26-34, 1975).

Prices are looked for on a wide grid of time; the bound itself is worked out to the minute and in whole numbers.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from planner.plan import Bound
from planner.search.bound import order_alone_bound
from planner.search.bound_kernel import fill_open, fill_prices, least_costs
from planner.search.bound_trees import Trees, build_trees
from planner.search.bound_ways import Ways
from planner.timetable.lines import Lines
from planner.timetable.timetable import Timetable

KIND = "every order at its best, paying for the machine hours that others want too; people and equipment free"
UNIT = 1024  # prices are whole numbers of this part of a weighted minute
WIDEST_BUCKET = 60  # open minutes of a machine that have one price
BUCKETS_A_JOB = 4  # in the middle one of all ways
GRIDS = (1, 5, 15, 30)  # minutes, finest first
STEPS_A_ROUND = 10_000_000  # starts times ways: the finest grid with no more than that is taken
CELLS = 30_000_000  # machines times minutes: with more there is no room for working out to the minute
TREE_CELLS = 60_000_000  # steps of the largest order, with all its components, times minutes: the same
FIRST_HOPE = 0.2  # of the gap to the plan's cost, that a step is to gain
MOST_HOPE = 0.6  # of that gap
HIGHER, LOWER = 1.1, 0.6  # the hope becomes, with each round that was better, and after
PATIENCE = 15  # rounds that were not
KEPT = 0.8  # of the last direction
FIRST_CHECK = 10  # rounds before the first bound to the minute; twice as many before the next, and so on
CHECK_ROUNDS = 80  # between two, later on
WORTH = 1e-4  # of the bound: gains on the wide grid smaller than that are not worked out to the minute
MOST_PAID = 1 << 46  # units for all hours together: sums over all operations still fit an integer


class Ground(NamedTuple):
    """What the compiled functions need of trees, ways and collections; see :class:`Trees` and :class:`Ways`."""

    node: np.ndarray
    need: np.ndarray
    tree_lo: np.ndarray
    due: np.ndarray
    due_lo: np.ndarray
    way: np.ndarray
    move_line: np.ndarray
    machine_line: np.ndarray
    lines: Lines
    trip: np.ndarray
    trip_lo: np.ndarray
    run_room: np.ndarray


@dataclass
class Answer:
    """``value`` in units, and by machine and bucket the minutes that all orders' choices take."""

    value: int
    use: np.ndarray


class Sale:
    """Least costs of all trees at given prices, on one grid of time.

    Parameters
    ----------
    horizon
        Time after which no hour has a price (minutes).
    grid
        Minutes between two moments. Only with 1 is ``value`` a bound.
    width
        Open minutes of a machine in one bucket.
    reach
        By tree, how far to look at first (minutes); put right where it is too short.
    choices
        Is it asked what everybody chooses, or only what it comes to?
    """

    def __init__(
        self, ground: Ground, trees: Trees, horizon: int, grid: int, width: int, reach: np.ndarray | None = None, choices: bool = True,
    ) -> None:  # fmt: skip
        self.ground, self.trees, self.grid, self.width = ground, trees, grid, width
        many, n = len(ground.machine_line), horizon // grid + 4
        self._open = np.zeros((many, n), np.int64)
        fill_open(ground, self._open, grid)
        self._price = np.zeros((many, n), np.int64)
        self._cost = np.zeros((trees.largest, n), np.int64)
        self._chosen = np.zeros((trees.largest if choices else 0, n), np.int64)
        self._begin = np.minimum(trees.begin // grid, n - 4)
        self._reach = np.full(len(trees.begin), n, np.int64)
        if reach is not None:
            self._reach = np.clip(reach // grid + 2, self._begin + 2, n)
        self._cursor, self._stack = np.zeros(10, np.int64), np.zeros((trees.largest + 1, 2), np.int64)
        edges = width * np.arange(int(self._open.max(initial=0)) // width + 1)
        self.capacity = np.clip(self._open[:, -1:] - edges, 0, width)

    def reach_min(self) -> np.ndarray:
        """By tree, how far it was worth looking."""
        return self._reach * self.grid

    def at(self, rate: np.ndarray) -> Answer:
        """Everybody chooses at ``rate``: whole units a minute, by machine and bucket."""
        use = np.zeros_like(self.capacity)
        fill_prices(self._open, rate, self.width, self._price)
        total = least_costs(
            self.ground, self._price, self._open, self._cost, self._chosen, use, self.width, self._cursor,
            self._stack, self.grid, UNIT, self._begin, self._reach,
        )  # fmt: skip
        return Answer(int(total) + UNIT * self.trees.constant - int((rate * self.capacity).sum()), use)


class PriceBound:
    """A bound that gets better with every round. ``bound`` is the best so far.

    Parameters
    ----------
    table
        Of the work; what it holds does not matter and is not changed.
    horizon
        When a fair plan is over (minutes): hours after it have no price.
    """

    def __init__(self, table: Timetable, horizon: int) -> None:
        self.bound: Bound = order_alone_bound(table)
        self.rounds = 0
        ways = Ways(table)
        self.trees = build_trees(table, ways)
        data, t = table.data, self.trees
        self.ground = Ground(
            t.node, t.need, t.tree_lo, t.due, t.due_lo, ways.way, ways.move_line, ways.machine_line, ways.lines,
            data.trip, data.trip_lo, data.run_room,
        )  # fmt: skip
        self._horizon, self.width = horizon, _bucket_min(ways)
        small = len(ways.machine_line) * horizon <= CELLS and t.largest * horizon <= TREE_CELLS
        self._useful = len(t.due_lo) > 1 and small
        if self._useful:
            self._get_going(horizon)

    def _get_going(self, horizon: int) -> None:
        work, width = len(self.ground.way) * horizon, self.width
        grid = next((g for g in GRIDS if work <= g * STEPS_A_ROUND or 2 * g > width), GRIDS[-1])
        self._wide = Sale(self.ground, self.trees, horizon, grid, width)
        self._fine: Sale | None = None
        self._rate = np.zeros(self._wide.capacity.shape)
        self._way = np.zeros_like(self._rate)  # direction of the last step
        self._dearest = MOST_PAID / (UNIT * max(1, int(self._wide.capacity.sum())))
        self._best_rate, self._best = self._rate.copy(), -np.inf
        self._checked = -np.inf
        self._hope, self._stale, self._next_check = 0.0, 0, FIRST_CHECK

    def run(self, rounds: int, cost: int, over: Callable[[], bool] = lambda: False) -> Bound:
        """Go on for so many rounds.

        Parameters
        ----------
        cost
            First-tier cost of a plan: there is no use in going beyond.
        over
            Asked before each round, which may take a second or two where there is much: True ends them.
        """
        for _ in range(rounds if self._useful else 0):
            if self.bound.value >= cost or over():
                break
            self._round(cost)
            if self.rounds >= self._next_check:
                self._next_check += min(self.rounds, CHECK_ROUNDS)
                self.check()
        return self.bound

    def _round(self, cost: int) -> None:
        """One step along the prices."""
        answer = self._wide.at(np.rint(self._rate * UNIT).astype(np.int64))
        value = answer.value / UNIT
        if not self.rounds:
            self._checked = value  # without prices this is what each order alone comes to, up to the wide grid
            self._hope = FIRST_HOPE * max(1, cost - self.bound.value)
        self.rounds += 1
        wanted = (answer.use - self._wide.capacity).astype(np.float64)
        floor = self._rate <= 0
        wanted[floor & (wanted < 0)] = 0
        self._way = KEPT * self._way + wanted
        if value > self._best:
            self._best, self._best_rate, self._stale = value, self._rate, 0
            self._hope = min(self._hope * HIGHER, MOST_HOPE * max(1, cost - self.bound.value))
        elif self._stale >= PATIENCE:
            self._hope, self._stale = self._hope * LOWER, 0
        else:
            self._stale += 1
        way = np.where((self._rate <= 0) & (self._way < 0), 0, self._way)
        length = max(0.0, self._best + self._hope - value) / max(1.0, float((way**2).sum()))
        self._rate = np.clip(self._rate + length * way, 0, self._dearest)

    def check(self) -> Bound:
        """Work the best prices out to the minute, if they promise more than the last time."""
        if self.rounds and self._best > self._checked + WORTH * abs(self._checked):
            if self._fine is None:
                reach = self._wide.reach_min()
                self._fine = Sale(self.ground, self.trees, self._horizon, 1, self.width, reach, choices=False)
            rate = np.zeros(self._fine.capacity.shape, np.int64)
            n = min(rate.shape[1], self._best_rate.shape[1])
            rate[:, :n] = np.rint(self._best_rate[:, :n] * UNIT)
            value = -(-self._fine.at(rate).value // UNIT)
            self._checked = self._best
            if value > self.bound.value:
                self.bound = Bound(value, KIND)
        return self.bound


def _bucket_min(ways: Ways) -> int:
    """Open minutes in a bucket: a fraction of a usual piece of work, at most an hour."""
    way = ways.way
    minutes = (way["hand_min"] + way["first_min"] + way["run_min"])[way["has_length"] == 1]
    usual = int(np.median(minutes)) if len(minutes) else 0
    return min(WIDEST_BUCKET, max(1, usual // BUCKETS_A_JOB))
