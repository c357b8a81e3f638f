"""List search: change the priority list or a machine choice, time what that touches, and keep what lowers the
exact cost (with a falling chance of keeping what raises it a little).

Simulated annealing (Kirkpatrick, Gelatt and Vecchi, Science 220:671-680, 1983) with moves along what binds late
orders (van Laarhoven, Aarts and Lenstra, Operations Research 40:113-125, 1992), heated again and again.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.by_ref import by_ref
from planner.compiling import allocating, compiled, inner
from planner.search.moves import carry_out, make_window, take_back
from planner.search.pick import pick
from planner.timetable.changes import (
    T_CHANGE,
    T_LATE,
    T_LOST,
    T_PENCE,
    T_SETUP,
    T_WIP,
    begin,
    count_costs,
    make_touched,
    time_touched,
    undo,
)
from planner.timetable.timetable import Timetable

UNPLACED = 1 << 44  # cost of an operation that finds no place: more than any lateness
FIRST_HEAT = 0.3  # of what nine in ten of the moves that make the plan worse cost at least
NEXT_HEAT = 0.7  # of the temperature the last cooling began with
COLD = 1e-6  # temperature at which nothing worse is kept
HEAT_RANGE = 0.002  # of the starting temperature, at which a cooling ends
FIRST_COOLING = 60  # trials an operation in the first cooling; each lasts longer than the last
LONGER = 1.6
COLD_SHARE = 0.1  # of each cooling: at its end, from the best list, for the second tier
SECOND_SHARE = 0.2  # first-tier units that the whole second tier is worth while searching: it breaks ties only


@dataclass
class Climber:
    """The list search's running state. ``best`` and ``best_choice`` are its best list; costs are scalars
    (first tier plus a sliver of the second)."""

    table: Timetable
    sequence: np.ndarray
    choice: np.ndarray
    seed: int

    def __post_init__(self) -> None:
        self.touched, self.window = make_touched(self.table.data, self.table.state), make_window(self.table.data)
        self.weights = np.zeros(3)
        self._take(self.sequence, self.choice)
        self.weights = self._weights()
        self.cost = self.now_cost()
        self.best, self.best_choice, self.best_cost = self.sequence.copy(), self.choice.copy(), self.cost
        self._chunk = 0
        self.top_heat, self.cooling, self._done = 0.0, FIRST_COOLING * len(self.sequence), 0

    def now_cost(self) -> float:
        """Scalar cost of what the timetable holds."""
        count_costs(self.table.data, self.table.state, self.touched)
        return float(_scalar(self.touched, self.weights))

    def _weights(self) -> np.ndarray:
        """First-tier units a minute in progress, a setup minute and a penny are worth."""
        p = self.table.work.prices
        scale = SECOND_SHARE / max(1, self.table.cost().second)
        return np.array([p.wip_weight, p.setup_weight, p.charge_weight], np.float64) * scale

    def _take(self, sequence: np.ndarray, choice: np.ndarray) -> None:
        self.table.retime(sequence, choice, 0)
        fixed = _fixed_choice(self.table, choice)
        if (fixed != choice).any():
            self.table.retime(sequence, fixed, 0)
        self.sequence, self.choice = sequence.copy(), fixed

    def restart(self, sequence: np.ndarray, choice: np.ndarray) -> None:
        """Go on from another list."""
        self._take(sequence, choice)
        self.cost = self.now_cost()
        if self.cost < self.best_cost:
            self.best, self.best_choice, self.best_cost = self.sequence.copy(), self.choice.copy(), self.cost

    def run(self, trials: int) -> None:
        """``trials`` moves at a temperature that falls with each call and rises again when it has got low."""
        t, heat = self.table, self._heat(trials)
        self._chunk += 1
        self.restart(*self._by_start())
        first = self.top_heat == 0.0
        self.cost, self.best_cost, uphill = _climb(
            t.data, t.state, self.touched, self.window, self.sequence, self.choice, self.best, self.best_choice,
            self.cost, self.best_cost, trials, heat, (self.seed * 1_000_003 + self._chunk) % (1 << 31), self.weights,
            first,
        )  # fmt: skip
        t.list, t.choice = self.sequence.copy(), self.choice.copy()
        if first:
            self.top_heat = max(1.0, FIRST_HEAT * uphill)
        if t.state.full[0]:
            t.retime(self.sequence, self.choice, 0)
            self.touched = make_touched(t.data, t.state)

    def _by_start(self) -> tuple[np.ndarray, np.ndarray]:
        return self.sequence, self.choice

    def _heat(self, trials: int) -> float:
        """Temperature of the next trials (first-tier cost units): falling, cold for a while, and up again.

        The first call is cold and measures how much worse moves are that make it worse.
        """
        if self.top_heat == 0.0:
            return COLD
        share = self._done / self.cooling
        self._done += trials
        if share >= 1.0:
            self.top_heat = max(1.0, self.top_heat * NEXT_HEAT)
            self.cooling, self._done, share = int(self.cooling * LONGER), trials, 0.0
        if share >= 1.0 - COLD_SHARE:
            if share - trials / self.cooling < 1.0 - COLD_SHARE:
                self.restart(self.best, self.best_choice)
            return COLD
        return self.top_heat * HEAT_RANGE ** (share / (1.0 - COLD_SHARE))


def _fixed_choice(table: Timetable, choice: np.ndarray) -> np.ndarray:
    """Choices with every 'whichever ends soonest' replaced by what was taken (or the first, where nothing was)."""
    taken, op = table.choices_made(), table.data.op
    first = np.where((op["alt_lo"] < op["alt_hi"]) & (op["planned"] == 1) & (op["running"] == 0), op["alt_lo"], -1)
    return np.where(choice >= 0, choice, np.where(op["running"] == 1, -1, np.where(taken >= 0, taken, first)))


@compiled
def _scalar(ch, weights):
    t = ch.total
    if t[T_LOST] > 0:
        return float(t[T_LOST]) * UNPLACED
    return t[T_LATE] + t[T_CHANGE] + weights[0] * t[T_WIP] + weights[1] * t[T_SETUP] + weights[2] * t[T_PENCE]


@inner
def _fixed_places(data, cur):
    """Places at the head of the list that no move touches: begun work."""
    fixed = 0
    for i in range(len(cur)):
        if data.op[cur[i]].running == 1 or data.op[cur[i]].out == 1:
            fixed = i + 1
    return fixed


@inner
def _copy(source, to):
    for i in range(len(source)):
        to[i] = source[i]


@compiled
def _trials(
    data, st, ch, win, cur, choice, best, best_choice, cost, best_cost, trials, heat, seed, weights, uphill, many
):
    data, st, ch, win = by_ref(data), by_ref(st), by_ref(ch), by_ref(win)
    np.random.seed(seed)
    fixed = _fixed_places(data, cur)
    if len(cur) - fixed < 2:
        return cost, best_cost
    for _trial in range(trials):
        op, alt = pick(data, st, ch, win, cur, choice, fixed)
        if op < 0:
            continue
        begin(ch)
        carry_out(data, st, ch, win, cur, choice, op, choice[op] if alt == -2 else alt)
        time_touched(data, st, ch, cur, choice, win.at[0])
        value = _scalar(ch, weights)
        if value > cost + 0.5 and many[0] < len(uphill):
            uphill[many[0]] = value - cost
            many[0] += 1
        if st.full[0] == 0 and value <= cost - heat * np.log(1.0 - np.random.random()):
            cost = value
            if value < best_cost:
                best_cost = value
                _copy(cur, best)
                _copy(choice, best_choice)
            continue
        take_back(st, win, cur, choice)
        undo(data, st, ch)
        if st.full[0] == 1:
            break
    return cost, best_cost


@allocating
def _climb(
    data, st, ch, win, cur, choice, best, best_choice, cost, best_cost, trials, heat, seed, weights, measure
):  # fmt: skip
    uphill, many = np.zeros(trials if measure else 0), np.zeros(1, np.int64)
    cost, best_cost = _trials(
        data, st, ch, win, cur, choice, best, best_choice, cost, best_cost, trials, heat, seed, weights, uphill, many
    )
    n = many[0]
    return cost, best_cost, np.sort(uphill[:n])[n // 10] if n else 0.0
