"""What is sure of an order's lateness before all of its work is timed: a change that cannot pay is given up there.

An operation that ends at a minute keeps its order waiting for at least what is left behind it: each step in its hours, on the
quickest machine, without setting, by the soonest collection, people and all other work ignored. So late orders show in the
first part of the list, and the rest need not be timed. Bounds of this kind are as old as branch and bound for shops
(McMahon and Florian, Operations Research 23:475-482, 1975: heads and tails); here they know the calendar and the vans.
"""

from __future__ import annotations

import numpy as np

from planner.by_ref import by_ref
from planner.compiling import compiled, inner
from planner.timetable.changes import C_STAMP, count_touched, give_up, next_touched, time_again
from planner.timetable.kernel import OUTSIDE, has_length
from planner.timetable.lines import after, first_open
from planner.timetable.state import F_END
from planner.timetable.timetable import Timetable
from planner.timetable.trial import moved
from planner.work import NEVER

AT = 8  # ends of an operation for which it is known how late its order will be at least
APART = (0, 480, 1440, 2880, 5760, 11_520, 23_040, 46_080)  # minutes between the first of them and each
AROUND = 2880  # minutes before where it ends now: from there on those of what makes its order late whenever it ends
FAR = 1 << 30  # minutes late, of what finds no time any more
ORDER, LEAST, ENDS, LATE = 0, 1, 2, 2 + AT  # columns of what is still to come


def rest_of(table: Timetable) -> np.ndarray:
    """By operation: an order that waits for it (-1: none), the least minutes from its end to that order's, and from ``ENDS``
    and ``LATE`` on ends of it with the minutes that the order is late with them at least: each for itself in the hours, on
    the quickest machine, without setting, by the soonest collection."""
    rest = np.full((len(table.data.op), LATE + AT), -1, np.int64)
    _fill_rest(table.data, table.state, table.repaired([])[::-1].copy(), rest)
    return rest


@compiled
def _fill_rest(data, st, backwards, rest):
    data, st = by_ref(data), by_ref(st)
    for op in backwards:
        row = data.op[op]
        best, order, least, nxt = NEVER, -1, 0, -1
        for j in range(data.feeds_lo[op], data.feeds_lo[op + 1]):
            due = data.order[data.feeds[j]].due
            if data.order[data.feeds[j]].weight > 0 and due < best:
                best, order = due, data.feeds[j]
        for j in range(row.use_lo - 1, row.use_hi):
            other = row.after if j < row.use_lo else data.use_op[j]
            if other >= 0 and rest[other, ORDER] >= 0:
                minutes = rest[other, LEAST] + _least_minutes(data, other)
                due = data.order[rest[other, ORDER]].due - minutes
                if due < best:
                    best, order, least, nxt = due, rest[other, ORDER], minutes, other
        rest[op, ORDER], rest[op, LEAST] = order, least
        if order >= 0:
            _fill_late(data, st, op, nxt, rest)


@inner
def _fill_late(data, st, op, nxt, rest):
    due = data.order[rest[op, ORDER]].due
    if nxt < 0:
        rest[op, ENDS], rest[op, LATE] = due + 1, 1
        for k in range(1, AT):
            rest[op, ENDS + k], rest[op, LATE + k] = NEVER, FAR
        return
    linked = nxt == data.op[op].after
    good, bad = -1, max(0, due - rest[op, LEAST]) + 1  # between them is the first end with which it is late
    while bad - good > 1:
        t = (good + bad) // 2
        if soonest_end(data, nxt, t, linked) < rest[nxt, ENDS]:
            good = t
        else:
            bad = t
    first = bad if good >= 0 else max(0, st.res[op, F_END] - AROUND)
    for k in range(AT):
        t = bad if k == 0 else first + APART[k]
        end = soonest_end(data, nxt, t, linked)
        rest[op, ENDS + k] = t
        rest[op, LATE + k] = FAR if end >= NEVER else sure_late(data, rest, nxt, end)


@inner
def sure_late(data, rest, op, end):
    """Minutes that the order of ``op`` is late at least, if that ends at ``end``."""
    late = min(FAR, max(0, end + rest[op, LEAST] - data.order[rest[op, ORDER]].due))
    k = 0
    while k < AT and end >= rest[op, ENDS + k]:
        late = max(late, rest[op, LATE + k])
        k += 1
    return late


@inner
def soonest_end(data, op, t, linked):
    """When ``op`` ends at the soonest if what it waits for (``linked``: the step before it) ends at ``t``."""
    row = data.op[op]
    if row.transfer > 0 or row.running == 1 or row.out == 1:
        return t  # its pieces may have come long before
    if row.kind == OUTSIDE:
        ready, back = moved(data, op, -1, t) if linked else t, NEVER
        for trip in range(data.trip_lo[row.service], data.trip_lo[row.service + 1]):
            if data.trip[trip].cutoff >= ready:
                back = min(back, data.trip[trip].back)
        return back + row.wait_min
    if row.alt_lo == row.alt_hi:
        return (moved(data, op, -1, t) if linked else t) + row.wait_min
    best = NEVER
    for a in range(row.alt_lo, row.alt_hi):
        machine, run = data.alt[a].machine, data.alt[a].run_min
        ready = moved(data, op, machine if has_length(data, op, a) else -1, t) if linked else t
        if run > 0 and ready < NEVER:
            ready = first_open(data.lines, data.machine[machine].line, ready)
            ready = after(data.lines, data.alt[a].line, ready, run) if ready < NEVER else NEVER
        best = min(best, ready)
    return best + row.wait_min


@inner
def _least_minutes(data, op):
    """From the end of what ``op`` waits for to its own."""
    row = data.op[op]
    if row.transfer > 0 or row.running == 1 or row.out == 1:
        return 0
    least = NEVER
    if row.kind == OUTSIDE:
        for trip in range(data.trip_lo[row.service], data.trip_lo[row.service + 1]):
            least = min(least, data.trip[trip].back - data.trip[trip].cutoff)
    for a in range(row.alt_lo, row.alt_hi):
        least = min(least, data.alt[a].run_min)
    return (least if least < NEVER else 0) + row.wait_min


@inner
def time_below(data, st, ch, cur, choice, k, rest, most):
    """As :func:`time_touched`, given up once orders are late by more than ``most`` weighted minutes in all, whatever comes
    after. False then: the change can only be undone."""
    i = next_touched(data, st, ch, cur, k)
    sure, p = 0, 0
    while i < len(cur):
        time_again(data, st, ch, cur[i], choice[cur[i]])
        while p <= i:  # all up to here has its times for good
            sure += _more_late(data, st, ch, cur[p], rest)
            p += 1
        if sure > most:
            give_up(ch, i)
            return False
        i = next_touched(data, st, ch, cur, i + 1)
    count_touched(data, st, ch)
    return True


@inner
def _more_late(data, st, ch, op, rest):
    """Weighted minutes by which it is sure of an order, from the end of ``op``, that it is later than was known."""
    order = rest[op, ORDER]
    if order < 0:
        return 0
    late = sure_late(data, rest, op, st.res[op, F_END])
    if late <= 0:
        return 0
    if ch.sure_at[order] != ch.counts[C_STAMP]:
        ch.sure_at[order], ch.sure[order] = ch.counts[C_STAMP], 0
    more = max(0, late - ch.sure[order])
    ch.sure[order] += more
    return more * data.order[order].weight
