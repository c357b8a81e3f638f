"""A whole list timed: each operation in turn is tried, booked, and its cost counted."""

from __future__ import annotations

from planner.compiling import compiled, inner
from planner.timetable.arrays import WHY_BEFORE, WHY_COMPONENT, WHY_MACHINE, WHY_RELEASE, WHY_VAN
from planner.timetable.state import (
    F_ALT,
    F_BURSTS,
    F_CHG,
    F_E1,
    F_E2,
    F_END,
    F_EQ,
    F_FOE,
    F_FOP,
    F_FOS,
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
    book_in,
    roll_back,
)
from planner.timetable.trial import arrivals, changeover, moved, note_person, same_key, try_on
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


@inner
def time_op(data, st, op, choice, placing):
    """Time and book one operation. ``choice``: its alternative, or -1 for the one that ends soonest. False: never."""
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
    best_end, best_at = NEVER, 0
    a, b = data.op[op].alt_lo, data.op[op].alt_hi
    if choice >= 0:
        a, b = choice, choice + 1
    for alt in range(a, b):
        end, at = try_places(data, st, op, alt, lower, why, why_on, placing)
        if end < best_end or (end == best_end and b - a == 1):
            best_end, best_at = end, at
            if b - a > 1:
                copy_trial(st.now, st.stint, st.now_burst, st.best, st.best_stint, st.best_burst)
    if best_end >= NEVER:
        return False
    if b - a > 1:
        copy_trial(st.best, st.best_stint, st.best_burst, st.now, st.stint, st.now_burst)
    st.now[F_RUN_END] = best_end
    book(data, st, op, best_at)
    return True


@inner
def try_places(data, st, op, alt, lower, why, why_on, placing):
    """Try ``op`` after the last on the machine or, when placing, in the first gap that takes it.

    Returns the run's end and the place in the machine's order (-1 for a zero-length operation).
    """
    machine, prev_op = data.alt[alt].machine, data.op[op].before
    st.now[F_WHY], st.now[F_ON] = why, why_on
    st.now[F_SUBS] = arrivals(data, st, op, machine)
    ready = st.sub_t[0]
    if ready >= NEVER:
        return NEVER, 0
    if data.op[op].ahead == 0 and ready > lower:
        st.now[F_WHY], st.now[F_ON] = WHY_BEFORE, prev_op
    if not has_length(data, op, alt):
        ready = moved(data, op, -1, st.res[prev_op, F_END]) if prev_op >= 0 else 0
        t = 0 if data.op[op].running == 1 else max(lower, ready)
        st.now[F_ALT], st.now[F_MACHINE] = alt, -1
        st.now[F_SETUP], st.now[F_CHG], st.now[F_P1], st.now[F_P2], st.now[F_FOP] = 0, 0, -2, -2, -1
        st.now[F_START], st.now[F_RUN], st.now[F_EQ], st.now[F_STINTS], st.now[F_BURSTS] = t, t, t, 0, 0
        return t, -1
    n = st.seq_n[machine]
    why, why_on = st.now[F_WHY], st.now[F_ON]
    for at in range(0 if placing else n, n + 1):
        prev = st.seq[machine, at - 1] if at > 0 else -1
        free = lower
        st.now[F_WHY], st.now[F_ON] = why, why_on
        if prev >= 0 and st.res[prev, F_RUN_END] > free:
            free = st.res[prev, F_RUN_END]
            if free > ready or data.op[op].ahead == 1:
                st.now[F_WHY], st.now[F_ON] = WHY_MACHINE, prev
        if at < n and max(free, ready) >= st.res[st.seq[machine, at], F_START]:
            continue
        end = try_on(data, st, op, alt, prev, free, ready)
        if at < n and not leaves_follower(data, st, op, prev, st.seq[machine, at], machine, end):
            continue
        if end < NEVER:
            note_person(data, st, op, alt, max(free, 0 if data.op[op].ahead == 1 else ready))
        return end, at
    return NEVER, 0


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
        if data.trip[mid].cutoff >= lower:
            hi = mid
        else:
            a = mid + 1
    for trip in range(a, b):
        run = data.trip[trip].run
        if st.van_used[run] + data.op[op].pieces <= data.run_room[run]:
            late = trip > a
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
    return False


@inner
def book(data, st, op, at):
    """Make what was tried last real."""
    now = st.now
    machine = now[F_MACHINE]
    now[F_END], now[F_TRIP] = now[F_RUN_END] + data.op[op].wait_min, -1
    for i in range(FIELDS):
        st.res[op, i] = now[i]
    at_burst = data.op[op].burst_lo
    for i in range(now[F_BURSTS]):
        st.burst[at_burst + i, 0] = st.now_burst[i, 0]
        st.burst[at_burst + i, 1] = st.now_burst[i, 1]
    if machine < 0:
        return
    book_people(data, st, op)
    for i in range(data.op[op].eq_lo, data.op[op].eq_hi):
        book_in(st.things, data.eq_what[i], now[F_EQ], now[F_RUN_END], op, data.eq_units[i])
    n = st.seq_n[machine]
    for i in range(n, at, -1):
        st.seq[machine, i] = st.seq[machine, i - 1]
    st.seq[machine, at] = op
    st.seq_n[machine] = n + 1


@inner
def book_people(data, st, op):
    """Rule 3's lines: setups and ordinary manual work keep out everything; interruptible work only its like."""
    now, ok = st.now, True
    if data.op[op].kind == MANUAL:
        for i in range(now[F_STINTS]):
            p, s, e = st.stint[i, 0], st.stint[i, 1], st.stint[i, 2]
            ok = book_in(st.setters, p, s, e, op, 1) and ok
            if data.op[op].stretched == 0:
                ok = book_in(st.approvals, p, s, e, op, 1) and ok
    if data.op[op].kind != MANUAL and now[F_SETUP] > 0:
        for k in range(2):
            p = now[F_P1] if k == 0 else now[F_P2]
            s, e = (now[F_S1], now[F_E1]) if k == 0 else (now[F_S2], now[F_E2])
            if p >= 0:
                ok = book_in(st.setters, p, s, e, op, 1) and ok
                ok = book_in(st.approvals, p, s, e, op, 1) and ok
    if now[F_FOP] >= 0 and now[F_FOE] > now[F_FOS]:
        ok = book_in(st.approvals, now[F_FOP], now[F_FOS], now[F_FOE], op, 1) and ok
    if not ok:
        st.full[0] = 1


@inner
def late_so_far(data, st, k):
    """Weighted minutes late that the operations before place ``k`` make certain; fills ``st.order_late``."""
    total = 0
    for i in range(len(data.order)):
        end = data.order[i].at
        for j in range(data.order[i].lo, data.order[i].hi):
            if st.place[data.source_op[j]] < k:
                end = max(end, st.res[data.source_op[j], F_END])
        st.order_late[i] = max(0, end - data.order[i].due)
        total += st.order_late[i] * data.order[i].weight
    return total


@inner
def later_now(data, st, op):
    """Weighted minutes late that the end of ``op`` adds."""
    total = 0
    for j in range(data.feeds_lo[op], data.feeds_lo[op + 1]):
        i = data.feeds[j]
        late = st.res[op, F_END] - data.order[i].due
        if late > st.order_late[i]:
            total += (late - st.order_late[i]) * data.order[i].weight
            st.order_late[i] = late
    return total


@compiled
def time_list(data, st, old, new, choice, k, placing, never, cap):
    """Time ``new`` from place ``k`` on, given that ``st`` holds ``old`` and both agree before ``k``.

    ``choice[op]`` is the alternative (index into alternatives) or -1. Operations that cannot be placed
    are marked in ``never``. Returns how many; or -1, the list timed in part, as soon as the orders are sure to be late
    by more than ``cap`` weighted minutes.
    """
    roll_back(data, st, old, k)
    lost, late = 0, late_so_far(data, st, k)
    for i in range(len(new)):
        if i < k:
            lost += never[new[i]]
            continue
        op = new[i]
        st.place[op] = i
        never[op] = 0
        if not time_op(data, st, op, choice[op], placing):
            set_plain(data, st, op, NEVER, NEVER, WHY_RELEASE, -1)
            st.res[op, F_END] = NEVER
            never[op] = 1
            lost += 1
        late += later_now(data, st, op)
        if late > cap:
            return -1
    return lost


@compiled
def order_end(data, st, i):
    t = data.order[i].at
    for j in range(data.order[i].lo, data.order[i].hi):
        t = max(t, st.res[data.source_op[j], F_END])
    return t


@compiled
def late_cost(data, st):
    total = 0
    for i in range(len(data.order)):
        late = order_end(data, st, i) - data.order[i].due
        if late > 0:
            total += late * data.order[i].weight
    return total


@compiled
def change_cost(data, st):
    """Price of change against the kept plan."""
    total = 0
    for i in range(len(data.kept)):
        op = data.kept[i].op
        machine = st.res[op, F_MACHINE]
        if machine != data.kept[i].machine:
            total += data.change_machine
            continue
        before = -1
        for j in range(st.seq_n[machine]):
            if st.seq[machine, j] == op:
                break
            before = st.seq[machine, j]
        if before != data.kept[i].after:
            total += data.change_place
    return total


@inner
def charge_cost(data, st):
    """Pence of outside charges: shared minimum by service, key and collection, plus line fees."""
    total = 0
    for i in range(len(st.charge)):
        st.charge[i, 0] = 0
        st.charge[i, 1] = 0
    for op in range(len(data.op)):
        if st.res[op, F_TRIP] >= 0:
            slot = data.charge[data.op[op].charge_group].lo + st.res[op, F_TRIP] - data.trip_lo[data.op[op].service]
            st.charge[slot, 0] += data.op[op].charge_pence
            st.charge[slot, 1] += 1
    for g in range(len(data.charge)):
        for slot in range(data.charge[g].lo, data.charge[g].hi):
            if st.charge[slot, 1] > 0:
                total += max(data.charge[g].minimum, st.charge[slot, 0]) + data.charge[g].fee * st.charge[slot, 1]
    return total


@compiled
def second_costs(data, st):
    """Work in progress minutes, setup minutes and pence, unweighted."""
    wip, setup = 0, 0
    for b in range(len(data.batch)):
        lo, hi = data.batch[b].lo, data.batch[b].hi
        if lo == hi:
            continue
        begin = NEVER
        for i in range(lo, hi):
            begin = min(begin, st.res[data.batch_op[i], F_START])
            setup += st.res[data.batch_op[i], F_SETUP]
        if data.batch[b].begun == 1:
            begin = 0
        wip += max(0, st.res[data.batch_op[hi - 1], F_END] - begin)
    return wip, setup, charge_cost(data, st)
