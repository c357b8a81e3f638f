"""Moves within a priority list: one operation before or behind another, with what has to move along; two batches.

A move rewrites a window of the list. Those of its operations that pass others are *moved*; the order on every machine
is brought into line with the list, and what the move touches is flagged for :mod:`planner.timetable.changes`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from planner.compiling import inner
from planner.timetable.arrays import Data
from planner.timetable.changes import flag_on_machine, note_moved
from planner.timetable.kernel import has_length
from planner.timetable.state import join_machine, leave_machine

STAYS, PASSES, LEAVES = 0, 1, 2  # in the window: keeps its turn; passes others; passes others on its machine as well
W_LO, W_HI, W_LINKS, W_OP, W_CHOICE = 0, 1, 2, 3, 4


class Window(NamedTuple):
    """The part of the list that a move rewrites, what it was, and what is needed to take the move back."""

    tag: np.ndarray  # by operation: STAYS, PASSES or LEAVES
    new: np.ndarray
    was: np.ndarray
    link: np.ndarray  # [n, 3] operation, machine and operation before it there, as they were
    at: np.ndarray  # W_*: first and last place, links written, operation with another machine choice and its old one


def make_window(data: Data) -> Window:
    n = len(data.op)
    tag, new, was = np.zeros((3, n), np.int64)
    return Window(tag, new, was, np.zeros((n, 3), np.int64), np.zeros(5, np.int64))


@inner
def _waits_for_tagged(data, st, win, op, machines):
    """Does ``op`` wait for an operation that moves?"""
    row = data.op[op]
    if row.before >= 0 and win.tag[row.before] != STAYS:
        return True
    for i in range(row.need_lo, row.need_hi):
        if win.tag[data.need_op[i]] != STAYS:
            return True
    return machines and st.prev[op] >= 0 and win.tag[st.prev[op]] == PASSES


@inner
def _tagged_waits_for(data, st, win, op, machines):
    """Does an operation that moves wait for ``op``?"""
    row = data.op[op]
    if row.after >= 0 and win.tag[row.after] != STAYS:
        return True
    for i in range(row.use_lo, row.use_hi):
        if win.tag[data.use_op[i]] != STAYS:
            return True
    return machines and st.next[op] >= 0 and win.tag[st.next[op]] == PASSES


@inner
def _clear(cur, win, lo, hi):
    for i in range(lo, hi + 1):
        win.tag[cur[i]] = STAYS


@inner
def before(data, st, win, cur, op, b, machines):
    """Lay out ``op`` at place ``b``, earlier than it stands, and with it what it waits for from there on.

    ``machines``: the order on machines counts as waiting, so that ``op`` alone passes others on its machine. False where
    the operation at ``b`` is one of those that have to come first.
    """
    a = st.place[op]
    win.tag[op] = LEAVES
    for i in range(a - 1, b - 1, -1):
        if _tagged_waits_for(data, st, win, cur[i], machines):
            if i == b:
                _clear(cur, win, b, a)
                return False
            win.tag[cur[i]] = PASSES if machines else LEAVES
    n = b
    for tagged in range(2):
        for i in range(b, a + 1):
            if (win.tag[cur[i]] == STAYS) == (tagged == 1):
                win.new[n] = cur[i]
                n += 1
    win.at[W_LO], win.at[W_HI] = b, a
    return True


@inner
def behind(data, st, win, cur, op, b, machines):
    """Lay out ``op`` at place ``b``, later than it stands, and with it what waits for it up to there."""
    a = st.place[op]
    win.tag[op] = LEAVES
    for i in range(a + 1, b + 1):
        if _waits_for_tagged(data, st, win, cur[i], machines):
            if i == b:
                _clear(cur, win, a, b)
                return False
            win.tag[cur[i]] = PASSES if machines else LEAVES
    n = a
    for tagged in range(2):
        for i in range(a, b + 1):
            if (win.tag[cur[i]] == STAYS) == (tagged == 0):
                win.new[n] = cur[i]
                n += 1
    win.at[W_LO], win.at[W_HI] = a, b
    return True


@inner
def in_place(win, op, a):
    """Lay out ``op`` at ``a``, where it is (for another machine choice)."""
    win.tag[op] = LEAVES
    win.new[a] = op
    win.at[W_LO], win.at[W_HI] = a, a


@inner
def swap_batches(data, st, win, cur, fixed, x, y):
    """Lay out the list with batches ``x`` and ``y`` taking each other's turns. False where something would come before
    what it waits for."""
    lo, hi = len(cur), -1
    for batch in (x, y):
        for i in range(data.batch[batch].lo, data.batch[batch].hi):
            p = st.place[data.batch_op[i]]
            if p >= fixed:
                win.tag[data.batch_op[i]] = LEAVES
                lo, hi = min(lo, p), max(hi, p)
    i, j = _from(data, st, data.batch[x].lo, fixed, x), _from(data, st, data.batch[y].lo, fixed, y)
    for p in range(lo, hi + 1):
        win.new[p] = cur[p]
        if win.tag[cur[p]] == STAYS:
            continue
        # the turns of one batch go to the other as long as both have operations left
        if j < data.batch[y].hi and (data.op[cur[p]].batch == x or i >= data.batch[x].hi):
            win.new[p] = data.batch_op[j]
            j += 1
        else:
            win.new[p] = data.batch_op[i]
            i += 1
    win.at[W_LO], win.at[W_HI] = lo, hi
    if _in_order(data, st, win, cur, lo, hi):
        return True
    _clear(cur, win, lo, hi)
    return False


@inner
def _from(data, st, i, fixed, batch):
    while i < data.batch[batch].hi and st.place[data.batch_op[i]] < fixed:
        i += 1
    return i


@inner
def _in_order(data, st, win, cur, lo, hi):
    """Does nothing in the new window come before a component that it needs? (Batches keep their own order.)"""
    for p in range(lo, hi + 1):
        st.place[win.new[p]] = p
    good = True
    for p in range(lo, hi + 1):
        row = data.op[win.new[p]]
        for k in range(row.need_lo, row.need_hi):
            good = good and st.place[data.need_op[k]] < p
    if not good:
        for p in range(lo, hi + 1):
            st.place[cur[p]] = p
    return good


@inner
def carry_out(data, st, ch, win, cur, choice, op, alt):
    """Make the window that was laid out the list; ``op`` takes alternative ``alt``."""
    lo, hi = win.at[W_LO], win.at[W_HI]
    win.at[W_LINKS], win.at[W_OP], win.at[W_CHOICE] = 0, op, choice[op]
    for p in range(lo, hi + 1):
        other = cur[p]
        win.was[p] = other
        if win.tag[other] == LEAVES:
            link = win.link[win.at[W_LINKS]]
            link[0], link[1], link[2] = other, st.on[other], st.prev[other]
            win.at[W_LINKS] += 1
    for p in range(lo, hi + 1):
        st.place[win.new[p]] = p
        cur[p] = win.new[p]
    for j in range(win.at[W_LINKS]):
        gone = win.link[j, 0]
        if st.next[gone] >= 0 and win.tag[st.next[gone]] != LEAVES:
            flag_on_machine(st, ch, st.next[gone])
    for j in range(win.at[W_LINKS]):
        leave_machine(st, win.link[j, 0])
    choice[op] = alt
    for p in range(lo, hi + 1):
        other = cur[p]
        if win.tag[other] == STAYS:
            continue
        if win.tag[other] == LEAVES:
            _join(data, st, ch, cur, other, choice[other], p)
        if win.tag[other] == LEAVES or data.op[other].shared == 1 or data.op[other].service >= 0:
            note_moved(data, st, ch, other, lo)
        win.tag[other] = STAYS


@inner
def _join(data, st, ch, cur, op, alt, p):
    """Let ``op``, at place ``p``, stand on the machine of ``alt`` behind what comes before it in the list."""
    if alt < 0 or not has_length(data, op, alt):
        return
    machine = data.alt[alt].machine
    prev = st.last[machine]
    if prev >= 0 and st.place[prev] > p:
        q = p - 1
        while q >= 0 and st.on[cur[q]] != machine:
            q -= 1
        prev = cur[q] if q >= 0 else -1
    join_machine(st, machine, op, prev)
    flag_on_machine(st, ch, st.next[op])


@inner
def take_back(st, win, cur, choice):
    """The list, its places, machine orders and choices as they were before :func:`carry_out`."""
    for j in range(win.at[W_LINKS]):
        leave_machine(st, win.link[j, 0])
    for p in range(win.at[W_LO], win.at[W_HI] + 1):
        cur[p] = win.was[p]
        st.place[cur[p]] = p
    for j in range(win.at[W_LINKS]):
        if win.link[j, 1] >= 0:
            join_machine(st, win.link[j, 1], win.link[j, 0], win.link[j, 2])
    choice[win.at[W_OP]] = win.at[W_CHOICE]
