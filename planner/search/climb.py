"""List search: move operations and whole batches within the priority list, and machine choices, and
keep what lowers the exact cost (with a falling chance of keeping what raises it a little).

Only the tail of the list behind the first change is timed anew. Simulated annealing
(Kirkpatrick, Gelatt and Vecchi, Science 220:671-680, 1983) over a fixed number of trials at a time, so that
the caller can look at the clock between.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.compiling import allocating, compiled, inner
from planner.timetable.kernel import change_cost, late_cost, order_end, second_costs, time_list
from planner.timetable.timetable import NO_CAP, Timetable

UNPLACED = 1 << 44  # cost of an operation that finds no place: more than any lateness
COOLING = 0.93  # of the temperature, each call
FIRST_HEAT = 0.3  # of what nine in ten of the moves that make the plan worse cost at least
NEXT_HEAT = 0.7  # of the temperature the last round began with
COLD = 1e-6  # temperature at which nothing worse is kept
HEAT_RANGE = 0.002  # of the starting temperature, below which it is raised again
COLD_CALLS = 20  # at the end of each cooling: from the best list, for the second tier
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
        self.table.retime(self.sequence, self.choice, 0)
        self.weights = self._weights()
        self.choice = _fixed_choice(self.table, self.choice)
        self.cost = self.now_cost()
        self.best, self.best_choice, self.best_cost = self.sequence.copy(), self.choice.copy(), self.cost
        self._chunk = 0
        self.heat, self.top_heat, self._cold = 0.0, 0.0, 0

    def now_cost(self) -> float:
        """Scalar cost of what the timetable holds."""
        t = self.table
        return float(_scalar(t.data, t.state, t.never, self.weights))

    def _weights(self) -> np.ndarray:
        """First-tier units a minute in progress, a setup minute and a penny are worth."""
        p = self.table.work.prices
        scale = SECOND_SHARE / max(1, self.table.cost().second)
        return np.array([p.wip_weight, p.setup_weight, p.charge_weight], np.float64) * scale

    def restart(self, sequence: np.ndarray, choice: np.ndarray) -> None:
        """Go on from another list."""
        self.sequence, self.choice = sequence.copy(), choice.copy()
        self.table.retime(self.sequence, self.choice, 0)
        self.cost = self.now_cost()
        self._note_best()

    def run(self, trials: int) -> None:
        """``trials`` moves at a temperature that falls with each call and rises again when it has got low."""
        t, heat = self.table, self._heat()
        self._chunk += 1
        self.cost, uphill = _climb(
            t.data, t.state, self.sequence, self.choice, t.list, t.choice, t.never, self.best, self.best_choice,
            self.cost, self.best_cost, trials, heat, (self.seed * 1_000_003 + self._chunk) % (1 << 31),
            self.weights, self.top_heat == 0.0,
        )  # fmt: skip
        if self.top_heat == 0.0:
            self.heat = self.top_heat = max(1.0, FIRST_HEAT * uphill)
        if t.state.full[0]:
            t.retime(self.sequence, self.choice, 0)
        t.retime(self.best, self.best_choice, 0)
        self.best_cost = self.now_cost()

    def _heat(self) -> float:
        """Temperature of the next trials (first-tier cost units): falling, cold for a while, and up again.

        The first call is cold and measures how much worse moves are that make it worse.
        """
        if self.top_heat == 0.0:
            return COLD
        self.heat *= COOLING
        if self.heat >= HEAT_RANGE * self.top_heat:
            return self.heat
        if self._cold in (0, COLD_CALLS):
            self.restart(self.best, self.best_choice)
        self._cold = (self._cold + 1) % (COLD_CALLS + 1)
        if self._cold:
            return COLD
        self.top_heat = max(1.0, self.top_heat * NEXT_HEAT)
        self.heat = self.top_heat
        return self.heat

    def _note_best(self) -> None:
        if self.cost < self.best_cost:
            self.best, self.best_choice, self.best_cost = self.sequence.copy(), self.choice.copy(), self.cost


def _fixed_choice(table: Timetable, choice: np.ndarray) -> np.ndarray:
    """Choices with every 'whichever ends soonest' replaced by what was taken."""
    taken = table.choices_made()
    return np.where((choice < 0) & (taken >= 0), taken, choice)


@compiled
def _scalar(data, st, never, weights):
    lost = 0
    for i in range(len(never)):
        lost += never[i]
    if lost:
        return float(lost) * UNPLACED
    wip, setup, pence = second_costs(data, st)
    first = late_cost(data, st) + change_cost(data, st)
    return first + weights[0] * wip + weights[1] * setup + weights[2] * pence


@inner
def _limits(data, place, n, op, after):
    """Lowest and highest place that ``op`` may take without passing what it waits for or what waits for it."""
    lo = 0
    row = data.op[op]
    if row.before >= 0:
        lo = place[row.before] + 1
    for i in range(row.need_lo, row.need_hi):
        lo = max(lo, place[data.need_op[i]] + 1)
    return lo, place[after[op]] - 1 if after[op] >= 0 else n - 1


@inner
def _shift(sequence, a, b):
    """Move the item at place ``a`` to place ``b``."""
    op = sequence[a]
    if a < b:
        for i in range(a, b):
            sequence[i] = sequence[i + 1]
    else:
        for i in range(a, b, -1):
            sequence[i] = sequence[i - 1]
    sequence[b] = op


@allocating
def _followers(data):
    """The next planned operation of its batch, by operation, or -1."""
    after = np.full(len(data.op), -1, np.int64)
    for op in range(len(data.op)):
        if data.op[op].planned == 1 and data.op[op].before >= 0:
            after[data.op[op].before] = op
    return after


@inner
def _consumers_from(data, place, op, hi):
    """Highest place before every consumer of ``op``'s batch."""
    for other in range(len(data.op)):
        row = data.op[other]
        for i in range(row.need_lo, row.need_hi):
            if data.need_op[i] == op:
                hi = min(hi, place[other] - 1)
    return hi


@inner
def _late_operation(data, st):
    """A random operation of a random late order (or any operation at all)."""
    for _ in range(8):
        i = np.random.randint(len(data.order)) if len(data.order) else 0
        if len(data.order) and data.order[i].hi > data.order[i].lo and order_end(data, st, i) > data.order[i].due:
            op = data.source_op[np.random.randint(data.order[i].lo, data.order[i].hi)]
            # walk back a random way through what it waits for
            for _ in range(np.random.randint(0, 16)):
                row = data.op[op]
                needs = row.need_hi - row.need_lo
                if needs > 0 and (row.before < 0 or np.random.random() < 0.5):
                    op = data.need_op[row.need_lo + np.random.randint(needs)]
                elif row.before >= 0:
                    op = row.before
                else:
                    break
            return op
    return -1


@allocating
def _climb(
    data,
    st,
    cur,
    choice,
    timed,
    timed_choice,
    never,
    best,
    best_choice,
    cost,
    best_cost,
    trials,
    heat,
    seed,
    weights,
    measure,
):
    np.random.seed(seed)
    n = len(cur)
    fixed = 0
    for i in range(n):
        if data.op[cur[i]].running == 1 or data.op[cur[i]].out == 1:
            fixed = i + 1
    if n - fixed < 2:
        return cost, 0.0
    after = _followers(data)
    place = np.zeros(len(data.op), np.int64)
    new, old, slots = cur.copy(), timed.copy(), np.zeros(n, np.int64)
    uphill, many = np.zeros(trials), 0
    dirty = 0  # the state agrees with cur before this place
    while dirty < min(n, len(old)) and old[dirty] == cur[dirty] and timed_choice[cur[dirty]] == choice[cur[dirty]]:
        dirty += 1
    for _trial in range(trials):
        for i in range(n):
            place[cur[i]] = i
        op = _late_operation(data, st) if np.random.random() < 0.6 else -1
        if op < 0 or place[op] < fixed:
            op = cur[np.random.randint(fixed, n)]
        a = place[op]
        lo, hi = _limits(data, place, n, op, after)
        lo = max(lo, fixed)
        if after[op] < 0:
            hi = _consumers_from(data, place, op, hi)
        kind = np.random.random()
        was, k = choice[op], a
        new[:] = cur
        if kind > 0.9:
            k = _swap_batches(data, cur, new, place, fixed, op, _target(data, cur, choice, op, a, fixed, n - 1), slots)
            if k < 0:
                continue
        alts = data.op[op].alt_hi - data.op[op].alt_lo
        if kind < 0.15 and alts > 1:
            choice[op] = data.op[op].alt_lo + np.random.randint(alts)
            if choice[op] == was:
                continue
        if kind <= 0.9 and (kind >= 0.15 or np.random.random() < 0.5):
            if hi <= lo:
                if choice[op] == was:
                    continue
            else:
                b = _target(data, cur, choice, op, a, lo, hi)
                if b == a and choice[op] == was:
                    continue
                _shift(new, a, b)
                k = min(a, b)
        start = min(k, dirty)
        most = cost - heat * np.log(1.0 - np.random.random())  # the scalar cost up to which the move is kept
        lost = time_list(
            data, st, old, new, choice, start, False, never, int(min(NO_CAP, most if not measure else NO_CAP))
        )
        old[:] = new
        value = _scalar(data, st, never, weights) if lost == 0 else max(1, lost) * UNPLACED
        if cost < value - 0.5 and lost == 0:
            uphill[many], many = value - cost, many + 1
        if lost >= 0 and value <= most:
            cur[:] = new
            cost, dirty = value, n
            if value < best_cost:
                best[:], best_choice[:], best_cost = cur, choice, value
        else:
            choice[op] = was
            dirty = k
    timed[:] = cur  # the caller times its best list anew from the start
    return cost, np.sort(uphill[:many])[many // 10] if many else 0.0


@inner
def _swap_batches(data, cur, new, place, fixed, op, b, slots):
    """In ``new``, let the batch of ``op`` and the one at place ``b`` change their turns. First place changed, or -1."""
    x, y = data.op[op].batch, data.op[cur[b]].batch
    if x == y:
        return -1
    n = 0
    for batch in (x, y):
        for i in range(data.batch[batch].lo, data.batch[batch].hi):
            if place[data.batch_op[i]] >= fixed:
                j = n
                while j > 0 and slots[j - 1] > place[data.batch_op[i]]:
                    slots[j] = slots[j - 1]
                    j -= 1
                slots[j] = place[data.batch_op[i]]
                n += 1
    i, j = data.batch[x].lo, data.batch[y].lo
    for s in range(n):
        while i < data.batch[x].hi and place[data.batch_op[i]] < fixed:
            i += 1
        while j < data.batch[y].hi and place[data.batch_op[j]] < fixed:
            j += 1
        if j < data.batch[y].hi and (data.op[cur[slots[s]]].batch == x or i >= data.batch[x].hi):
            new[slots[s]] = data.batch_op[j]
            j += 1
        else:
            new[slots[s]] = data.batch_op[i]
            i += 1
    for s in range(n):
        place[new[slots[s]]] = slots[s]
    for p in range(slots[0], slots[n - 1] + 1):
        row = data.op[new[p]]
        for k in range(row.need_lo, row.need_hi):
            if place[data.need_op[k]] > p:
                return -1
    return slots[0]


@inner
def _target(data, cur, choice, op, a, lo, hi):
    """A place within ``[lo, hi]``: mostly just before or behind an operation of the same machine."""
    if choice[op] < 0 or np.random.random() < 0.1:
        return np.random.randint(lo, hi + 1)
    machine = data.alt[choice[op]].machine
    steps = 1 + int(np.random.exponential(2.0))
    step = -1 if np.random.random() < 0.65 else 1
    i, last = a + step, a
    while lo <= i <= hi and steps > 0:
        other = choice[cur[i]]
        if other >= 0 and data.alt[other].machine == machine:
            last = i
            steps -= 1
        i += step
    return last
