"""One operation held back, with all that follows timed again: how long can it wait before anything suffers?

The list and the machines stay. Each answer was tried out with exact times: :func:`latest_hold` returns a minute that was
timed and found good, not one that a formula gave.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from planner.by_ref import by_ref
from planner.compiling import compiled, inner
from planner.search.moves import behind, carry_out, in_place, take_back
from planner.timetable.arrays import WHY_HELD
from planner.timetable.changes import (
    C_BATCHES,
    C_ORDERS,
    T_CHANGE,
    T_LATE,
    T_LOST,
    T_PENCE,
    T_SETUP,
    T_WIP,
    begin,
    flag,
    time_within,
    undo,
)
from planner.timetable.kernel import MACHINE, MANUAL, OUTSIDE, order_end
from planner.timetable.lines import Lines, before
from planner.timetable.state import F_ALT, F_END, F_MACHINE, F_SETUP, F_START, F_TRIP
from planner.work import NEVER

SAVES_MIN = 720  # half a day: a start is held back for no less
LOOKS = 16  # minutes tried from the latest down until one is good


class Limits(NamedTuple):
    """Until when things may end. ``order``: each order. ``planned``: by batch, its end in the plan as it was made; what
    feeds neither an order nor another batch keeps it."""

    order: np.ndarray
    planned: np.ndarray


class Safety(NamedTuple):
    """How much is to be left in hand: ``minutes`` [1] of the one line in ``hours``; ``weights``: of work in progress,
    setup and charges in the second tier."""

    hours: Lines
    minutes: np.ndarray
    weights: np.ndarray


@inner
def _feeds_nothing(data, last):
    return data.feeds_lo[last] == data.feeds_lo[last + 1] and data.op[last].use_lo == data.op[last].use_hi


@inner
def _in_time(data, st, ch, limits):
    """After a change: does all that it touched end within its limit?"""
    if ch.total[T_LOST] > 0 or st.full[0] == 1:
        return False
    for j in range(ch.counts[C_ORDERS]):
        if order_end(data, st, ch.orders[j]) > limits.order[ch.orders[j]]:
            return False
    for j in range(ch.counts[C_BATCHES]):
        b = ch.batches[j]
        last = data.batch_op[data.batch[b].hi - 1]
        if _feeds_nothing(data, last) and st.res[last, F_END] > limits.planned[b]:
            return False
    return True


@inner
def _hold(data, st, ch, cur, choice, op, until, ends):
    """Hold ``op`` back to ``until`` and time what that touches; False where a run ends after its minute in ``ends``."""
    data.op[op].earliest, data.op[op].earliest_why = until, WHY_HELD
    begin(ch)
    flag(st, ch, op)
    return time_within(data, st, ch, cur, choice, st.place[op], ends, 0, -1)


@inner
def _let_go(data, st, ch, op, earliest, why):
    """Take the last change back."""
    undo(data, st, ch)
    data.op[op].earliest, data.op[op].earliest_why = earliest, why


@inner
def held_start(data, st, op):
    """The latest minute to hold ``op`` to that leaves its times: its start, or the cut-off of its collection."""
    trip = st.res[op, F_TRIP]
    return data.trip[trip].cutoff if trip >= 0 else st.res[op, F_START]


@inner
def latest_hold(data, st, ch, cur, choice, limits, op, starts, ends):
    """The latest minute found to which ``op`` can be held with all in time; nothing stays changed.

    Its bound in ``starts`` is tried first: where only hours and machines stand in the way it is the answer.
    """
    earliest, why = data.op[op].earliest, data.op[op].earliest_why
    good, bad, until = held_start(data, st, op), starts[op] + 1, starts[op]
    while bad - good > 1 and st.full[0] == 0:
        if _hold(data, st, ch, cur, choice, op, until, ends) and _in_time(data, st, ch, limits):
            good = until
        else:
            bad = until
        _let_go(data, st, ch, op, earliest, why)
        until = (good + bad) >> 1
    return good


@compiled
def latest_holds(data, st, ch, cur, choice, limits, ops, starts, ends, found):
    """:func:`latest_hold` to the minute of each of ``ops``, into ``found`` (by operation)."""
    data, st, ch = by_ref(data), by_ref(st), by_ref(ch)
    for i in range(len(ops)):
        found[ops[i]] = latest_hold(data, st, ch, cur, choice, limits, ops[i], starts, ends)


# --- a bound --------------------------------------------------------------------------------


@compiled
def hold_bounds(data, st, cur, limits, ordered, starts, ends):
    """By operation, a minute in ``starts`` after which it cannot be held and all be in time, whatever people do.

    A backward pass over what waits for what, in the machines' hours, and where ``ordered`` is True over the order on each
    machine with its setups (the latest times of the critical path method: Kelley, Operations Research 9:296-320, 1961).
    ``ends``: the same for run ends.
    """
    data, st = by_ref(data), by_ref(st)
    for i in range(len(cur) - 1, -1, -1):
        op = cur[i]
        end = _end_by(data, limits, op, starts, ends) - data.op[op].wait_min
        if ordered and st.next[op] >= 0:
            end = min(end, starts[st.next[op]])
        ends[op] = end
        starts[op] = _start_by(data, st, op, end, ordered)


@inner
def _end_by(data, limits, op, starts, ends):
    row = data.op[op]
    end = NEVER
    for i in range(data.feeds_lo[op], data.feeds_lo[op + 1]):
        end = min(end, limits.order[data.feeds[i]])
    for i in range(row.use_lo, row.use_hi):
        end = min(end, starts[data.use_op[i]])
    if row.after >= 0:
        return min(end, ends[row.after] if data.op[row.after].ahead == 1 else starts[row.after])
    return min(end, limits.planned[row.batch]) if _feeds_nothing(data, op) else end


@inner
def _start_by(data, st, op, end, ordered):
    row, res = data.op[op], st.res[op]
    if row.kind == OUTSIDE and row.out == 0:
        trip = data.trip_lo[row.service + 1] - 1
        while trip >= data.trip_lo[row.service] and data.trip[trip].back > end:
            trip -= 1
        return data.trip[trip].cutoff if trip >= data.trip_lo[row.service] else -NEVER
    if res[F_MACHINE] < 0 or (row.kind != MACHINE and row.kind != MANUAL):
        return end
    alt = res[F_ALT]
    start = before(data.lines, data.alt[alt].line, end, data.alt[alt].run_min)
    # where equipment is held, a setup may come or go with the time
    if ordered and row.eq_lo == row.eq_hi and start > -NEVER:
        start = before(data.lines, data.machine[res[F_MACHINE]].line, start, res[F_SETUP])
    return start


# --- starts held back -----------------------------------------------------------------------


@inner
def _nothing_lost(data, st, ch, limits, safety):
    """After a change: all in time, no tier of the cost higher, and no component closer to its use than is safe."""
    if not _in_time(data, st, ch, limits):
        return False
    now, was = ch.total, ch.total_was
    if now[T_LATE] + now[T_CHANGE] > was[T_LATE] + was[T_CHANGE]:
        return False
    second = 0
    for i in range(3):
        term = T_WIP if i == 0 else T_SETUP if i == 1 else T_PENCE
        second += safety.weights[i] * (now[term] - was[term])
    if second > 0:
        return False
    safe = True
    for j in range(ch.counts[C_BATCHES]):
        safe = safe and _safe_for_use(data, st, limits, safety, ch.batches[j])
    return safe


@inner
def _safe_for_use(data, st, limits, safety, b):
    """Is a batch there as long before its use as is safe, or no later than it was planned?"""
    last = data.batch_op[data.batch[b].hi - 1]
    if st.res[last, F_END] <= limits.planned[b]:
        return True
    for i in range(data.op[last].use_lo, data.op[last].use_hi):
        use = st.res[data.use_op[i], F_START]
        if st.res[last, F_END] > before(safety.hours, 0, use, safety.minutes[0]):
            return False
    return True


CANNOT, LATE, MOVED = 0, 1, 2


@inner
def _place_for(st, op, until):
    """The place in the list of the last on the machine of ``op`` that starts before ``until``; at least its own."""
    last = op
    while st.next[last] >= 0 and st.res[st.next[last], F_START] < until:
        last = st.next[last]
    return st.place[last]


@inner
def _move(data, st, ch, win, cur, choice, op, until, ends):
    """Hold ``op`` back to ``until``, behind what starts on its machine before.

    Returns CANNOT (it would come behind what waits for it; nothing is changed), LATE (a run ends after its minute in
    ``ends``) or MOVED.
    """
    a, b = st.place[op], _place_for(st, op, until)
    if b == a:
        in_place(win, op, a)
    elif not behind(data, st, win, cur, op, b, True):
        return CANNOT
    begin(ch)
    carry_out(data, st, ch, win, cur, choice, op, choice[op])
    data.op[op].earliest, data.op[op].earliest_why = until, WHY_HELD
    return MOVED if time_within(data, st, ch, cur, choice, a, ends, 0, -1) else LATE


@inner
def _move_back(data, st, ch, win, cur, choice, op, earliest, why):
    take_back(st, win, cur, choice)
    _let_go(data, st, ch, op, earliest, why)


@inner
def _latest_look(data, st, ch, win, cur, choice, limits, safety, op, least, most, ends):
    """The latest minute found from ``least`` to ``most`` at which nothing is lost, or -1; nothing stays changed.

    What machines and people are free for makes minutes in between bad though later ones are good: looks go from the
    latest down, then half way between a good one and the bad one above.
    """
    earliest, why = data.op[op].earliest, data.op[op].earliest_why
    apart = max(1, (most - least) // LOOKS)
    good, bad, until = -1, most + 1, most
    while until >= least and bad - good > 1 and st.full[0] == 0:
        how = _move(data, st, ch, win, cur, choice, op, until, ends)
        if how == MOVED and _nothing_lost(data, st, ch, limits, safety):
            good = until
        else:
            bad = until
        if how != CANNOT:
            _move_back(data, st, ch, win, cur, choice, op, earliest, why)
        until = (good + bad) >> 1 if good >= 0 else until - apart
    return good


@inner
def _move_for_good(data, st, ch, win, cur, choice, limits, safety, op, until, ends):
    """Hold ``op`` to the very minute at which it then starts, if nothing is lost by it and at least half a day gained."""
    earliest, why = data.op[op].earliest, data.op[op].earliest_why
    least = st.res[op, F_START] + SAVES_MIN
    _move(data, st, ch, win, cur, choice, op, until, ends)
    until = held_start(data, st, op)
    _move_back(data, st, ch, win, cur, choice, op, earliest, why)
    how = CANNOT if st.full[0] == 1 else _move(data, st, ch, win, cur, choice, op, until, ends)
    if how == MOVED and st.res[op, F_START] >= least and _nothing_lost(data, st, ch, limits, safety):
        return True
    if how != CANNOT:
        _move_back(data, st, ch, win, cur, choice, op, earliest, why)
    return False


@compiled
def hold_starts(data, st, ch, win, cur, choice, limits, safe_limits, safety, ops, starts, ends, safe_ends):
    """Hold each of ``ops`` in turn as late as nothing is lost by it, where that gains half a day at least.

    ``limits`` are those without safety, ``safe_limits`` those with it. ``starts`` and ``ends`` follow from the first and
    the order on machines (:func:`hold_bounds`): the safety time is counted back from there, so also before a machine that
    is full, and for orders that are late. ``safe_ends`` follow from the second, whatever the order on machines. Returns
    how many were held.
    """
    data, st, ch, win, safety = by_ref(data), by_ref(st), by_ref(ch), by_ref(win), by_ref(safety)
    held = 0
    for i in range(len(ops)):
        op = ops[i]
        least = st.res[op, F_START] + SAVES_MIN
        end = _end_by(data, limits, op, starts, ends) - data.op[op].wait_min
        most = before(safety.hours, 0, _start_by(data, st, op, end, False), safety.minutes[0])
        if most < least:
            continue
        until = _latest_look(data, st, ch, win, cur, choice, safe_limits, safety, op, least, most, safe_ends)
        if until >= 0 and _move_for_good(data, st, ch, win, cur, choice, safe_limits, safety, op, until, safe_ends):
            held += 1
        if st.full[0] == 1:
            break
    return held
