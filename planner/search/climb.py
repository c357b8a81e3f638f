"""List search: change the priority list or a machine choice, time what that touches, and keep what lowers the
exact cost (with a falling chance of keeping what raises it a little).

Simulated annealing (Kirkpatrick, Gelatt and Vecchi, Science 220:671-680, 1983) with moves along what binds late
orders (van Laarhoven, Aarts and Lenstra, Operations Research 40:113-125, 1992), heated again and again.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from planner.by_ref import by_ref
from planner.compiling import compiled, inner
from planner.plan import Cost
from planner.search.behind import NO_WAY, fill_latest
from planner.search.moves import carry_out, make_window, take_back
from planner.search.pick import AS_NOW, pick
from planner.search.sure import rest_of, time_below
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
    time_within,
    undo,
)
from planner.timetable.timetable import Timetable

UNPLACED = 1 << 44  # cost of an operation that finds no place: more than any lateness
# Temperatures are told by the share that they keep of the moves that make it worse. A cooling begins with WARM, more
# the more trials an operation it has, up to WARMEST, and ends with COOL.
WARM, WARMEST, COOL = 0.02, 0.2, 0.06
WARMER = 0.56  # power of the number of trials that WARM grows with
STEPS = 50  # temperatures in a cooling
BINS, BINS_TO_DOUBLE = 256, 4  # of the histogram of how much worse moves make it
MEMORY = 4_000  # moves that it remembers (about)
FIRST_COOLING = 20  # trials an operation in the first cooling
START_SHARE = 0.1  # of the trials left, which the first cooling of another start may take at most
LONGER = 2.5  # how much longer each later one is; the last takes what is left
LONGEST = 8_000  # trials an operation after which a new one pays more
COLD_SHARE = 0.05  # of each cooling: at its end, from the best list and keeping nothing worse, for the second tier
IN_FULL = 16  # of so many moves one is timed to its end, whatever it comes to
SECOND_SHARE = 0.2  # first-tier units that the whole second tier is worth while searching, about
# Up to STEADY it counts as it is; whatever comes on top, the whole stays below MOST_SECOND: it breaks ties only.
STEADY, MOST_SECOND = 0.5, 0.9


@dataclass
class Climber:
    """The list search's running state. ``best`` and ``best_choice`` are its best list; costs are scalars
    (first tier plus a sliver of the second: ``weights``, by default of the first list). ``starts`` are other lists to begin with:
    each has a first cooling of its own, then it goes on from the best of all."""

    table: Timetable
    sequence: np.ndarray
    choice: np.ndarray
    seed: int
    weights: np.ndarray | None = None
    starts: list[tuple[np.ndarray, np.ndarray]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.touched, self.window = make_touched(self.table.data, self.table.state), make_window(self.table.data)
        self._take(self.sequence, self.choice)
        if self.weights is None:
            self.weights = self._weights()
        self.cost = self.now_cost()
        self._keep(self.sequence, self.choice, self.touched.total, self.cost)
        self._chunk = 0
        self._rest = rest_of(self.table)
        self._latest = np.full(len(self.table.data.op), NO_WAY, np.int64)
        self.worse, self._last, self._cold = np.zeros(BINS), False, False
        self.cooling, self._done = FIRST_COOLING * len(self.sequence), 0

    def now_cost(self) -> float:
        """Scalar cost of what the timetable holds."""
        count_costs(self.table.data, self.table.state, self.touched)
        return float(_scalar(self.touched, self.weights))

    def _weights(self) -> np.ndarray:
        """First-tier units a minute in progress, a setup minute and a penny are worth."""
        p, op = self.table.work.prices, self.table.data.op
        alone = self.table.data.alt[op["alt_lo"][(op["planned"] == 1) & (op["alt_lo"] < op["alt_hi"])]]
        setup_min, run_min = int(alone["setup_min"].sum()), int(alone["run_min"].sum())
        usual = p.wip_weight * (setup_min + run_min) + p.setup_weight * setup_min
        second = 0 if self.table.unplaced() else self.table.cost().second  # no minutes are known of what finds no place
        return (
            np.array([p.wip_weight, p.setup_weight, p.charge_weight], np.float64) * SECOND_SHARE / max(1, usual, second)
        )

    def _take(self, sequence: np.ndarray, choice: np.ndarray) -> None:
        self.table.retime(sequence, choice, 0)
        fixed = _fixed_choice(self.table, choice)
        if (fixed != choice).any():
            self.table.retime(sequence, fixed, 0)
        self.sequence, self.choice = sequence.copy(), fixed
        if len(self.touched.was_stint) != self.table.state.people.at.size:
            self.touched = make_touched(self.table.data, self.table.state)  # there is room for more bookings now

    def restart(self, sequence: np.ndarray, choice: np.ndarray) -> None:
        """Go on from another list."""
        self._take(sequence, choice)
        self.cost = self.now_cost()
        if self.cost < self.best_cost:
            self._keep(self.sequence, self.choice, self.touched.total, self.cost)

    def learn(self, other: Climber) -> bool:
        """Take over another's best list if it is better; what is being tried now stays. True if it was."""
        if other.best_cost >= self.best_cost:
            return False
        self._keep(other.best, other.best_choice, other.best_total, other.best_cost)
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

    def _keep(self, best: np.ndarray, choice: np.ndarray, total: np.ndarray, cost: float) -> None:
        self.best, self.best_choice, self.best_total, self.best_cost = best.copy(), choice.copy(), total.copy(), cost

    def run(self, trials: int, left: int | None = None) -> None:
        """``trials`` moves at a temperature that falls and, when it has got low, rises again.

        ``left``: how many there are (about) until the end, where that is known, so that the last cooling is a long one.
        """
        if left is not None:
            if self.cooling > START_SHARE * left:
                self.starts.clear()
            self._fit(left)
        while trials > 0:
            trials -= self._stretch(trials)

    def _stretch(self, trials: int) -> int:
        """Moves at one temperature, ``trials`` at most. How many."""
        t, cold_from = self.table, max(1, int(self.cooling * (1.0 - COLD_SHARE)))
        if not (np.array_equal(t.list, self.sequence) and np.array_equal(t.choice, self.choice)):
            self.restart(self.sequence, self.choice)
        if self._done >= cold_from and not self._cold:
            self._cold = True
            self.restart(self.best, self.best_choice)
        left = (self.cooling if self._cold else cold_from) - self._done
        trials = min(trials, left, max(100, self.cooling // STEPS))
        warm = self._warm()
        share = warm * (min(COOL, warm) / warm) ** (self._done / cold_from)
        heat = _heat(self.worse, share) if not self._cold else 0.0
        self._chunk += 1
        worse = np.zeros(BINS)
        self.cost, self.best_cost = _trials(
            t.data, t.state, self.touched, self.window, self.sequence, self.choice, self.best, self.best_choice,
            self.best_total, self.cost, self.best_cost, trials, heat, (self.seed * 1_000_003 + self._chunk) % (1 << 31),
            self.weights, worse, self._latest, self._rest, IN_FULL,
        )  # fmt: skip
        t.list, t.choice = self.sequence.copy(), self.choice.copy()
        self.worse = self.worse * (1.0 - 1.0 / MEMORY) ** worse.sum() + worse
        if t.state.full[0]:
            self.restart(self.sequence, self.choice)
        self._done += trials
        if self._done >= self.cooling:
            self._done, self._cold = 0, False
            if self.starts:
                self.restart(*self.starts.pop(0))
            else:
                self.cooling = min(int(self.cooling * LONGER), LONGEST * len(self.sequence))
        return trials

    def _warm(self) -> float:
        """Share of the moves that make it worse that this cooling begins with."""
        return min(WARMEST, WARM * (self.cooling / (FIRST_COOLING * len(self.sequence))) ** WARMER)

    def _fit(self, left: int) -> None:
        """Let this cooling take all that is left where there would be no time for a longer one after it."""
        rest = self.cooling - self._done
        if self._last or left < rest + LONGER * self.cooling:
            self.cooling, self._last = self._done + max(1, left), True


def _heat(worse: np.ndarray, share: float) -> float:
    """The temperature that keeps this share of the moves that make it worse.

    ``worse``: how many moves made it how much worse, by bins. Method: Ben-Ameur, Computational Optimization and
    Applications 29:369-385, 2004.
    """
    total = worse.sum()
    if total == 0.0:
        return 0.0
    by = np.exp2((np.arange(BINS) + 0.5) / BINS_TO_DOUBLE) - 1.0
    low, high = -20.0, 60.0
    for _ in range(30):
        middle = (low + high) / 2
        kept = (worse * np.exp(-by / np.exp2(middle))).sum() / total
        low, high = (middle, high) if kept < share else (low, middle)
    return float(np.exp2(high))


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
    second = weights[0] * t[T_WIP] + weights[1] * t[T_SETUP] + weights[2] * t[T_PENCE]
    if second > STEADY:
        second = MOST_SECOND - (MOST_SECOND - STEADY) * STEADY / second
    return t[T_LATE] + t[T_CHANGE] + second


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
    data, st, ch, win, cur, choice, best, best_choice, total, cost, best_cost, trials, heat, seed, weights, worse,
    latest, rest, in_full,
):  # fmt: skip
    data, st, ch, win = by_ref(data), by_ref(st), by_ref(ch), by_ref(win)
    np.random.seed(seed)
    fixed = _fixed_places(data, cur)
    if fixed == len(cur):
        return cost, best_cost
    one_order = len(data.order) == 1 and data.order[0].weight > 0
    changed = len(cur) - 1  # last place up to which ``latest`` may be out of date
    for trial in range(trials):
        op, alt = pick(data, st, ch, win, cur, choice, fixed)
        if op < 0:
            continue
        if one_order and changed >= 0:
            fill_latest(data, st, cur, changed, latest)
            changed = -1
        begin(ch)
        carry_out(data, st, ch, win, cur, choice, op, choice[op] if alt == AS_NOW else alt)
        most = cost - heat * np.log(1.0 - np.random.random())
        # A name makes a list harder to change, so it has to pay at once. Most cost nothing by themselves: kept as other moves are,
        # they spread over the whole list, and the plans of the sample shop got dearer; so they get cheaper by a fifth in 10 s.
        by_name = alt >= 0 and data.alt[alt].plain != alt
        if by_name:
            most = cost
        may_pay, told = True, trial % in_full == 0
        if told or most >= UNPLACED:  # a list with something that finds no place costs more than any minutes late
            time_touched(data, st, ch, cur, choice, win.at[0])
        elif not one_order:
            may_pay = time_below(data, st, ch, cur, choice, win.at[0], rest, int(most))
        else:
            ready_by = data.order[0].due + int(most / data.order[0].weight)
            may_pay = time_within(data, st, ch, cur, choice, win.at[0], latest, ready_by, win.at[1])
        value = _scalar(ch, weights)
        if told and value > cost + 0.5:
            worse[min(BINS - 1, int(BINS_TO_DOUBLE * np.log2(value - cost + 1.0)))] += in_full
        if may_pay and st.full[0] == 0 and value <= most and (value < cost or not by_name):
            cost, changed = value, win.at[1]
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
