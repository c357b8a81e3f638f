"""One draw after another timed by the timetable itself, compiled: the rules of timing have no second copy here."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from planner.compiling import compiled, inner
from planner.risk.hours import break_down, cut_hours, stay_away
from planner.timetable.arrays import WHY_BEFORE, WHY_COMPONENT, WHY_MACHINE, WHY_PERSON
from planner.timetable.kernel import order_end, time_list
from planner.timetable.state import F_END, F_ON, F_WHY
from planner.work import NEVER


class Fixed(NamedTuple):
    """What is the same in all draws: ``sequence`` and ``choice`` of the plan (but for who is named and away, see :func:`_name`), the planned ``end`` of each operation; ``alt``: by
    operation, the alternative whose times are drawn, or -1; ``named``: the same with the person whom the plan names for it, or -1; which operations and orders wait for receipts, and which
    operations are at a firm already."""

    sequence: np.ndarray
    choice: np.ndarray
    end: np.ndarray
    alt: np.ndarray
    named: np.ndarray
    receipt_ops: np.ndarray
    out_ops: np.ndarray
    attended: np.ndarray  # by machine, its line


class Drawn(NamedTuple):
    """What was drawn, a row for each draw, whole minutes. ``setup`` is the base of the drawn alternative (may be
    negative where the changeover is the larger part), or what is left of a setup under way."""

    setup: np.ndarray  # [draw, operation]
    run: np.ndarray
    cycle_sec: np.ndarray
    first_off: np.ndarray
    earliest: np.ndarray  # [draw, as receipt_ops]
    order_at: np.ndarray  # [draw, order]
    out_back: np.ndarray  # [draw, as out_ops]
    back: np.ndarray  # [draw, trip]
    room: np.ndarray  # [draw, run of a van]
    breakdown_gaps: np.ndarray  # [draw, machine, i] open minutes
    repairs: np.ndarray
    absence_gaps: np.ndarray  # [draw, person, i] shifts
    absences: np.ndarray


class Seen(NamedTuple):
    """``end`` of each operation in each draw; ``lost``: draws in which something found no place; over the draws in which an
    order is late, how often an operation was on its way and the minutes that were lost there [order, operation]."""

    end: np.ndarray
    lost: np.ndarray
    times_late: np.ndarray
    added: np.ndarray


@inner
def _set_times(data, fixed, drawn, d):
    for op in range(len(fixed.alt)):
        alt = fixed.alt[op]
        if alt >= 0:
            if data.op[op].running == 1:
                data.op[op].setup_left = drawn.setup[d, op]
            else:
                data.alt[alt].setup_min = drawn.setup[d, op]
            data.alt[alt].run_min, data.alt[alt].cycle_sec = drawn.run[d, op], drawn.cycle_sec[d, op]
            data.op[op].first_off_min = drawn.first_off[d, op]
            named = fixed.named[op]
            if named >= 0:
                data.alt[named].setup_min, data.alt[named].run_min = data.alt[alt].setup_min, data.alt[alt].run_min
                data.alt[named].cycle_sec = data.alt[alt].cycle_sec
    for i in range(len(fixed.receipt_ops)):
        data.op[fixed.receipt_ops[i]].earliest = drawn.earliest[d, i]
    for i in range(len(fixed.out_ops)):
        data.op[fixed.out_ops[i]].back = drawn.out_back[d, i]
    for i in range(drawn.order_at.shape[1]):
        data.order[i].at = drawn.order_at[d, i]
    for i in range(drawn.back.shape[1]):
        data.trip[i].back = drawn.back[d, i]
    for i in range(drawn.room.shape[1]):
        data.run_room[i] = drawn.room[d, i]


@inner
def _name(data, fixed, cuts):
    """Who is named does it; where they are away when it is planned, whoever is through soonest."""
    for op in range(len(fixed.alt)):
        if fixed.named[op] >= 0:
            p, there = data.alt[fixed.named[op]].person, True
            for i in range(cuts.people[p]):
                there = there and (
                    cuts.person[p, i, 0] >= fixed.end[op] or cuts.person[p, i, 1] <= data.op[op].gap_from
                )
            fixed.choice[op] = fixed.named[op] if there else fixed.alt[op]


@inner
def _cause(data, st, op):
    """The operation that ``op`` waited for, or -1."""
    why, on = st.res[op, F_WHY], st.res[op, F_ON]
    if on >= 0 and why in (WHY_BEFORE, WHY_MACHINE, WHY_COMPONENT, WHY_PERSON):
        return on
    return data.op[op].before


@inner
def _add_way(data, st, fixed, seen, order):
    """Count each step of the way that decided an order's finish, with the delay against the plan that arose there."""
    finish, op = order_end(data, st, order), -1
    for j in range(data.order[order].lo, data.order[order].hi):
        if st.res[data.source_op[j], F_END] == finish:
            op = data.source_op[j]
            break
    while op >= 0 and st.res[op, F_END] < NEVER:
        cause = _cause(data, st, op)
        delay = st.res[op, F_END] - fixed.end[op]
        if cause >= 0:
            delay -= st.res[cause, F_END] - fixed.end[cause]
        seen.times_late[order, op] += 1
        seen.added[order, op] += delay
        op = cause


@compiled
def time_draws(data, st, calm, cuts, fixed, drawn, seen, first, passing, keep_lost):
    """Time the draws from ``first`` on; returns the first that did not fit into the bookings' room, or how many there are.

    With ``passing`` 1 a machine that waits does meanwhile what comes later and can go. With ``keep_lost`` 0 a draw in which something found no place is only marked, to be timed again with longer calendars.
    """
    for d in range(first, len(drawn.run)):
        _set_times(data, fixed, drawn, d)
        break_down(calm, fixed.attended, cuts, drawn.breakdown_gaps, drawn.repairs, d)
        stay_away(calm, cuts, drawn.absence_gaps, drawn.absences, d)
        cut_hours(calm, cuts, data.lines)
        _name(data, fixed, cuts)
        lost = time_list(data, st, fixed.sequence, fixed.sequence, fixed.choice, 0, passing == 1)
        if st.full[0] == 1:
            return d
        seen.lost[d] = 1 if lost > 0 else 0
        if lost > 0 and keep_lost == 0:
            continue
        for op in range(len(data.op)):
            seen.end[d, op] = min(st.res[op, F_END], NEVER)
        for order in range(len(data.order)):
            if order_end(data, st, order) > data.order[order].due:
                _add_way(data, st, fixed, seen, order)
    return len(drawn.run)
