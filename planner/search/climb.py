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
from planner.plan import Cost
from planner.search.moves import carry_out, make_window, take_back
from planner.search.pick import AS_NOW, pick
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
# A cooling begins at a share of what moves that make it worse cost (their geometric mean), and ends at a share of that.
WARM, WARMER, WARMEST = 0.004, 1.8, 1.0  # at the first, how much more at each later one, and the most
COOL = 0.05
STEADY = 0.1  # how fast the mean follows what is seen
FIRST_COOLING = 20  # trials an operation in the first cooling
LONGER = 1.6  # how much longer each later one is
COLD_SHARE = 0.05  # of each cooling: at its end, from the best list and keeping nothing worse, for the second tier
SECOND_SHARE = 0.2  # first-tier units that the whole second tier is worth while searching: it breaks ties only


@dataclass
class Climber:
    """The list search's running state. ``best`` and ``best_choice`` are its best list; costs are scalars
    (first tier plus a sliver of the second: ``weights``, by default of the first list)."""

    table: Timetable
    sequence: np.ndarray
    choice: np.ndarray
    seed: int
    weights: np.ndarray | None = None

    def __post_init__(self) -> None:
        self.touched, self.window = make_touched(self.table.data, self.table.state), make_window(self.table.data)
        self._take(self.sequence, self.choice)
        if self.weights is None:
            self.weights = self._weights()
        self.cost = self.best_cost = self.now_cost()
        self.best, self.best_choice, self.best_total = self.sequence.copy(), self.choice.copy(), self._total()
        self._chunk = 0
        self.uphill, self.warm = 0.0, WARM
        self.cooling, self._done = FIRST_COOLING * len(self.sequence), 0

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
            self.best, self.best_choice, self.best_total = self.sequence.copy(), self.choice.copy(), self._total()
            self.best_cost = self.cost

    def learn(self, other: Climber) -> bool:
        """Take over another's best list if it is better; what is being tried now stays. True if it was."""
        if other.best_cost >= self.best_cost:
            return False
        self.best, self.best_choice, self.best_total = (
            other.best.copy(),
            other.best_choice.copy(),
            other.best_total.copy(),
        )
        self.best_cost = other.best_cost
        return True

    def best_terms(self) -> Cost:
        """Named cost terms of the best list (of no meaning while something finds no place)."""
        total, p = self.best_total, self.table.work.prices
        return Cost(
            late=int(total[T_LATE]),
            change=int(total[T_CHANGE]),
            wip=int(total[T_WIP]) * p.wip_weight,
            setup=int(total[T_SETUP]) * p.setup_weight,
            charges=int(total[T_PENCE]) * p.charge_weight,
        )

    def _total(self) -> np.ndarray:
        return self.touched.total.copy()

    def run(self, trials: int) -> None:
        """``trials`` moves at a temperature that falls and, when it has got low, rises again."""
        while trials > 0:
            trials -= self._stretch(trials)

    def _stretch(self, trials: int) -> int:
        """Moves at a temperature that only falls, ``trials`` at most. How many."""
        t, cold_from = self.table, int(self.cooling * (1.0 - COLD_SHARE))
        if not (np.array_equal(t.list, self.sequence) and np.array_equal(t.choice, self.choice)):
            self.restart(self.sequence, self.choice)
        trials = min(trials, (cold_from if self._done < cold_from else self.cooling) - self._done)
        fall = COOL ** (1.0 / cold_from)
        heat = self.uphill * self.warm * fall**self._done if self._done < cold_from else 0.0
        self._chunk += 1
        self.cost, self.best_cost, uphill = _climb(
            t.data, t.state, self.touched, self.window, self.sequence, self.choice, self.best, self.best_choice,
            self.best_total, self.cost, self.best_cost, trials, heat, fall,
            (self.seed * 1_000_003 + self._chunk) % (1 << 31), self.weights,
        )  # fmt: skip
        t.list, t.choice = self.sequence.copy(), self.choice.copy()
        self.uphill += (uphill - self.uphill) * (STEADY if self.uphill else 1.0)
        if t.state.full[0]:
            t.retime(self.sequence, self.choice, 0)
            self.touched = make_touched(t.data, t.state)
            self.now_cost()
        self._turn(trials, cold_from)
        return trials

    def _turn(self, trials: int, cold_from: int) -> None:
        """Count ``trials``; from the best list where it gets cold, a warmer and longer cooling when one is over."""
        self._done += trials
        if self._done == cold_from:
            self.restart(self.best, self.best_choice)
        if self._done >= self.cooling:
            self.warm, self.cooling, self._done = min(WARMEST, self.warm * WARMER), int(self.cooling * LONGER), 0


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
    data, st, ch, win, cur, choice, best, best_choice, total, cost, best_cost, trials, heat, fall, seed, weights, worse
):
    data, st, ch, win = by_ref(data), by_ref(st), by_ref(ch), by_ref(win)
    np.random.seed(seed)
    fixed = _fixed_places(data, cur)
    if fixed == len(cur):
        return cost, best_cost
    for _trial in range(trials):
        op, alt = pick(data, st, ch, win, cur, choice, fixed)
        if op < 0:
            continue
        begin(ch)
        carry_out(data, st, ch, win, cur, choice, op, choice[op] if alt == AS_NOW else alt)
        time_touched(data, st, ch, cur, choice, win.at[0])
        heat *= fall
        value = _scalar(ch, weights)
        if value > cost + 0.5:
            worse[0] += 1
            worse[1] += np.log(min(value - cost, UNPLACED))
        if st.full[0] == 0 and value <= cost - heat * np.log(1.0 - np.random.random()):
            cost = value
            if value < best_cost:
                best_cost = value
                _copy(cur, best)
                _copy(choice, best_choice)
                _copy(ch.total, total)
            continue
        take_back(st, win, cur, choice)
        undo(data, st, ch)
        if st.full[0] == 1:
            break
    return cost, best_cost


@allocating
def _climb(
    data, st, ch, win, cur, choice, best, best_choice, total, cost, best_cost, trials, heat, fall, seed, weights
):
    """Run trials. Returns cost, best cost, and the geometric mean of what moves that made it worse cost."""
    worse = np.zeros(2)  # how many, and the sum of the logarithms
    cost, best_cost = _trials(
        data,
        st,
        ch,
        win,
        cur,
        choice,
        best,
        best_choice,
        total,
        cost,
        best_cost,
        trials,
        heat,
        fall,
        seed,
        weights,
        worse,
    )
    return cost, best_cost, np.exp(worse[1] / worse[0]) if worse[0] else 0.0
