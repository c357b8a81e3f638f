"""Which move to try next: mostly along what makes late orders late."""

from __future__ import annotations

import numpy as np

from planner.compiling import inner
from planner.search.moves import before, behind, in_place, swap_batches
from planner.timetable.arrays import WHY_BEFORE, WHY_COMPONENT, WHY_MACHINE, WHY_PERSON
from planner.timetable.changes import T_LATE
from planner.timetable.state import F_END, F_ON, F_RUN_END, F_WHY

WALK = 256  # steps back along what binds
NO_MOVE = -1
AS_NOW = -2  # in place of an alternative
# of all moves: of something that a late order waited for in a queue; of something else on its way; the rest anywhere
QUEUED, BOUND = 0.85, 0.95
WITHIN = 0.2  # how often a turn within a queue is picked, to one at its head or end, where one order waits for all
ANOTHER = 0.35  # of the moves in queues, where there is one: to another machine
NAMED = 0.2  # of those in a queue for a person: somebody by name, in place of whoever is through soonest, or the other way round


@inner
def _end_of(data, st, order):
    """The operation that an order waits for last, or -1."""
    best, last = -1, -1
    for j in range(data.order[order].lo, data.order[order].hi):
        end = st.res[data.source_op[j], F_END]
        if end > best:
            best, last = end, data.source_op[j]
    return last


@inner
def _late_end(data, st, ch):
    """What a late order waits for last, orders picked by their weighted lateness; -1 when none is late."""
    left = np.random.random() * ch.total[T_LATE]
    for i in range(len(data.order)):
        left -= ch.order_late[i] * data.order[i].weight
        if left < 0.0:
            return _end_of(data, st, i)
    return -1


@inner
def _in_queue(st, op):
    """Did ``op`` wait for its turn behind another operation?"""
    why = st.res[op, F_WHY]
    return why in (WHY_MACHINE, WHY_PERSON) and st.res[op, F_ON] >= 0


@inner
def _binding(data, st, op, waiting):
    """An operation picked from the chain of what ``op`` waited for, back to what waited for nothing.

    ``waiting``: only such as waited for a machine or a person; -1 where there is none. Within a queue, only turns at its
    head and its end can end it sooner; where one order waits for all, others are picked seldom (Nowicki and Smutnicki,
    Management Science 42:797-813, 1996).
    """
    within = WITHIN if len(data.order) == 1 else 1.0
    seen, found, behind_it = 0.0, -1, False
    for _ in range(WALK):
        queued, on = _in_queue(st, op), st.res[op, F_ON]
        if queued or not waiting:
            weight = within if queued and behind_it and _in_queue(st, on) else 1.0
            seen += weight
            if np.random.random() * seen < weight:
                found = op
        if on < 0 or not (queued or st.res[op, F_WHY] == WHY_BEFORE or st.res[op, F_WHY] == WHY_COMPONENT):
            break
        op, behind_it = on, queued
    return found


@inner
def _room(data, st, n, op, fixed):
    """Places between which ``op`` passes nothing that it waits for or that waits for it."""
    row = data.op[op]
    lo, hi = fixed, n - 1
    if row.before >= 0:
        lo = max(lo, st.place[row.before] + 1)
    for i in range(row.need_lo, row.need_hi):
        lo = max(lo, st.place[data.need_op[i]] + 1)
    if row.after >= 0:
        hi = st.place[row.after] - 1
    for i in range(row.use_lo, row.use_hi):
        hi = min(hi, st.place[data.use_op[i]] - 1)
    return lo, hi


@inner
def _mate(st, op, steps):
    """The operation that stands so many turns further on on the machine (negative: before)."""
    while steps < 0 and st.prev[op] >= 0:
        op, steps = st.prev[op], steps + 1
    while steps > 0 and st.next[op] >= 0:
        op, steps = st.next[op], steps - 1
    return op


@inner
def _pass(data, st, win, cur, fixed, op, other, machines):
    """``op`` to the other side of ``other``. True when it can."""
    b = st.place[other]
    if other == op or b < fixed:
        return False
    if b < st.place[op]:
        return before(data, st, win, cur, op, b, machines)
    return behind(data, st, win, cur, op, b, machines)


@inner
def _jump():
    return 1 + int(np.random.exponential(1.5))


@inner
def critical(data, st, win, cur, fixed, op):
    """Bring ``op``, which had to wait its turn, forward, or what it waited for back. Operation moved, or -1."""
    on = st.res[op, F_ON]
    kind = np.random.random()
    if st.res[op, F_WHY] == WHY_PERSON:
        if kind < 0.5:
            return op if _pass(data, st, win, cur, fixed, op, on, True) else NO_MOVE
        return on if _pass(data, st, win, cur, fixed, on, op, True) else NO_MOVE
    if kind < 0.3:
        return op if _pass(data, st, win, cur, fixed, op, on, True) else NO_MOVE
    if kind < 0.5:
        return on if _pass(data, st, win, cur, fixed, on, op, True) else NO_MOVE
    if kind < 0.8:
        return op if _pass(data, st, win, cur, fixed, op, _mate(st, op, -_jump()), True) else NO_MOVE
    return on if _pass(data, st, win, cur, fixed, on, _mate(st, on, _jump()), True) else NO_MOVE


@inner
def along_machine(data, st, win, cur, fixed, op):
    """``op`` some turns earlier or later on its machine (or anywhere where it has none). Operation moved, or -1."""
    if st.on[op] < 0:
        lo, hi = _room(data, st, len(cur), op, fixed)
        if hi <= lo:
            return NO_MOVE
        other = cur[np.random.randint(lo, hi + 1)]
    else:
        other = _mate(st, op, -_jump() if np.random.random() < 0.65 else _jump())
    return op if _pass(data, st, win, cur, fixed, op, other, np.random.random() < 0.7) else NO_MOVE


@inner
def other_machine(data, st, win, cur, fixed, op, machine):
    """Lay out ``op`` where it would go on another machine: about where that is free when it is there."""
    lo, hi = _room(data, st, len(cur), op, fixed)
    ready = data.op[op].earliest
    if data.op[op].before >= 0:
        ready = max(ready, st.res[data.op[op].before, F_END])
    b, skip = lo, np.random.randint(3)
    while b <= hi:
        if st.on[cur[b]] == machine and cur[b] != op and st.res[cur[b], F_RUN_END] > ready:
            if skip == 0:
                break
            skip -= 1
        b += 1
    a = st.place[op]
    if b > a:
        b -= 1
    if b < a:
        return before(data, st, win, cur, op, b, True)
    if b > a:
        return behind(data, st, win, cur, op, b, True)
    in_place(win, op, a)
    return True


@inner
def to_family(data, st, win, cur, fixed, op):
    """``op`` to just behind the nearest other of its family on its machine that it does not follow yet."""
    back, ahead = st.prev[op], st.next[op]
    family = data.op[op].family
    for _ in range(30):
        if back >= 0:
            if data.op[back].family == family and back != st.prev[op]:
                return op if _pass(data, st, win, cur, fixed, op, st.next[back], True) else NO_MOVE
            back = st.prev[back]
        if ahead >= 0:
            if data.op[ahead].family == family and ahead != st.next[op]:
                return op if _pass(data, st, win, cur, fixed, op, ahead, True) else NO_MOVE
            ahead = st.next[ahead]
    return NO_MOVE


@inner
def pull(data, st, win, cur, fixed, op):
    """``op`` and everything that it waits for some way forward. Operation moved, or -1."""
    a = st.place[op]
    back = 1 + int(np.random.exponential(20.0))
    b = max(fixed, a - back)
    return op if b < a and before(data, st, win, cur, op, b, False) else NO_MOVE


@inner
def swap(data, st, win, cur, fixed, op):
    """The batch of ``op`` and one that it meets on its machine take each other's turns. Operation moved, or -1."""
    other = _mate(st, op, -_jump() if np.random.random() < 0.65 else _jump())
    x, y = data.op[op].batch, data.op[other].batch
    if x == y or st.place[other] < fixed or not swap_batches(data, st, win, cur, fixed, x, y):
        return NO_MOVE
    return op


@inner
def _to_another(data, st, win, cur, choice, fixed, op):
    """Lay out ``op`` on another of its machines. Operation moved, or -1, and its alternative."""
    alts = data.op[op].alt_hi - data.op[op].alt_lo
    if alts < 2 or st.place[op] < fixed:
        return NO_MOVE, AS_NOW
    alt = data.op[op].alt_lo + np.random.randint(alts - 1)
    if alt >= data.alt[choice[op]].plain:
        alt += 1
    return (op if other_machine(data, st, win, cur, fixed, op, data.alt[alt].machine) else NO_MOVE), alt


@inner
def name_person(data, st, win, choice, fixed, op):
    """Lay out ``op`` where it is, to be set up or done by somebody else: by name, or again by whoever is through soonest.
    Operation, or -1, and its alternative."""
    machines, named = data.op[op].alt_hi - data.op[op].alt_lo, data.op[op].own_hi - data.op[op].own_lo
    if named == 0 or st.place[op] < fixed:
        return NO_MOVE, AS_NOW
    plain = data.alt[choice[op]].plain
    people = named // machines
    alt = data.op[op].own_lo + (plain - data.op[op].alt_lo) * people + np.random.randint(people)
    if choice[op] != plain:
        alt = plain
    in_place(win, op, st.place[op])
    return op, alt


@inner
def _queued_move(data, st, win, cur, choice, fixed, late):
    """A move of what kept waiting the end ``late`` of a late order."""
    op = _binding(data, st, late, True)
    if op < 0 or st.place[op] < fixed or st.place[st.res[op, F_ON]] < fixed:
        return NO_MOVE, AS_NOW
    if st.res[op, F_WHY] == WHY_PERSON and np.random.random() < NAMED:
        return name_person(data, st, win, choice, fixed, op if np.random.random() < 0.5 else st.res[op, F_ON])
    if np.random.random() < ANOTHER:
        other = op if np.random.random() < 0.5 else st.res[op, F_ON]
        if data.op[other].alt_hi - data.op[other].alt_lo > 1:
            return _to_another(data, st, win, cur, choice, fixed, other)
    return critical(data, st, win, cur, fixed, op), AS_NOW


@inner
def _any_move(data, st, win, cur, choice, fixed, op):
    """A move of ``op``, of a kind picked at random."""
    kind = np.random.random()
    if kind < 0.3 and data.op[op].alt_hi - data.op[op].alt_lo > 1:
        return _to_another(data, st, win, cur, choice, fixed, op)
    if kind > 0.97 and data.op[op].own_lo < data.op[op].own_hi:
        return name_person(data, st, win, choice, fixed, op)
    if kind > 0.85:
        return swap(data, st, win, cur, fixed, op), AS_NOW
    if kind > 0.78:
        return pull(data, st, win, cur, fixed, op), AS_NOW
    if kind > 0.72 and data.op[op].family > 0 and st.on[op] >= 0:
        return to_family(data, st, win, cur, fixed, op), AS_NOW
    return along_machine(data, st, win, cur, fixed, op), AS_NOW


@inner
def pick(data, st, ch, win, cur, choice, fixed):
    """Lay out the next move to try in ``win``. Operation moved (-1: none) and its alternative (``AS_NOW``: the same)."""
    late = _late_end(data, st, ch)
    kind = np.random.random()
    if late >= 0 and kind < QUEUED:
        return _queued_move(data, st, win, cur, choice, fixed, late)
    op = _binding(data, st, late, False) if late >= 0 and kind < BOUND else cur[np.random.randint(fixed, len(cur))]
    if st.place[op] < fixed:
        return NO_MOVE, AS_NOW
    return _any_move(data, st, win, cur, choice, fixed, op)
