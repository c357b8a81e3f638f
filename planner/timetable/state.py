"""The changing half of a timetable: results by operation, and bookings of machines, people and things.

Bookings carry the operation that made them, so that the tail of a list can be taken out again
(see :func:`roll_back`) and only what changed is timed anew.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from planner.compiling import inner
from planner.timetable.arrays import Data
from planner.work import NEVER

# Columns of a row of results, by operation; a trial fills the same row (see trial.py).
F_ALT, F_MACHINE, F_START, F_SETUP, F_CHG = 0, 1, 2, 3, 4
F_P1, F_S1, F_E1, F_P2, F_S2, F_E2 = 5, 6, 7, 8, 9, 10
F_FOP, F_FOC, F_FOS, F_FOE = 11, 12, 13, 14
F_RUN, F_RUN_END, F_END, F_EQ, F_TRIP, F_WHY, F_ON = 15, 16, 17, 18, 19, 20, 21
F_STINTS, F_BURSTS, F_SUBS = 22, 23, 24
F_ASK, F_ASKED, F_HOLD, F_HELD = 25, 26, 27, 28  # within which people's bookings, and equipment's, were looked at
FIELDS = 29

# What a person is booked for (``units`` of the booking), in bits: work that may be broken off for a first-off, a first-off, and
# setting or hand work that asks for all of somebody. Two get along where they share none.
INTERRUPTIBLE, FIRST_OFF, ALONE = 1, 2, 3

BOOKING = np.dtype([("start", np.int64), ("end", np.int64), ("owner", np.int64), ("units", np.int64)])


class Bookings(NamedTuple):
    """For each resource (row) its bookings sorted by start: ``[start, end)`` by ``owner`` with ``units``."""

    used: np.ndarray
    at: np.ndarray


def make_bookings(rows: int, room: int) -> Bookings:
    rows = max(1, rows)
    return Bookings(np.zeros(rows, np.int64), np.zeros((rows, max(4, room)), BOOKING))


class State(NamedTuple):
    """``res`` has a row of results for each operation; ``place`` is its place in the list timed last."""

    place: np.ndarray
    res: np.ndarray
    burst: np.ndarray  # [room, 2] start and run minutes before, rows from Data.op.burst_lo
    people: Bookings
    things: Bookings  # equipment
    never: np.ndarray  # 1 for an operation that found no place
    on: np.ndarray  # by operation, the machine in whose order it stands, or -1
    first: np.ndarray  # by machine, the first operation on it, or -1
    last: np.ndarray
    prev: np.ndarray  # by operation, the one before it on its machine, or -1
    next: np.ndarray
    van_used: np.ndarray  # pieces by run
    charge: np.ndarray  # [slot, 2] pence and lines
    # scratch of one trial, and of the best trial so far
    now: np.ndarray
    best: np.ndarray
    stint: np.ndarray  # [room, 3] person, start, end
    best_stint: np.ndarray
    now_burst: np.ndarray  # [room, 2]
    best_burst: np.ndarray
    sub_t: np.ndarray  # when each sublot is there
    sub_cycles: np.ndarray  # and the cycles it brings the run up to
    full: np.ndarray  # [1] set when a booking list ran out of room


def make_state(data: Data, room: int) -> State:
    """Empty state; ``room`` bounds the bookings of one person."""
    ops, machines, people, things = len(data.op), len(data.machine), len(data.person_line), len(data.eq_count)
    slots = int(data.charge["hi"].max(initial=0))
    widest = int((data.op["burst_hi"] - data.op["burst_lo"]).max(initial=3)) + 4
    users = np.bincount(data.eq_what).max(initial=0) if things else 0
    res = np.zeros((ops, FIELDS), np.int64)
    res[:, [F_ALT, F_MACHINE, F_FOP, F_TRIP, F_ON]] = -1
    return State(
        place=np.full(ops, -1, np.int64), res=res,
        burst=np.zeros((int(data.op["burst_hi"].max(initial=0)) + 1, 2), np.int64),
        people=make_bookings(people, room), things=make_bookings(things, int(users) + 2),
        never=np.zeros(ops, np.int64), on=np.full(ops, -1, np.int64),
        first=np.full(max(1, machines), -1, np.int64), last=np.full(max(1, machines), -1, np.int64),
        prev=np.full(ops, -1, np.int64), next=np.full(ops, -1, np.int64),
        van_used=np.zeros(max(1, len(data.run_room)), np.int64), charge=np.zeros((slots, 2), np.int64),
        now=np.zeros(FIELDS, np.int64), best=np.zeros(FIELDS, np.int64),
        stint=np.zeros((2048, 3), np.int64), best_stint=np.zeros((2048, 3), np.int64),
        now_burst=np.zeros((widest, 2), np.int64), best_burst=np.zeros((widest, 2), np.int64),
        sub_t=np.zeros(widest, np.int64), sub_cycles=np.zeros(widest, np.int64), full=np.zeros(1, np.int64),
    )  # fmt: skip


@inner
def first_from(book, row, start):
    """Index of the first booking that starts at or after ``start``."""
    a, b = 0, book.used[row]
    while a < b:
        mid = (a + b) >> 1
        if book.at[row, mid].start >= start:
            b = mid
        else:
            a = mid + 1
    return a


@inner
def nearest(st, k, p, i, what):
    """Index of the booking of ``p``, from ``i`` backwards, that keeps them from ``what`` and is of an operation before place ``k``
    of the list; -1 where there is none."""
    book = st.people
    while i >= 0 and (book.at[p, i].units & what == 0 or st.place[book.at[p, i].owner] >= k):
        i -= 1
    return i


@inner
def busy_until(st, k, p, start, end, what):
    """End of something that keeps ``p`` from ``what`` in ``[start, end)``, or -1.

    Only bookings of operations before place ``k`` of the list count; those for the same do not overlap one another.
    """
    book, until, left, unknown = st.people, -1, what, what
    i = first_from(book, p, start)
    j = nearest(st, k, p, i - 1, left)
    while j >= 0:
        if book.at[p, j].end > start:
            until = max(until, book.at[p, j].end)
            unknown &= ~(book.at[p, j].units & left)
        left &= ~book.at[p, j].units
        j = nearest(st, k, p, j - 1, left) if left > 0 else -1
    while unknown > 0 and i < book.used[p] and book.at[p, i].start < end:
        for_it = book.at[p, i].units & unknown
        if for_it > 0 and st.place[book.at[p, i].owner] < k:
            until = max(until, book.at[p, i].end)
            unknown &= ~for_it
        i += 1
    return until


@inner
def busy_from(st, k, p, start, end, what):
    """Start of the last thing of a place before ``k`` that keeps ``p`` from ``what`` in ``[start, end)``, or -1."""
    book, since, left = st.people, -1, what
    i = nearest(st, k, p, first_from(book, p, end) - 1, left)
    while i >= 0:
        if book.at[p, i].end > start:
            since = max(since, book.at[p, i].start)
        left &= ~book.at[p, i].units
        i = nearest(st, k, p, i - 1, left) if left > 0 else -1
    return since


@inner
def short_until(st, book, k, row, start, end, units, there):
    """Where ``units`` more of a countable thing do not fit into ``[start, end)``: the time at which one
    of those that are in the way comes free, or -1 when they fit. ``there`` is how many there are."""
    n = book.used[row]
    for i in range(n):
        if book.at[row, i].start >= end:
            break
        if book.at[row, i].end <= start or st.place[book.at[row, i].owner] >= k:
            continue
        # the use at the moment this booking begins (or the span does) is a local peak
        t = max(start, book.at[row, i].start)
        used, free_at = 0, NEVER
        for j in range(n):
            if book.at[row, j].start > t:
                break
            if book.at[row, j].end > t and st.place[book.at[row, j].owner] < k:
                used += book.at[row, j].units
                free_at = min(free_at, book.at[row, j].end)
        if used + units > there:
            return free_at
    return -1


@inner
def book_in(book, row, start, end, owner, units):
    """Insert a booking in order of start. False when there is no room."""
    n = book.used[row]
    if n >= book.at.shape[1]:
        return False
    i = n
    while i > 0 and book.at[row, i - 1].start > start:
        book.at[row, i] = book.at[row, i - 1]
        i -= 1
    new = book.at[row, i]
    new.start, new.end, new.owner, new.units = start, end, owner, units
    book.used[row] = n + 1
    return True


@inner
def rebook(book, was_row, was_start, was_end, row, start, end, owner, units):
    """Let the booking ``[was_start, was_end)`` of ``owner`` in ``was_row`` be ``[start, end)`` in ``row`` (rows below 0:
    none before, none after). False when there is no room.

    Most go but a little way in the same row, so that few others have to make way.
    """
    if was_row == row and (row < 0 or (was_start == start and was_end == end)):
        return True
    i = _where(book, was_row, was_start, was_end, owner, units) if was_row >= 0 else -1
    if i >= 0 and was_row != row:
        book.used[was_row] -= 1
        for j in range(i, book.used[was_row]):
            book.at[was_row, j] = book.at[was_row, j + 1]
    if row < 0:
        return True
    if i < 0 or was_row != row:
        return book_in(book, row, start, end, owner, units)
    last = book.used[row] - 1
    while i > 0 and book.at[row, i - 1].start > start:
        book.at[row, i] = book.at[row, i - 1]
        i -= 1
    while i < last and book.at[row, i + 1].start < start:
        book.at[row, i] = book.at[row, i + 1]
        i += 1
    new = book.at[row, i]
    new.start, new.end, new.owner, new.units = start, end, owner, units
    return True


@inner
def _where(book, row, start, end, owner, units):
    """Index of a booking, or -1. One person may be booked twice by one operation within the same minutes, to set and for its
    first-off, while it is moved: ``units`` tell which."""
    for i in range(first_from(book, row, start), book.used[row]):
        it = book.at[row, i]
        if it.start > start:
            break
        if it.owner == owner and it.end == end and it.units == units:
            return i
    return -1


@inner
def join_machine(st, machine, op, prev):
    """Let ``op`` stand just after ``prev`` (-1: first) on ``machine``."""
    after = st.next[prev] if prev >= 0 else st.first[machine]
    st.on[op], st.prev[op], st.next[op] = machine, prev, after
    if prev >= 0:
        st.next[prev] = op
    else:
        st.first[machine] = op
    if after >= 0:
        st.prev[after] = op
    else:
        st.last[machine] = op


@inner
def leave_machine(st, op):
    """Take ``op`` out of the order of its machine, if it stands in one."""
    machine, before, after = st.on[op], st.prev[op], st.next[op]
    if machine < 0:
        return
    if before >= 0:
        st.next[before] = after
    else:
        st.first[machine] = after
    if after >= 0:
        st.prev[after] = before
    else:
        st.last[machine] = before
    st.on[op], st.prev[op], st.next[op] = -1, -1, -1


@inner
def placed(st, op):
    """``op``, or the nearest before it on its machine that found a place (-1: none)."""
    while op >= 0 and st.never[op] == 1:
        op = st.prev[op]
    return op


@inner
def keep_before(book, place, k):
    """Take out every booking whose owner stands at place ``k`` or later."""
    for row in range(len(book.used)):
        n = 0
        for i in range(book.used[row]):
            if place[book.at[row, i].owner] < k:
                book.at[row, n] = book.at[row, i]
                n += 1
        book.used[row] = n


@inner
def roll_back(data, st, old_list, k):
    """Undo the operations at place ``k`` and later of the list timed last."""
    keep_before(st.people, st.place, k)
    keep_before(st.things, st.place, k)
    for i in range(len(old_list) - 1, k - 1, -1):
        op = old_list[i]
        leave_machine(st, op)
        if st.res[op, F_TRIP] >= 0:
            st.van_used[data.trip[st.res[op, F_TRIP]].run] -= data.op[op].pieces
            st.res[op, F_TRIP] = -1
