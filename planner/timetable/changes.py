"""A changed list timed by what the change touches: all other operations keep their times.

An operation is timed again when something that its times were made from has changed: what it waits for, what stands
before it on its machine, or a booking of people or equipment within the span in which it looked at them. Each is timed
at most once, in the order of the list, so the outcome is that of timing the whole list. Costs are kept by differences;
:func:`undo` brings all back.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from planner.by_ref import by_ref
from planner.compiling import compiled, inner
from planner.timetable.arrays import Data
from planner.timetable.kernel import (
    AGAIN,
    MANUAL,
    OUTSIDE,
    change_cost,
    charge_cost,
    charge_more,
    in_progress,
    lose,
    order_end,
    time_op,
    time_plain,
)
from planner.timetable.state import (
    ALONE,
    F_ASK,
    F_ASKED,
    F_BURSTS,
    F_E1,
    F_E2,
    F_END,
    F_EQ,
    F_FOE,
    F_FOP,
    F_FOS,
    F_HELD,
    F_HOLD,
    F_MACHINE,
    F_P1,
    F_P2,
    F_RUN_END,
    F_S1,
    F_S2,
    F_SETUP,
    F_START,
    F_STINTS,
    F_TRIP,
    FIELDS,
    FIRST_OFF,
    State,
    first_from,
    rebook,
)
from planner.timetable.trial import hand_work

T_LATE, T_CHANGE, T_WIP, T_SETUP, T_PENCE, T_LOST = 0, 1, 2, 3, 4, 5
TERMS = 6
SPANS = 48  # changed spans of bookings told apart for each skill and thing; more are counted as one
C_OPS, C_STINTS, C_ORDERS, C_BATCHES, C_STAMP, C_SPANS = 0, 1, 2, 3, 4, 5
BLOCK = 6  # places are looked over by blocks of 64


class Touched(NamedTuple):
    """What a change touches, and what was there before it."""

    flag: np.ndarray  # by place: to be timed again
    block: np.ndarray  # how many such in each block of places
    ops: np.ndarray  # operations timed again, in order
    was: np.ndarray  # [operation, field] as it was before
    was_never: np.ndarray
    was_burst: np.ndarray
    was_stint: np.ndarray  # [n, 3] person, start, end, by operation in order of ``ops``
    moved: np.ndarray  # by operation, the change that moved it last in the list
    span: np.ndarray  # [skill or thing, SPANS, 2]
    span_n: np.ndarray
    hull: np.ndarray  # [skill or thing, 2]
    orders: np.ndarray  # orders whose end may have changed
    order_at: np.ndarray  # by order, the change that touched it last
    order_late: np.ndarray  # by order, minutes late
    order_was: np.ndarray
    batches: np.ndarray
    batch_at: np.ndarray
    batch_wip: np.ndarray
    batch_was: np.ndarray
    sure: np.ndarray  # by order, minutes late that it will be whatever comes after
    sure_at: np.ndarray  # by order, the change of which that is
    counts: np.ndarray  # C_*
    total: np.ndarray  # cost terms, unweighted but for T_LATE and T_CHANGE
    total_was: np.ndarray


def make_touched(data: Data, state: State) -> Touched:
    ops, orders, batches = len(data.op), len(data.order), len(data.batch)
    rows = max(1, len(data.skill_lo) - 1 + len(data.eq_count))

    def zeros(*shape: int) -> np.ndarray:
        return np.zeros(shape, np.int64)

    return Touched(
        flag=np.zeros(ops + 1, np.int8), block=zeros((ops >> BLOCK) + 2), ops=zeros(ops),
        was=zeros(ops, FIELDS), was_never=zeros(ops), was_burst=np.zeros_like(state.burst),
        was_stint=zeros(state.people.at.size, 3), moved=zeros(ops), span=zeros(rows, SPANS, 2), span_n=zeros(rows),
        hull=zeros(rows, 2), orders=zeros(orders), order_at=zeros(orders), order_late=zeros(orders),
        order_was=zeros(orders), batches=zeros(batches), batch_at=zeros(batches), batch_wip=zeros(batches),
        batch_was=zeros(batches), sure=zeros(orders), sure_at=zeros(orders), counts=zeros(6), total=zeros(TERMS), total_was=zeros(TERMS),
    )  # fmt: skip


@compiled
def count_costs(data, st, ch):
    """All cost terms of what was timed last, from nothing."""
    data, st, ch = by_ref(data), by_ref(st), by_ref(ch)
    late, wip, setup, lost = 0, 0, 0, 0
    for i in range(len(data.order)):
        ch.order_late[i] = max(0, order_end(data, st, i) - data.order[i].due)
        late += ch.order_late[i] * data.order[i].weight
    for b in range(len(data.batch)):
        ch.batch_wip[b] = in_progress(data, st, b)
        wip += ch.batch_wip[b]
    for op in range(len(data.op)):
        if data.op[op].planned == 1:
            setup += st.res[op, F_SETUP]
            lost += st.never[op]
    ch.total[T_LATE], ch.total[T_CHANGE], ch.total[T_WIP] = late, change_cost(data, st), wip
    ch.total[T_SETUP], ch.total[T_PENCE], ch.total[T_LOST] = setup, charge_cost(data, st), lost


@inner
def begin(ch):
    """Forget the last change."""
    counts = ch.counts
    if counts[C_SPANS] > 0:
        for r in range(len(ch.span_n)):
            ch.span_n[r] = 0
    stamp = counts[C_STAMP] + 1
    for i in range(len(counts)):
        counts[i] = 0
    counts[C_STAMP] = stamp
    for i in range(TERMS):
        ch.total_was[i] = ch.total[i]


@inner
def flag(st, ch, op):
    """``op`` is to be timed again."""
    i = st.place[op]
    if ch.flag[i] == 0:
        ch.flag[i] = 1
        ch.block[i >> BLOCK] += 1


@inner
def flag_on_machine(st, ch, op):
    """``op`` and, where it found no place, those after it on its machine up to the first that did."""
    while op >= 0:
        flag(st, ch, op)
        if st.never[op] == 0:
            return
        op = st.next[op]


@inner
def _mark(ch, row, start, end):
    """Bookings of a skill or thing have changed within ``[start, end)``."""
    n = ch.span_n[row]
    ch.counts[C_SPANS] += 1
    if n == 0:
        ch.hull[row, 0], ch.hull[row, 1] = start, end
    else:
        ch.hull[row, 0], ch.hull[row, 1] = min(ch.hull[row, 0], start), max(ch.hull[row, 1], end)
    if n < SPANS:
        ch.span[row, n, 0], ch.span[row, n, 1] = start, end
        ch.span_n[row] = n + 1
    else:
        ch.span[row, n - 1, 0] = min(ch.span[row, n - 1, 0], start)
        ch.span[row, n - 1, 1] = max(ch.span[row, n - 1, 1], end)


@inner
def _mark_person(data, ch, p, start, end):
    if p >= 0:
        for i in range(data.person_lo[p], data.person_lo[p + 1]):
            _mark(ch, data.person_skill[i], start, end)


@inner
def _mark_things(data, ch, op, start, end):
    first = len(data.skill_lo) - 1
    if start < end:
        for i in range(data.op[op].eq_lo, data.op[op].eq_hi):
            _mark(ch, first + data.eq_what[i], start, end)


@inner
def _hit(ch, row, start, end):
    """Did bookings change within ``[start, end]``?"""
    if ch.span_n[row] == 0 or ch.hull[row, 0] > end or ch.hull[row, 1] <= start:
        return False
    for i in range(ch.span_n[row]):
        if ch.span[row, i, 0] <= end and ch.span[row, i, 1] > start:
            return True
    return False


@inner
def _touched(data, st, ch, op):
    """Did anything change among the bookings that ``op`` looked at?"""
    row = data.op[op]
    if row.shared == 0:
        return False
    ask, asked = st.res[op, F_ASK], st.res[op, F_ASKED]
    if asked > ask:
        if row.skill >= 0 and _hit(ch, row.skill, ask, asked):
            return True
        if row.first_off_skill >= 0 and _hit(ch, row.first_off_skill, ask, asked):
            return True
    for i in range(row.eq_lo, row.eq_hi):
        if _hit(ch, len(data.skill_lo) - 1 + data.eq_what[i], st.res[op, F_HOLD], st.res[op, F_HELD]):
            return True
    return False


@inner
def note_moved(data, st, ch, op, k):
    """``op`` changes its place in the list, from place ``k`` on: it is timed again, and others may see its bookings or no
    longer see them."""
    ch.moved[op] = ch.counts[C_STAMP]
    flag(st, ch, op)
    row = st.res[op]
    if data.op[op].kind == OUTSIDE:
        _flag_outside(data, st, ch, k, row[F_TRIP])
    if data.op[op].shared == 0 or row[F_MACHINE] < 0:
        return
    if data.op[op].kind == MANUAL:
        for i in range(data.skill_lo[data.op[op].skill], data.skill_lo[data.op[op].skill + 1]):
            _mark_person(data, ch, data.skill_person[i], row[F_START], row[F_RUN_END])
    elif row[F_SETUP] > 0:
        _mark_person(data, ch, row[F_P1], row[F_S1], row[F_E1])
        _mark_person(data, ch, row[F_P2], row[F_S2], row[F_E2])
    if row[F_FOP] >= 0:
        _mark_person(data, ch, row[F_FOP], row[F_FOS], row[F_FOE])
    _mark_things(data, ch, op, row[F_EQ], row[F_RUN_END])


@inner
def _flag_outside(data, st, ch, k, trip):
    """Where the van's room is limited, all outside steps from place ``k`` of the list on may change."""
    if trip < 0 or data.run_room[data.trip[trip].run] >= 1 << 60:
        return
    for i in range(len(data.outside)):
        if st.place[data.outside[i]] >= k:
            flag(st, ch, data.outside[i])


@inner
def _remember(data, st, ch, op):
    """Write down what ``op`` was."""
    ch.ops[ch.counts[C_OPS]] = op
    ch.counts[C_OPS] += 1
    row = st.res[op]
    for f in range(FIELDS):
        ch.was[op, f] = row[f]
    ch.was_never[op] = st.never[op]
    at = data.op[op].burst_lo
    for i in range(at, at + row[F_BURSTS]):
        ch.was_burst[i, 0], ch.was_burst[i, 1] = st.burst[i, 0], st.burst[i, 1]
    ch.counts[C_STINTS] += _stints_of(data, st, op, ch.was_stint, ch.counts[C_STINTS])


@inner
def _stints_of(data, st, op, into, n):
    """Write the booked hand work of ``op`` into ``into`` (person, start, end) from row ``n`` on. How many rows."""
    row, first = st.res[op], n
    if row[F_STINTS] == 0:
        return 0
    for i in range(data.skill_lo[data.op[op].skill], data.skill_lo[data.op[op].skill + 1]):
        p = data.skill_person[i]
        for j in range(first_from(st.people, p, row[F_START]), st.people.used[p]):
            if st.people.at[p, j].start >= row[F_RUN_END]:
                break
            if st.people.at[p, j].owner == op:
                into[n, 0], into[n, 1], into[n, 2] = p, st.people.at[p, j].start, st.people.at[p, j].end
                n += 1
    return n - first


@inner
def _leave_van(data, st, op):
    trip = st.res[op, F_TRIP]
    if trip >= 0:
        st.van_used[data.trip[trip].run] -= data.op[op].pieces


@inner
def _rebook(data, st, op, was, old, o, row, new, n):
    """Turn the bookings of ``op`` from those of the row ``was``, with its stints from ``old[o]`` on, into those of ``row``,
    with its stints from ``new[n]`` on."""
    ok, what = True, hand_work(data, op)
    for k in range(max(was[F_STINTS], row[F_STINTS])):
        p, s, e = (old[o + k, 0], old[o + k, 1], old[o + k, 2]) if k < was[F_STINTS] else (-1, 0, 0)
        q, t, u = (new[n + k, 0], new[n + k, 1], new[n + k, 2]) if k < row[F_STINTS] else (-1, 0, 0)
        ok = rebook(st.people, p, s, e, q, t, u, op, what) and ok
    for f in (F_P1, F_P2):  # who sets, and from when to when
        ok = rebook(st.people, was[f], was[f + 1], was[f + 2], row[f], row[f + 1], row[f + 2], op, ALONE) and ok
    p, q = was[F_FOP] if was[F_FOS] < was[F_FOE] else -1, row[F_FOP] if row[F_FOS] < row[F_FOE] else -1
    ok = rebook(st.people, p, was[F_FOS], was[F_FOE], q, row[F_FOS], row[F_FOE], op, FIRST_OFF) and ok
    for i in range(data.op[op].eq_lo, data.op[op].eq_hi):
        thing, units = data.eq_what[i], data.eq_units[i]
        p, q = thing if was[F_MACHINE] >= 0 else -1, thing if row[F_MACHINE] >= 0 else -1
        ok = rebook(st.things, p, was[F_EQ], was[F_RUN_END], q, row[F_EQ], row[F_RUN_END], op, units) and ok
    if not ok:
        st.full[0] = 1


@inner
def _people_differ(data, st, ch, op, stints_from):
    """Are other people, or the same at other times, booked for ``op`` than were?"""
    was, row = ch.was[op], st.res[op]
    if ch.moved[op] == ch.counts[C_STAMP] or was[F_MACHINE] < 0 or row[F_MACHINE] < 0:
        return True
    if data.op[op].kind == MANUAL:
        if was[F_STINTS] != row[F_STINTS] or was[F_START] != row[F_START] or was[F_RUN_END] != row[F_RUN_END]:
            return True
        return not _same_stints(st, ch, stints_from, row[F_STINTS])
    for f in range(F_SETUP, F_FOE + 1):
        if was[f] != row[f]:
            return True
    return False


@inner
def _same_stints(st, ch, stints_from, n):
    """Each stint made now was there before (remembered by person, made in order of time)."""
    for i in range(n):
        found = False
        for j in range(stints_from, ch.counts[C_STINTS]):
            was = ch.was_stint[j]
            found = found or (was[0] == st.stint[i, 0] and was[1] == st.stint[i, 1] and was[2] == st.stint[i, 2])
        if not found:
            return False
    return True


@inner
def _mark_differences(data, st, ch, op, stints_from):
    """Note within which spans the bookings of people and things have changed with ``op``."""
    was, row = ch.was[op], st.res[op]
    if _people_differ(data, st, ch, op, stints_from):
        for j in range(stints_from, ch.counts[C_STINTS]):
            _mark_person(data, ch, ch.was_stint[j, 0], ch.was_stint[j, 1], ch.was_stint[j, 2])
        if data.op[op].kind == MANUAL:
            for i in range(row[F_STINTS]):
                _mark_person(data, ch, st.stint[i, 0], st.stint[i, 1], st.stint[i, 2])
        else:
            _mark_setting(data, ch, was)
            _mark_setting(data, ch, row)
    if was[F_MACHINE] < 0 or row[F_MACHINE] < 0 or ch.moved[op] == ch.counts[C_STAMP]:
        _mark_things(data, ch, op, was[F_EQ], was[F_RUN_END])
        _mark_things(data, ch, op, row[F_EQ], row[F_RUN_END])
    else:
        _mark_things(data, ch, op, min(was[F_EQ], row[F_EQ]), max(was[F_EQ], row[F_EQ]))
        _mark_things(data, ch, op, min(was[F_RUN_END], row[F_RUN_END]), max(was[F_RUN_END], row[F_RUN_END]))


@inner
def _mark_setting(data, ch, row):
    if row[F_MACHINE] < 0:
        return
    if row[F_SETUP] > 0:
        _mark_person(data, ch, row[F_P1], row[F_S1], row[F_E1])
        _mark_person(data, ch, row[F_P2], row[F_S2], row[F_E2])
    if row[F_FOP] >= 0:
        _mark_person(data, ch, row[F_FOP], row[F_FOS], row[F_FOE])


@inner
def _pass_on(data, st, ch, op):
    """Flag what waits for ``op`` where what it waits for has changed."""
    was, row = ch.was[op], st.res[op]
    lost = ch.was_never[op] != st.never[op]
    if was[F_END] != row[F_END] or lost:
        if data.op[op].after >= 0:
            flag(st, ch, data.op[op].after)
        for i in range(data.op[op].use_lo, data.op[op].use_hi):
            flag(st, ch, data.use_op[i])
        for i in range(data.feeds_lo[op], data.feeds_lo[op + 1]):
            order = data.feeds[i]
            if ch.order_at[order] != ch.counts[C_STAMP]:
                ch.order_at[order] = ch.counts[C_STAMP]
                ch.orders[ch.counts[C_ORDERS]] = order
                ch.counts[C_ORDERS] += 1
    elif data.op[op].after >= 0 and data.op[data.op[op].after].ahead == 1 and _differs(data, st, ch, op):
        flag(st, ch, data.op[op].after)
    if was[F_RUN_END] != row[F_RUN_END] or lost:
        flag_on_machine(st, ch, st.next[op])
    ch.total[T_SETUP] += row[F_SETUP] - was[F_SETUP]
    ch.total[T_LOST] += st.never[op] - ch.was_never[op]
    batch = data.op[op].batch
    if (was[F_START] != row[F_START] or was[F_END] != row[F_END]) and ch.batch_at[batch] != ch.counts[C_STAMP]:
        ch.batch_at[batch] = ch.counts[C_STAMP]
        ch.batches[ch.counts[C_BATCHES]] = batch
        ch.counts[C_BATCHES] += 1
    if data.op[op].kind == OUTSIDE and was[F_TRIP] != row[F_TRIP]:
        ch.total[T_PENCE] += charge_more(data, st, op, was[F_TRIP], -1) + charge_more(data, st, op, row[F_TRIP], 1)
        _flag_outside(data, st, ch, st.place[op] + 1, was[F_TRIP])
        _flag_outside(data, st, ch, st.place[op] + 1, row[F_TRIP])


@inner
def _differs(data, st, ch, op):
    """Is any time of ``op`` (when its sublots are through included), its machine or its reason other than it was?"""
    for f in range(FIELDS):
        if ch.was[op, f] != st.res[op, f]:
            return True
    at = data.op[op].burst_lo
    for i in range(at, at + st.res[op, F_BURSTS]):
        if ch.was_burst[i, 0] != st.burst[i, 0] or ch.was_burst[i, 1] != st.burst[i, 1]:
            return True
    return False


@inner
def _as_before(data, st, ch, op, stints_from):
    """Did ``op`` come out as it was, with the same people?"""
    if ch.was_never[op] != st.never[op] or _differs(data, st, ch, op):
        return False
    return data.op[op].kind != MANUAL or _same_stints(st, ch, stints_from, st.res[op, F_STINTS])


@inner
def time_again(data, st, ch, op, choice):
    """Time ``op`` again and pass on what has changed. What it had booked does not stand in its way, as only what comes before it
    in the list counts; it is moved when the new times are known, which is less work than to take it out and put it in anew."""
    stints_from = ch.counts[C_STINTS]
    _remember(data, st, ch, op)
    if not (_stays_plain(data, st, op, choice) and time_plain(data, st, op, choice)):
        _leave_van(data, st, op)
        st.never[op] = 0
        if not time_op(data, st, op, choice, AGAIN):
            lose(data, st, op)
    if ch.moved[op] != ch.counts[C_STAMP] and _as_before(data, st, ch, op, stints_from):
        ch.counts[C_OPS] -= 1
        ch.counts[C_STINTS] = stints_from
        return
    if data.op[op].shared == 1:
        _rebook(data, st, op, ch.was[op], ch.was_stint, stints_from, st.res[op], st.stint, 0)
        _mark_differences(data, st, ch, op, stints_from)
    _pass_on(data, st, ch, op)


@inner
def _stays_plain(data, st, op, choice):
    """Does ``op`` stand on a machine and need nothing else?"""
    row = data.op[op]
    if row.plain == 0 or row.shared == 1 or choice < 0 or data.alt[choice].run_min == 0:
        return False
    return st.never[op] == 0 and st.res[op, F_MACHINE] >= 0


@inner
def next_touched(data, st, ch, cur, i):
    """The first place from ``i`` on that is to be timed again, or one behind the last. Takes its flag down."""
    while i < len(cur):
        if ch.flag[i] == 0 and ch.counts[C_SPANS] == 0 and ch.block[i >> BLOCK] == 0:
            i = ((i >> BLOCK) + 1) << BLOCK
            continue
        if _is_touched(data, st, ch, cur, i):
            return i
        i += 1
    return len(cur)


@inner
def time_touched(data, st, ch, cur, choice, k):
    """Time again what is flagged, and what that touches, from place ``k`` of the list on; then the cost terms."""
    i = next_touched(data, st, ch, cur, k)
    while i < len(cur):
        time_again(data, st, ch, cur[i], choice[cur[i]])
        i = next_touched(data, st, ch, cur, i + 1)
    count_touched(data, st, ch)


@inner
def time_within(data, st, ch, cur, choice, k, ends, slack, after_place):
    """As :func:`time_touched`, given up where a run at a place after ``after_place`` ends more than ``slack`` minutes after
    its minute in ``ends``. False then: the change can only be undone."""
    i = next_touched(data, st, ch, cur, k)
    while i < len(cur):
        time_again(data, st, ch, cur[i], choice[cur[i]])
        if i > after_place and st.res[cur[i], F_RUN_END] > ends[cur[i]] + slack:
            give_up(ch, i)
            return False
        i = next_touched(data, st, ch, cur, i + 1)
    count_touched(data, st, ch)
    return True


@inner
def _is_touched(data, st, ch, cur, i):
    """Is the operation at place ``i`` to be timed again? Takes its flag down."""
    if ch.flag[i] == 1:
        ch.flag[i] = 0
        ch.block[i >> BLOCK] -= 1
        return True
    return ch.counts[C_SPANS] > 0 and _touched(data, st, ch, cur[i])


@inner
def give_up(ch, k):
    """Leave what is still flagged from place ``k`` on as it was: the change can only be undone."""
    ch.counts[C_ORDERS], ch.counts[C_BATCHES] = 0, 0
    for block in range(k >> BLOCK, len(ch.block)):
        if ch.block[block] > 0:
            for i in range(block << BLOCK, min(len(ch.flag), (block + 1) << BLOCK)):
                ch.flag[i] = 0
            ch.block[block] = 0


@inner
def count_touched(data, st, ch):
    """The cost terms after a change, by what is different."""
    for j in range(ch.counts[C_ORDERS]):
        i = ch.orders[j]
        late = max(0, order_end(data, st, i) - data.order[i].due)
        ch.order_was[i] = ch.order_late[i]
        ch.total[T_LATE] += (late - ch.order_late[i]) * data.order[i].weight
        ch.order_late[i] = late
    for j in range(ch.counts[C_BATCHES]):
        b = ch.batches[j]
        ch.batch_was[b] = ch.batch_wip[b]
        ch.batch_wip[b] = in_progress(data, st, b)
        ch.total[T_WIP] += ch.batch_wip[b] - ch.batch_was[b]
    if len(data.kept) > 0:
        ch.total[T_CHANGE] = change_cost(data, st)


@inner
def undo(data, st, ch):
    """Bring back times, bookings and cost terms as they were before the change (the list is for the caller)."""
    stints_from = 0
    for j in range(ch.counts[C_OPS]):
        op = ch.ops[j]
        if data.op[op].kind == OUTSIDE and ch.was[op, F_TRIP] != st.res[op, F_TRIP]:
            charge_more(data, st, op, st.res[op, F_TRIP], -1)
            charge_more(data, st, op, ch.was[op, F_TRIP], 1)
        if data.op[op].shared == 1:
            _stints_of(data, st, op, st.stint, 0)
            _rebook(data, st, op, st.res[op], st.stint, 0, ch.was[op], ch.was_stint, stints_from)
            stints_from += ch.was[op, F_STINTS]
        _restore(data, st, ch, op)
    for j in range(ch.counts[C_ORDERS]):
        ch.order_late[ch.orders[j]] = ch.order_was[ch.orders[j]]
    for j in range(ch.counts[C_BATCHES]):
        ch.batch_wip[ch.batches[j]] = ch.batch_was[ch.batches[j]]
    for i in range(TERMS):
        ch.total[i] = ch.total_was[i]


@inner
def _restore(data, st, ch, op):
    _leave_van(data, st, op)
    row = st.res[op]
    for f in range(FIELDS):
        row[f] = ch.was[op, f]
    st.never[op] = ch.was_never[op]
    at = data.op[op].burst_lo
    for i in range(at, at + row[F_BURSTS]):
        st.burst[i, 0], st.burst[i, 1] = ch.was_burst[i, 0], ch.was_burst[i, 1]
    if row[F_TRIP] >= 0:
        st.van_used[data.trip[row[F_TRIP]].run] += data.op[op].pieces
