"""One operation on one machine, timed by the rules but not yet booked.

Everything is written into ``st.now`` (fields ``F_*``), ``st.now_burst`` and ``st.stint``. The functions
return ``NEVER`` (or False) when the known calendars are too short. Rule numbers are those
of the list in DEVELOPERS.md.
"""

from __future__ import annotations

from planner.compiling import compiled, inner
from planner.timetable.arrays import WHY_EQUIPMENT, WHY_PERSON
from planner.timetable.lines import after, before, first_open, open_between, window_at
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
    F_WHY,
    FIRST_OFF,
    INTERRUPTIBLE,
    busy_from,
    busy_until,
    first_from,
    nearest,
    short_until,
)
from planner.work import NEVER, Kind

NOBODY = -1  # setting that needs nobody in particular
MANUAL = int(Kind.MANUAL)
TRIES = 100_000  # a guard: each try moves the start to a later booking's end


@inner
def same_key(data, op, prev, machine):
    """Is what stands on the machine (``prev``, or its start state for -1) the same part, revision and step?"""
    return data.op[op].key == (data.op[prev].key if prev >= 0 else data.machine[machine].on_key)


@inner
def changeover(data, op, prev, machine):
    family = data.op[prev].family if prev >= 0 else data.machine[machine].on_family
    return data.changeover[data.machine[machine].group, family, data.op[op].family]


@inner
def cycles_of(data, op, pieces):
    return -(-pieces // data.op[op].per_cycle)


@inner
def run_minutes(data, alt, cycles):
    return -(-cycles * data.alt[alt].cycle_sec // 60)


@compiled
def moved(data, op, machine, t):
    """When what leaves the operation before at ``t`` is there for ``op`` (rule 7); ``machine`` -1: no machine takes it."""
    minutes = data.op[op].move_min
    if minutes == 0 or t >= NEVER:
        return t
    line = data.op[op].move_line if machine >= 0 else data.op[op].idle_line
    if line == -1:
        line = data.machine[machine].line
    return t + minutes if line < 0 else after(data.lines, line, t, minutes)


@inner
def cycles_done_at(data, st, op, cycles):
    """When ``op`` (already timed) has finished that many cycles and, after a first-off, they may leave."""
    alt = st.res[op, F_ALT]
    if alt < 0 or cycles <= 0:
        return st.res[op, F_RUN_END] if cycles > 0 else st.res[op, F_RUN]
    minutes = run_minutes(data, alt, cycles)
    if st.res[op, F_FOP] >= 0 and minutes <= max(1, -(-data.alt[alt].cycle_sec // 60)):
        return st.res[op, F_FOE]
    at = data.op[op].burst_lo
    for i in range(st.res[op, F_BURSTS] - 1, -1, -1):
        if st.burst[at + i, 1] < minutes:
            return after(data.lines, data.alt[alt].line, st.burst[at + i, 0], minutes - st.burst[at + i, 1])
    return st.res[op, F_RUN_END]


@inner
def arrivals(data, st, op, machine):
    """Fill the sublots of ``op``: when each is there and the cycles it brings the run up to. Returns how many."""
    total = cycles_of(data, op, data.op[op].pieces)
    prev = data.op[op].before
    if data.op[op].transfer == 0:
        st.sub_t[0] = moved(data, op, machine, st.res[prev, F_END]) if prev >= 0 else 0
        st.sub_cycles[0] = total
        return 1
    n, q, pieces = 0, data.op[op].transfer, data.op[prev].pieces
    if data.op[op].across > 0:
        st.sub_t[0], st.sub_cycles[0] = 0, data.op[op].across // data.op[op].per_cycle
        n = 1
    sent = 0
    while sent < pieces:
        sent = min(sent + q, pieces)
        there = max(0, min(data.op[op].pieces, data.op[op].across + sent))
        out = cycles_done_at(data, st, prev, cycles_of(data, prev, sent)) + data.op[prev].wait_min
        st.sub_t[n] = moved(data, op, machine, out)
        st.sub_cycles[n] = total if sent == pieces else min(total, there // data.op[op].per_cycle)
        n += 1
    return n


@inner
def find_approver(data, st, op, t):
    """Rule 3: fill who approves the first piece, soonest after ``t``; False when nobody ever can."""
    now, skill = st.now, data.op[op].first_off_skill
    best, minutes = NEVER, data.op[op].first_off_min
    for i in range(data.skill_lo[skill], data.skill_lo[skill + 1]):
        p = data.skill_person[i]
        if data.setter_may_approve == 0 and now[F_SETUP] > 0 and (p == now[F_P1] or p == now[F_P2]):
            continue
        s = t
        while True:
            s = first_open(data.lines, data.person_line[p], s)
            e = after(data.lines, data.person_line[p], s, minutes) if s < NEVER else NEVER
            if e >= best:
                break
            clash = busy_until(st, st.place[op], p, s, max(e, s + 1), FIRST_OFF)
            if clash < 0:
                best = e
                now[F_FOP], now[F_FOS], now[F_FOE] = p, s, e
                break
            s = clash
    return best < NEVER


@inner
def sublot_minutes(data, st, alt, j, total, first):
    """Run minutes that sublot ``j`` and those before it make possible. Only the whole run is rounded up: what is over of a
    minute is worked off with the next sublot (but for the first cycle, where it is to be approved)."""
    if j == st.now[F_SUBS] - 1:
        return total
    minutes = st.sub_cycles[j] * data.alt[alt].cycle_sec // 60
    return max(minutes, first) if st.sub_cycles[j] > 0 else minutes


@inner
def fill_run(data, st, op, alt, t, any_minute):
    """Rules 3 and 4: bursts of the run from ``t`` on. Returns the run's end; fills ``F_RUN`` and the first-off.

    ``any_minute``: a run that was going at the plan start may go on without anybody there.
    """
    now, lines = st.now, data.lines
    attended, hours, total = data.machine[data.alt[alt].machine].line, data.alt[alt].line, data.alt[alt].run_min
    now[F_FOP], now[F_BURSTS] = -1, 0
    if total == 0:
        now[F_RUN] = t
        return t
    needs_approval = data.op[op].first_off_skill >= 0
    first = min(total, max(1, -(-data.alt[alt].cycle_sec // 60))) if needs_approval else 0
    done, n, at = 0, 0, t
    # a run of one minute or one cycle that is to be approved cannot be begun with some of its pieces
    for j in range(now[F_SUBS] - 1 if first == total else 0, now[F_SUBS]):
        minutes = sublot_minutes(data, st, alt, j, total, first)
        if minutes <= done:
            continue
        if n == 0:
            t = max(t, st.sub_t[j])
            at = first_open(lines, hours if any_minute else attended, t)
            now[F_RUN] = at
            st.now_burst[0, 0], st.now_burst[0, 1], n = at, 0, 1
            if needs_approval:
                now[F_FOC] = after(lines, attended, at, first)
                if now[F_FOC] >= NEVER or not find_approver(data, st, op, now[F_FOC]):
                    return NEVER
                at, done = now[F_FOE], first
                if minutes > done:
                    at = first_open(lines, attended, max(at, st.sub_t[j]))
                    st.now_burst[n, 0], st.now_burst[n, 1], n = at, done, n + 1
        elif st.sub_t[j] > at or (needs_approval and n == 1):
            at = first_open(lines, attended, max(at, st.sub_t[j]))
            st.now_burst[n, 0], st.now_burst[n, 1], n = at, done, n + 1
        if at >= NEVER:
            return NEVER
        at = after(lines, hours, at, minutes - done) if minutes > done else at
        done = max(done, minutes)
    now[F_BURSTS] = n
    return at


@inner
def fill_run_unbroken(data, st, op, alt, t, any_minute):
    """As :func:`fill_run`, moved on until the whole run lies in one stretch where it may not pause."""
    end = fill_run(data, st, op, alt, t, any_minute)
    if data.op[op].may_pause == 1 or data.alt[alt].run_min == 0:
        return end
    hours = data.alt[alt].line
    while end < NEVER:
        stretch = data.lines.stretch_end[window_at(data.lines, hours, st.now[F_RUN])]
        if end <= stretch:
            return end
        end = fill_run(data, st, op, alt, max(stretch, st.now[F_RUN] + 1), any_minute)
    return NEVER


@inner
def handed_over(data, st, op, machine, p, s, minutes, best):
    """Rule 2: a setup begun by ``p`` at ``s`` and finished by another; fills the fields if it ends before ``best``."""
    now, lines, line = st.now, data.lines, data.pair_line[machine, p]
    shift_end = lines.stretch_end[window_at(lines, line, s)]
    left = minutes - open_between(lines, line, s, shift_end)
    if left <= 0 or busy_until(st, st.place[op], p, s, shift_end, ALONE) >= 0:
        return best
    left += data.handover
    for i in range(data.skill_lo[data.op[op].skill], data.skill_lo[data.op[op].skill + 1]):
        other = data.skill_person[i]
        line2 = data.pair_line[machine, other]
        if other == p or line2 < 0:
            continue
        t = shift_end
        while True:
            s2 = first_open(lines, line2, t)
            e2 = after(lines, line2, s2, left) if s2 < NEVER else NEVER
            if e2 >= best:
                break
            t = busy_until(st, st.place[op], other, s2, e2, ALONE)
            if t < 0:
                best = e2
                now[F_P1], now[F_S1], now[F_E1] = p, s, shift_end
                now[F_P2], now[F_S2], now[F_E2] = other, s2, e2
                break
    return best


@inner
def fill_setup(data, st, op, alt, t, minutes):
    """Rule 2: the setup that ends soonest from ``t`` on. Returns its end; fills persons and stints."""
    now, lines, machine = st.now, data.lines, data.alt[alt].machine
    now[F_P1], now[F_P2] = -2, -2
    if data.op[op].skill < 0:
        s = first_open(lines, data.machine[machine].line, t)
        now[F_P1], now[F_S1] = NOBODY, s
        now[F_E1] = after(lines, data.machine[machine].line, s, minutes) if s < NEVER else NEVER
        return now[F_E1]
    best, best_start, named = NEVER, -1, data.alt[alt].person
    lo, hi = data.skill_lo[data.op[op].skill], data.skill_lo[data.op[op].skill + 1]
    for i in range(lo, hi):
        p = data.skill_person[i]
        line = data.pair_line[machine, p]
        if line < 0 or (named >= 0 and p != named):
            continue
        s = t
        while True:
            s = first_open(lines, line, s)
            if s >= best or s >= NEVER:
                break
            e = after(lines, line, s, minutes)
            if data.handover >= 0:
                sooner = handed_over(data, st, op, machine, p, s, minutes, min(best, e))
                if sooner < min(best, e):
                    best, best_start = sooner, s
            if e > best and data.handover < 0:
                break
            clash = busy_until(st, st.place[op], p, s, e, ALONE)
            if clash < 0:
                if e < best or (e == best and e < NEVER and s > best_start):
                    best, best_start = e, s
                    now[F_P1], now[F_S1], now[F_E1], now[F_P2] = p, s, e, -2
                break
            s = clash  # with a handover, a later start may still end sooner than what was found
    return best


@inner
def fill_latest_setup(data, st, op, alt, earliest, deadline, minutes):
    """Rule 7: the latest setup within ``[earliest, deadline)``; False when there is none."""
    now, lines, machine = st.now, data.lines, data.alt[alt].machine
    best, named = -1, data.alt[alt].person
    if data.op[op].skill < 0:
        s = before(lines, data.machine[machine].line, deadline, minutes)
        if s < earliest:
            return False
        now[F_P1], now[F_S1], now[F_P2] = NOBODY, s, -2
        now[F_E1] = after(lines, data.machine[machine].line, s, minutes)
        return True
    for i in range(data.skill_lo[data.op[op].skill], data.skill_lo[data.op[op].skill + 1]):
        p = data.skill_person[i]
        line = data.pair_line[machine, p]
        if line < 0 or (named >= 0 and p != named):
            continue
        until = deadline
        while True:
            s = before(lines, line, until, minutes)
            if s < earliest or s <= best:
                break
            e = after(lines, line, s, minutes)
            clash = busy_from(st, st.place[op], p, s, e, ALONE)
            if clash < 0:
                best = s
                now[F_P1], now[F_S1], now[F_E1], now[F_P2] = p, s, e, -2
                break
            until = clash
    return best >= 0


@inner
def fill_machine_times(data, st, op, alt, setup_min, free, ready):
    """Setup and run on a machine that is free from ``free``, work there from ``ready``; returns the run's end."""
    now, running = st.now, data.op[op].running == 1
    any_minute = running and setup_min == 0 and data.op[op].first_off_skill < 0
    now[F_SETUP], now[F_P1], now[F_P2] = setup_min, -2, -2
    begin = free if data.op[op].ahead == 1 else max(free, ready)
    if setup_min == 0:
        end = fill_run_unbroken(data, st, op, alt, max(begin, ready), any_minute)
        now[F_START] = 0 if running else now[F_RUN]
        return end
    set_end = fill_setup(data, st, op, alt, begin, setup_min)
    if set_end >= NEVER:
        return NEVER
    end = fill_run_unbroken(data, st, op, alt, set_end, False)
    if data.op[op].ahead == 1 and now[F_RUN] > set_end and end < NEVER and not running:
        run_start, keep = now[F_RUN], now[F_P1]
        if fill_latest_setup(data, st, op, alt, begin, run_start, setup_min):
            # another setter may bar another approver: the rest is timed again for the setter that was found
            end = fill_run_unbroken(data, st, op, alt, max(now[F_E1], run_start), False) if now[F_P1] != keep else end
    now[F_START] = 0 if running else now[F_S1]
    return end


@inner
def fill_manual_times(data, st, op, alt, setup_min, t):
    """Rule 5: people by turns from ``t`` on; returns the end and fills ``st.stint``."""
    now = st.now
    now[F_SETUP], now[F_P1], now[F_P2], now[F_FOP], now[F_BURSTS] = setup_min, -2, -2, -1, 0
    attended = data.machine[data.alt[alt].machine].line
    while True:
        end = fill_stints(data, st, op, alt, setup_min, t)
        if end >= NEVER or data.op[op].may_pause == 1:
            return end
        stretch = data.lines.stretch_end[window_at(data.lines, attended, now[F_RUN])]
        if end <= stretch:
            return end
        t = stretch


@inner
def hand_work(data, op):
    """What the people of a manual operation are booked for (rule 3)."""
    return INTERRUPTIBLE if data.op[op].stretched == 1 else ALONE


@inner
def fill_stints(data, st, op, alt, setup_min, t):
    now, lines, machine = st.now, data.lines, data.alt[alt].machine
    left, n, start = setup_min + data.alt[alt].run_min, 0, -1
    now[F_RUN] = t
    lo, hi = data.skill_lo[data.op[op].skill], data.skill_lo[data.op[op].skill + 1]
    named, what = data.alt[alt].person, hand_work(data, op)
    to_set = setup_min
    while left > 0:
        best, best_end, who = NEVER, 0, -1
        for i in range(lo, hi):
            p = data.skill_person[i]
            line = data.pair_line[machine, p]
            if line < 0 or (named >= 0 and p != named):
                continue
            s = t
            while True:
                s = first_open(lines, line, s)
                if s > best or s >= NEVER:
                    break
                e = min(lines.end[window_at(lines, line, s)], s + left)
                clash = busy_until(st, st.place[op], p, s, e, what)
                if clash < 0:
                    if s < best or e > best_end:
                        best, best_end, who = s, e, p
                    break
                s = clash
        if who < 0 or n >= len(st.stint):
            return NEVER
        if start < 0:
            start = best
        if to_set >= 0 and (best_end - best > to_set or best_end - best == left):
            now[F_RUN] = best + to_set
            to_set = -1
        elif to_set >= 0:
            to_set -= best_end - best
        st.stint[n, 0], st.stint[n, 1], st.stint[n, 2] = who, best, best_end
        n, left, t = n + 1, left - (best_end - best), best_end
    now[F_START], now[F_STINTS] = start if n > 0 else t, n
    return t


@inner
def fill_times(data, st, op, alt, setup_min, free, ready):
    if data.op[op].kind == MANUAL:
        end = fill_manual_times(data, st, op, alt, setup_min, max(free, ready))
        if data.op[op].running == 1:
            st.now[F_START] = 0
        return end
    return fill_machine_times(data, st, op, alt, setup_min, free, ready)


@inner
def equipment_free_at(data, st, op, start, end):
    """When what is in the way of ``[start, end)`` comes free, or -1 (rule 6)."""
    for i in range(data.op[op].eq_lo, data.op[op].eq_hi):
        what = data.eq_what[i]
        t = short_until(st, st.things, st.place[op], what, start, end, data.eq_units[i], data.eq_count[what])
        if t >= 0:
            return t
    return -1


@inner
def stayed_since(data, st, op, prev, machine):
    """From when the equipment would have to be held if the setup is skipped; -1: it is not on the machine."""
    if prev >= 0:
        return st.res[prev, F_RUN_END]
    for i in range(data.op[op].eq_lo, data.op[op].eq_hi):
        if data.on_eq[machine, data.eq_what[i]] == 0:
            return -1
    return 0


@inner
def fill_plain(data, st, alt, machine, t):
    """A run that needs nothing but its machine: what :func:`fill_run` comes to there, in short."""
    now = st.now
    run_min = data.alt[alt].run_min
    at = first_open(data.lines, data.machine[machine].line, t) if run_min > 0 else t
    now[F_START], now[F_RUN], now[F_EQ], now[F_SETUP] = at, at, at, 0
    now[F_P1], now[F_P2], now[F_FOP], now[F_ASK], now[F_ASKED] = -2, -2, -1, at, at
    now[F_BURSTS] = 1 if run_min > 0 else 0
    st.now_burst[0, 0], st.now_burst[0, 1] = at, 0
    return after(data.lines, data.alt[alt].line, at, run_min) if at < NEVER else NEVER


@inner
def try_on(data, st, op, alt, prev, free, ready):
    """Time ``op`` on alternative ``alt`` after ``prev`` (or the start state, -1); returns the run's end or NEVER.

    ``free``: machine free and release, pins and components there; ``ready``: the batch (or the first sublot) is there.
    """
    now, machine = st.now, data.alt[alt].machine
    now[F_ALT], now[F_MACHINE], now[F_CHG], now[F_STINTS] = data.alt[alt].plain, machine, 0, 0
    if data.op[op].plain == 1:
        return fill_plain(data, st, alt, machine, max(free, ready))
    now[F_ASK] = free if data.op[op].ahead == 1 else max(free, ready)
    now[F_ASKED], now[F_HOLD], now[F_HELD] = now[F_ASK], now[F_ASK], now[F_ASK]
    equipped = data.op[op].eq_lo < data.op[op].eq_hi
    if data.op[op].running == 1:
        end = fill_times(data, st, op, alt, data.op[op].setup_left, 0, 0)
        now[F_EQ] = 0
        return end
    if same_key(data, op, prev, machine):
        since = stayed_since(data, st, op, prev, machine) if equipped else 0
        if since >= 0:
            end = fill_times(data, st, op, alt, 0, free, ready)
            note_asked(data, st, op, since, end)
            now[F_EQ] = since if equipped else now[F_START]
            if end < NEVER and (not equipped or equipment_free_at(data, st, op, since, end) < 0):
                return end
    extra = changeover(data, op, prev, machine)
    for _ in range(TRIES):
        end = fill_times(data, st, op, alt, data.alt[alt].setup_min + extra, free, ready)
        note_asked(data, st, op, now[F_START], end)
        now[F_CHG], now[F_EQ] = extra, now[F_START]
        if end >= NEVER or not equipped:
            break
        t = equipment_free_at(data, st, op, now[F_START], end)
        if t < 0:
            break
        if t >= NEVER:
            return NEVER
        free = max(free, t)
        now[F_WHY] = WHY_EQUIPMENT
    return end


@inner
def note_asked(data, st, op, since, end):
    """Widen the spans within which the bookings of people and of equipment had a say in the times."""
    now = st.now
    asked = end if data.op[op].kind == MANUAL or data.op[op].ahead == 1 else now[F_ASK]
    if now[F_P1] >= 0:
        asked = max(asked, now[F_E1])
    if now[F_P2] >= 0:
        asked = max(asked, now[F_E2])
    if now[F_FOP] >= 0:
        asked = max(asked, now[F_FOE])
    now[F_ASKED] = max(now[F_ASKED], asked)
    now[F_HOLD], now[F_HELD] = min(now[F_HOLD], since), max(now[F_HELD], end)


@inner
def note_person(data, st, op, alt, lower):
    """Was it a person that the operation waited for, and at what was that person before?

    Set after a trial, where nothing worse was noted.
    """
    now = st.now
    if now[F_WHY] == WHY_EQUIPMENT or data.op[op].running == 1 or data.op[op].skill < 0:
        return
    if now[F_START] <= first_open(data.lines, data.machine[data.alt[alt].machine].line, lower):
        return
    now[F_WHY], now[F_ON] = WHY_PERSON, -1
    p = st.stint[0, 0] if data.op[op].kind == MANUAL else now[F_P1]
    if p >= 0:
        now[F_ON] = busy_before(st, st.place[op], p, now[F_START])


@inner
def busy_before(st, k, p, t):
    """The operation before place ``k`` whose setting or hand work a person is through with at ``t``, or -1."""
    book = st.people
    i = nearest(st, k, p, first_from(book, p, t) - 1, INTERRUPTIBLE)
    return book.at[p, i].owner if i >= 0 and book.at[p, i].end == t else -1
