"""A whole list timed: each operation in turn is tried, booked, and its cost counted."""

from __future__ import annotations

from planner.by_ref import by_ref
from planner.compiling import compiled, inner
from planner.timetable.arrays import WHY_BEFORE, WHY_COMPONENT, WHY_MACHINE, WHY_RELEASE, WHY_VAN
from planner.timetable.lines import after, first_open
from planner.timetable.state import (
    ALONE,
    F_ALT,
    F_ASK,
    F_ASKED,
    F_BURSTS,
    F_CHG,
    F_E1,
    F_E2,
    F_END,
    F_EQ,
    F_FOC,
    F_FOE,
    F_FOP,
    F_FOS,
    F_HELD,
    F_HOLD,
    F_MACHINE,
    F_ON,
    F_P1,
    F_P2,
    F_RUN,
    F_RUN_END,
    F_S1,
    F_S2,
    F_SETUP,
    F_START,
    F_STINTS,
    F_SUBS,
    F_TRIP,
    F_WHY,
    FIELDS,
    FIRST_OFF,
    book_in,
    join_machine,
    placed,
    roll_back,
)
from planner.timetable.trial import NOBODY, arrivals, changeover, hand_work, moved, note_person, same_key, try_on
from planner.work import NEVER, Kind

MACHINE, MANUAL, OUTSIDE, WAIT = int(Kind.MACHINE), int(Kind.MANUAL), int(Kind.OUTSIDE), int(Kind.WAIT)


@inner
def lower_bound(data, st, op):
    """Release, pins, receipts and components: ``F_WHY``/``F_ON`` say which is the latest."""
    now = st.now
    t, now[F_WHY], now[F_ON] = data.op[op].earliest, data.op[op].earliest_why, -1
    for i in range(data.op[op].need_lo, data.op[op].need_hi):
        if st.res[data.need_op[i], F_END] > t:
            t, now[F_WHY], now[F_ON] = st.res[data.need_op[i], F_END], WHY_COMPONENT, data.need_op[i]
    return t


@compiled
def has_length(data, op, alt):
    set_min = data.op[op].setup_left if data.op[op].running == 1 else data.alt[alt].setup_min
    return set_min > 0 or data.alt[alt].run_min > 0 or data.op[op].first_off_skill >= 0


@inner
def copy_trial(now, stint, burst, to, to_stint, to_burst):
    for i in range(FIELDS):
        to[i] = now[i]
    for i in range(now[F_STINTS]):
        for j in range(3):
            to_stint[i, j] = stint[i, j]
    for i in range(now[F_BURSTS]):
        for j in range(2):
            to_burst[i, j] = burst[i, j]


APPEND, PLACE, AGAIN = 0, 1, 2  # behind the last on the machine; into the first gap; where it stands already
NO_LINE = -2  # in place of an operation before: no machine is taken


@inner
def time_op(data, st, op, choice, mode):
    """Time one operation. ``choice``: its alternative, or -1 for the one that ends soonest. False: never.

    It is booked as well, but for ``AGAIN``: then the bookings that it has are the caller's to change.
    """
    lower = lower_bound(data, st, op)
    why, why_on = st.now[F_WHY], st.now[F_ON]
    if data.op[op].out == 1:
        return set_plain(data, st, op, 0, data.op[op].back, WHY_RELEASE, -1)
    if lower >= NEVER:
        return False
    if data.op[op].kind == OUTSIDE:
        return time_outside(data, st, op, lower, why, why_on)
    prev = data.op[op].before
    if data.op[op].kind == WAIT or data.op[op].alt_lo == data.op[op].alt_hi:
        ready = moved(data, op, -1, st.res[prev, F_END]) if prev >= 0 else 0
        if ready >= NEVER:
            return False
        if ready > lower:
            lower, why, why_on = ready, WHY_BEFORE, prev
        return set_plain(data, st, op, lower, lower, why, why_on)
    best_end, best_prev = NEVER, -1
    a, b = data.op[op].alt_lo, data.op[op].alt_hi
    if choice >= 0:
        a, b = choice, choice + 1
    for alt in range(a, b):
        end, on_prev = try_places(data, st, op, alt, lower, why, why_on, mode)
        if end < best_end or (end == best_end and b - a == 1):
            best_end, best_prev = end, on_prev
            if b - a > 1:
                copy_trial(st.now, st.stint, st.now_burst, st.best, st.best_stint, st.best_burst)
    if best_end >= NEVER:
        return False
    if b - a > 1:
        copy_trial(st.best, st.best_stint, st.best_burst, st.now, st.stint, st.now_burst)
    st.now[F_RUN_END] = best_end
    if best_prev != NO_LINE and mode != AGAIN:
        join_machine(st, st.now[F_MACHINE], op, best_prev)
    settle(data, st, op)
    if mode != AGAIN and st.now[F_MACHINE] >= 0:
        book_people(data, st, op)
        book_things(data, st, op)
    return True


@inner
def time_plain(data, st, op, alt):
    """As :func:`time_op` where ``op`` stands on a machine already, in short, for a run that needs nothing else: what
    :func:`try_places` and what it calls come to there. False, and nothing is changed: it has to go the long way."""
    row, machine, prev = st.res[op], data.alt[alt].machine, data.op[op].before
    t = lower_bound(data, st, op)
    why, on = st.now[F_WHY], st.now[F_ON]
    if prev >= 0:
        ready = moved(data, op, machine, st.res[prev, F_END])
        if ready > t:
            t, why, on = ready, WHY_BEFORE, prev
    prev = placed(st, st.prev[op])
    if prev >= 0 and st.res[prev, F_RUN_END] > t:
        t, why, on = st.res[prev, F_RUN_END], WHY_MACHINE, prev
    at = first_open(data.lines, data.machine[machine].line, t) if t < NEVER else NEVER
    end = after(data.lines, data.alt[alt].line, at, data.alt[alt].run_min) if at < NEVER else NEVER
    if end >= NEVER:
        return False
    row[F_ALT], row[F_MACHINE], row[F_WHY], row[F_ON] = alt, machine, why, on
    row[F_START], row[F_RUN], row[F_EQ], row[F_ASK], row[F_ASKED] = at, at, at, at, at
    row[F_RUN_END], row[F_END] = end, end + data.op[op].wait_min
    st.burst[data.op[op].burst_lo, 0] = at
    return True


@inner
def try_places(data, st, op, alt, lower, why, why_on, mode):
    """Try ``op`` after the last on the machine, in the first gap that takes it, or where it stands.

    Returns the run's end and the operation before it on the machine (-1: none; ``NO_LINE``: it takes no machine).
    """
    machine, prev_op = data.alt[alt].machine, data.op[op].before
    st.now[F_WHY], st.now[F_ON] = why, why_on
    st.now[F_SUBS] = arrivals(data, st, op, machine)
    ready = st.sub_t[0]
    if ready >= NEVER:
        return NEVER, NO_LINE
    if data.op[op].ahead == 0 and ready > lower:
        st.now[F_WHY], st.now[F_ON] = WHY_BEFORE, prev_op
    if not has_length(data, op, alt):
        ready = moved(data, op, -1, st.res[prev_op, F_END]) if prev_op >= 0 else 0
        t = 0 if data.op[op].running == 1 else max(lower, ready)
        st.now[F_ALT], st.now[F_MACHINE] = data.alt[alt].plain, -1
        st.now[F_SETUP], st.now[F_CHG], st.now[F_P1], st.now[F_P2], st.now[F_FOP] = 0, 0, -2, -2, -1
        st.now[F_START], st.now[F_RUN], st.now[F_EQ], st.now[F_STINTS], st.now[F_BURSTS] = t, t, t, 0, 0
        return t, NO_LINE
    if mode != PLACE:
        prev = st.last[machine] if mode == APPEND else st.prev[op]
        return try_after(data, st, op, alt, placed(st, prev), lower, ready), prev
    prev, follower = -1, st.first[machine]
    why, why_on = st.now[F_WHY], st.now[F_ON]
    while follower >= 0:
        st.now[F_WHY], st.now[F_ON] = why, why_on
        into = max(lower, data.op[op].gap_from)
        free = max(into, st.res[prev, F_RUN_END]) if prev >= 0 else into
        if st.never[follower] == 0 and max(free, ready) < st.res[follower, F_START]:
            end = try_after(data, st, op, alt, placed(st, prev), into, ready)
            if leaves_follower(data, st, op, placed(st, prev), follower, machine, end):
                return end, prev
        prev, follower = follower, st.next[follower]
    st.now[F_WHY], st.now[F_ON] = why, why_on
    return try_after(data, st, op, alt, placed(st, prev), lower, ready), prev


@inner
def try_after(data, st, op, alt, prev, lower, ready):
    """Try ``op`` after ``prev`` on its machine; returns the run's end."""
    free = lower
    if prev >= 0 and st.res[prev, F_RUN_END] > free:
        free = st.res[prev, F_RUN_END]
        if free > ready or data.op[op].ahead == 1:
            st.now[F_WHY], st.now[F_ON] = WHY_MACHINE, prev
    end = try_on(data, st, op, alt, prev, free, ready)
    if end < NEVER:
        note_person(data, st, op, alt, max(free, 0 if data.op[op].ahead == 1 else ready))
    return end


@inner
def leaves_follower(data, st, op, prev, follower, machine, end):
    """Would the operation after the gap keep its start and its changeover?"""
    if end > st.res[follower, F_START] or data.op[follower].running == 1:
        return False
    if same_key(data, follower, prev, machine) or data.op[op].key == data.op[follower].key:
        return False
    return changeover(data, follower, op, machine) == st.res[follower, F_CHG]


@inner
def set_plain(data, st, op, start, run_end, why, why_on):
    """Times of an operation that takes no machine and no person."""
    row = st.res[op]
    for i in range(FIELDS):
        row[i] = 0
    row[F_MACHINE], row[F_ALT], row[F_TRIP], row[F_P1], row[F_P2], row[F_FOP] = -1, -1, -1, -2, -2, -1
    row[F_START], row[F_RUN], row[F_EQ], row[F_RUN_END] = start, start, start, run_end
    row[F_END], row[F_WHY], row[F_ON] = run_end + data.op[op].wait_min, why, why_on
    return True


@inner
def has_room(data, st, op, run):
    """Do the pieces of ``op`` go on ``run`` beside those of operations before it in the list?"""
    room = data.run_room[run] - data.op[op].pieces
    if st.van_used[run] <= room:
        return True
    used = 0
    for i in range(len(data.outside)):
        other = data.outside[i]
        trip = st.res[other, F_TRIP]
        if trip >= 0 and data.trip[trip].run == run and st.place[other] < st.place[op]:
            used += data.op[other].pieces
    return used <= room


@inner
def time_outside(data, st, op, lower, why, why_on):
    """Rule 8: the first collection with room whose cut-off the batch makes."""
    prev = data.op[op].before
    ready = moved(data, op, -1, st.res[prev, F_END]) if prev >= 0 else 0
    if ready > lower:
        lower, why, why_on = ready, WHY_BEFORE, prev
    if lower >= NEVER:
        return False
    service = data.op[op].service
    a, b = data.trip_lo[service], data.trip_lo[service + 1]
    hi = b
    while a < hi:
        mid = (a + hi) >> 1
        if data.trip[mid].collect >= lower:
            hi = mid
        else:
            a = mid + 1
    late = False  # is there one that it makes, but without room?
    for trip in range(a, b):
        if data.trip[trip].cutoff < lower:
            continue  # by collection; a van that comes later may want it sooner
        run = data.trip[trip].run
        if has_room(data, st, op, run):
            set_plain(
                data,
                st,
                op,
                data.trip[trip].collect,
                data.trip[trip].back,
                WHY_VAN if late else why,
                -1 if late else why_on,
            )
            st.res[op, F_TRIP] = trip
            st.van_used[run] += data.op[op].pieces
            return True
        late = True
    return False


@inner
def settle(data, st, op):
    """Make what was tried last the times of ``op``."""
    now = st.now
    now[F_END], now[F_TRIP] = now[F_RUN_END] + data.op[op].wait_min, -1
    # what earlier tries left behind, so that equal times are equal rows
    if now[F_P1] < NOBODY:
        now[F_S1], now[F_E1] = 0, 0
    if now[F_P2] < NOBODY:
        now[F_S2], now[F_E2] = 0, 0
    if now[F_FOP] < 0:
        now[F_FOC], now[F_FOS], now[F_FOE] = 0, 0, 0
    for i in range(FIELDS):
        st.res[op, i] = now[i]
    at_burst = data.op[op].burst_lo
    for i in range(now[F_BURSTS]):
        st.burst[at_burst + i, 0] = st.now_burst[i, 0]
        st.burst[at_burst + i, 1] = st.now_burst[i, 1]


@inner
def book_things(data, st, op):
    for i in range(data.op[op].eq_lo, data.op[op].eq_hi):
        book_in(st.things, data.eq_what[i], st.res[op, F_EQ], st.res[op, F_RUN_END], op, data.eq_units[i])


@inner
def book_people(data, st, op):
    """Rule 3's lines: setups and ordinary manual work keep out everything; interruptible work only its like."""
    row, ok = st.res[op], True
    for i in range(row[F_STINTS]):
        ok = book_in(st.people, st.stint[i, 0], st.stint[i, 1], st.stint[i, 2], op, hand_work(data, op)) and ok
    for f in (F_P1, F_P2):  # who sets, and from when to when
        if row[f] >= 0:
            ok = book_in(st.people, row[f], row[f + 1], row[f + 2], op, ALONE) and ok
    if row[F_FOP] >= 0 and row[F_FOE] > row[F_FOS]:
        ok = book_in(st.people, row[F_FOP], row[F_FOS], row[F_FOE], op, FIRST_OFF) and ok
    if not ok:
        st.full[0] = 1


@compiled
def time_list(data, st, old, new, choice, k, placing):
    """Time ``new`` from place ``k`` on, given that ``st`` holds ``old`` and both agree before ``k``.

    ``choice[op]`` is the alternative (index into alternatives) or -1. Operations that cannot be placed
    are marked in ``st.never``. Returns how many.
    """
    data, st = by_ref(data), by_ref(st)
    roll_back(data, st, old, k)
    lost = 0
    for i in range(len(new)):
        op = new[i]
        if i >= k:
            st.place[op] = i
            st.never[op] = 0
            if not time_op(data, st, op, choice[op], PLACE if placing else APPEND):
                lose(data, st, op)
                if choice[op] >= 0 and has_length(data, op, choice[op]):
                    join_machine(st, data.alt[choice[op]].machine, op, st.last[data.alt[choice[op]].machine])
        lost += st.never[op]
    return lost


@inner
def lose(data, st, op):
    """``op`` found no place within the known hours. Whoever, and whatever equipment, comes free at any time may give it one."""
    set_plain(data, st, op, NEVER, NEVER, WHY_RELEASE, -1)
    row = st.res[op]
    row[F_END], row[F_ASK], row[F_ASKED], row[F_HOLD], row[F_HELD] = NEVER, -1, NEVER, -1, NEVER
    st.never[op] = 1


@compiled
def order_end(data, st, i):
    t = data.order[i].at
    for j in range(data.order[i].lo, data.order[i].hi):
        t = max(t, st.res[data.source_op[j], F_END])
    return t


@compiled
def late_cost(data, st):
    data, st = by_ref(data), by_ref(st)
    total = 0
    for i in range(len(data.order)):
        late = order_end(data, st, i) - data.order[i].due
        if late > 0:
            total += late * data.order[i].weight
    return total


@compiled
def change_cost(data, st):
    """Price of change against the kept plan."""
    data, st = by_ref(data), by_ref(st)
    total = 0
    for i in range(len(data.kept)):
        op = data.kept[i].op
        machine = st.res[op, F_MACHINE]
        if machine != data.kept[i].machine:
            total += data.kept[i].weight * data.change_machine
            continue
        before = placed(st, st.prev[op])
        if before != data.kept[i].after:
            total += data.kept[i].weight * data.change_place
    return total


@inner
def charge_cost(data, st):
    """Pence of outside charges: shared minimum by service, key and collection, plus line fees. Fills ``st.charge``."""
    for i in range(len(st.charge)):
        st.charge[i, 0] = 0
        st.charge[i, 1] = 0
    total = 0
    for i in range(len(data.outside)):
        total += charge_more(data, st, data.outside[i], st.res[data.outside[i], F_TRIP], 1)
    return total


@inner
def charge_more(data, st, op, trip, sign):
    """Pence that it makes to put ``op`` on ``trip`` (``sign`` 1) or take it off (-1); keeps ``st.charge``."""
    if trip < 0:
        return 0
    group = data.charge[data.op[op].charge_group]
    slot = st.charge[group.lo + trip - data.trip_lo[data.op[op].service]]
    was = slot_cost(group, slot)
    slot[0] += sign * data.op[op].charge_pence
    slot[1] += sign
    return slot_cost(group, slot) - was


@inner
def slot_cost(group, slot):
    return max(group.minimum, slot[0]) + group.fee * slot[1] if slot[1] > 0 else 0


@inner
def in_progress(data, st, b):
    """Minutes from a batch's first start to its end."""
    lo, hi = data.batch[b].lo, data.batch[b].hi
    if lo == hi:
        return 0
    begin = NEVER
    for i in range(lo, hi):
        begin = min(begin, st.res[data.batch_op[i], F_START])
    if data.batch[b].begun == 1:
        begin = 0
    return max(0, st.res[data.batch_op[hi - 1], F_END] - begin)


@compiled
def second_costs(data, st):
    """Work in progress minutes, setup minutes and pence, unweighted."""
    data, st = by_ref(data), by_ref(st)
    wip, setup = 0, 0
    for b in range(len(data.batch)):
        lo, hi = data.batch[b].lo, data.batch[b].hi
        for i in range(lo, hi):
            setup += st.res[data.batch_op[i], F_SETUP]
        wip += in_progress(data, st, b)
    return wip, setup, charge_cost(data, st)
