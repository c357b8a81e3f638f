"""Hours of one draw: what the calendar says, less breakdowns of machines and absences of people, compiled.

Windows are cut in place. A line of hours has room for the most windows that cuts can leave; what is not used are
windows without length at its end, which the functions of ``planner.timetable.lines`` never find.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from planner.compiling import compiled, inner
from planner.timetable.arrays import Data
from planner.timetable.lines import DAY, MOST_DAYS, Lines, after, build_lines
from planner.work import NEVER, Work
from planner.worktime import stretches


class Calm(NamedTuple):
    """Hours as the calendar says. ``lines``: those of the timetable, with whose they are in ``machine`` and ``person`` (-1:
    nobody's); ``open_``: a line for each machine with all its hours; ``shift_*``: shifts of each person from minute 0 on."""

    lines: Lines
    machine: np.ndarray
    person: np.ndarray
    open_: Lines
    shift_lo: np.ndarray
    shift_start: np.ndarray
    shift_end: np.ndarray


class Cuts(NamedTuple):
    """Spans ``[row, i, 0 or 1]`` in which a machine or a person is not there, sorted; ``dirty`` lines were cut in the last
    draw."""

    machine: np.ndarray
    machines: np.ndarray  # how many, by machine
    person: np.ndarray
    people: np.ndarray
    dirty: np.ndarray


def calm_hours(work: Work, data: Data, until: int) -> Calm:
    """Hours of a work up to the minute ``until``."""
    machine, person = np.full((2, len(data.lines.lo) - 1), -1, np.int64)
    machine[data.machine["line"]] = np.arange(len(data.machine))
    person[data.person_line] = np.arange(len(data.person_line))
    machine[data.alt["line"]] = data.alt["machine"]
    for (m, p), line in np.ndenumerate(data.pair_line):
        if line >= 0:
            machine[line], person[line] = m, p
    whole = [sorted([*m.hours.attended, *m.hours.unattended]) for m in work.machines]
    shifts = [[s for s in stretches(p.hours, work.break_max_min) if s[1] > 0 and s[0] < until] for p in work.people]
    flat = np.array([s for spans in shifts for s in spans], np.int64).reshape(-1, 2)
    lo = np.cumsum([0, *map(len, shifts)])
    return Calm(
        _cut_off(data.lines, until), machine, person, build_lines(whole, 0), lo, flat[:, 0].copy(), flat[:, 1].copy()
    )


def _cut_off(lines: Lines, until: int) -> Lines:
    """Lines without the windows that begin at ``until`` or later."""
    if until >= NEVER:
        return lines
    kept = [a + int(np.searchsorted(lines.start[a:b], until)) for a, b in _rows(lines)]
    at = [np.arange(lines.lo[k], hi) for k, hi in enumerate(kept)]
    lo = np.cumsum([0, *map(len, at)])
    take = np.concatenate(at) if at else np.zeros(0, np.int64)
    return _with_days(lo, lines.start[take], lines.end[take], lines.done[take], lines.stretch_end[take])


def _rows(lines: Lines) -> list[tuple[int, int]]:
    return list(zip(lines.lo[:-1].tolist(), lines.lo[1:].tolist(), strict=True))


def _with_days(lo: np.ndarray, start: np.ndarray, end: np.ndarray, done: np.ndarray, stretch_end: np.ndarray) -> Lines:
    days = min(2 + (max(0, int(end.max(initial=0))) >> DAY), MOST_DAYS)
    lines = Lines(lo, start, end, done, stretch_end, np.zeros((len(lo) - 1, days), np.int64))
    for k in range(len(lo) - 1):
        fill_days(lines, k)
    return lines


def with_room(calm: Calm, cuts: Cuts) -> Lines:
    """Lines to be cut in each draw, as the calendar says at first."""
    spare = cuts.machine.shape[1] + cuts.person.shape[1]
    owned = (calm.machine >= 0) | (calm.person >= 0)
    lo = np.zeros_like(calm.lines.lo)
    lo[1:] = np.cumsum(np.diff(calm.lines.lo) + np.where(owned, spare, 0))
    empty = np.zeros(int(lo[-1]), np.int64)
    lines = Lines(
        lo, empty, empty.copy(), empty.copy(), empty.copy(), np.zeros((len(lo) - 1, calm.lines.day.shape[1]), np.int64)
    )
    for k in range(len(lo) - 1):
        fill_line(calm, cuts, lines, k)
    return lines


def no_cuts(machines: int, people: int, lines: int, breakdowns: int, absences: int) -> Cuts:
    """Room for cuts; none yet."""
    rows = max(1, machines), max(1, people)
    return Cuts(
        np.zeros((rows[0], breakdowns, 2), np.int64), np.zeros(rows[0], np.int64),
        np.zeros((rows[1], absences, 2), np.int64), np.zeros(rows[1], np.int64), np.zeros(lines, np.int64),
    )  # fmt: skip


@compiled
def fill_days(lines, k):
    """The table of days of line ``k``: first window that ends after each day's begin."""
    i, hi = lines.lo[k], lines.lo[k + 1]
    for day in range(lines.day.shape[1]):
        while i < hi and lines.end[i] <= day << DAY:
            i += 1
        lines.day[k, day] = i


@inner
def _next_cut(cuts, m, p, im, ip, t):
    """The first cut of machine ``m`` or person ``p`` that ends after ``t``, and where to go on looking."""
    while m >= 0 and im < cuts.machines[m] and cuts.machine[m, im, 1] <= t:
        im += 1
    while p >= 0 and ip < cuts.people[p] and cuts.person[p, ip, 1] <= t:
        ip += 1
    gap, back = NEVER, NEVER
    if m >= 0 and im < cuts.machines[m]:
        gap, back = cuts.machine[m, im, 0], cuts.machine[m, im, 1]
    if p >= 0 and ip < cuts.people[p] and cuts.person[p, ip, 0] < gap:
        gap, back = cuts.person[p, ip, 0], cuts.person[p, ip, 1]
    return gap, back, im, ip


@compiled
def fill_line(calm, cuts, lines, k):
    """Line ``k`` as the calendar says, less the cuts of its machine and its person.

    A cut does not end a stretch: a run that may not pause goes on after a repair, and a shift ends where it would.
    """
    m, p = calm.machine[k], calm.person[k]
    n, done, im, ip, last = lines.lo[k], 0, 0, 0, -NEVER
    gap, back = -NEVER, -NEVER  # the next cut
    for i in range(calm.lines.lo[k], calm.lines.lo[k + 1]):
        t, end, stretch = calm.lines.start[i], calm.lines.end[i], calm.lines.stretch_end[i]
        while t < end:
            while back <= t:
                gap, back, im, ip = _next_cut(cuts, m, p, im, ip, t)
            until = min(gap, end)
            if until > t:
                lines.start[n], lines.end[n], lines.done[n], lines.stretch_end[n] = t, until, done, stretch
                n, done, last = n + 1, done + until - t, until
            t = end if gap >= end else back
    for i in range(n, lines.lo[k + 1]):
        lines.start[i], lines.end[i], lines.done[i], lines.stretch_end[i] = last, last, done, last
    fill_days(lines, k)


@inner
def break_down(calm, attended, cuts, gaps, repairs, d):
    """Spans in which machines stand still in draw ``d``: from a minute of their hours until they are mended."""
    for m in range(gaps.shape[1]):
        t, n = 0, 0
        while n < gaps.shape[2]:
            t = after(calm.open_, m, t, gaps[d, m, n])
            if t >= NEVER:
                break
            end = after(calm.lines, attended[m], t, repairs[d, m, n])
            cuts.machine[m, n, 0], cuts.machine[m, n, 1] = t, end
            n, t = n + 1, end
            if end >= NEVER:
                break
        cuts.machines[m] = n


@inner
def stay_away(calm, cuts, gaps, lengths, d):
    """Spans in which people are away in draw ``d``: whole shifts."""
    for p in range(gaps.shape[1]):
        at, n, hi = calm.shift_lo[p], 0, calm.shift_lo[p + 1]
        while n < gaps.shape[2]:
            at += gaps[d, p, n]
            if at >= hi:
                break
            last = min(at + lengths[d, p, n], hi) - 1
            cuts.person[p, n, 0], cuts.person[p, n, 1] = calm.shift_start[at], calm.shift_end[last]
            n, at = n + 1, last + 1
        cuts.people[p] = n


@inner
def cut_hours(calm, cuts, lines):
    """Cut all lines whose machine or person is not there for a while; mend those that were cut before."""
    for k in range(len(cuts.dirty)):
        m, p = calm.machine[k], calm.person[k]
        is_cut = (m >= 0 and cuts.machines[m] > 0) or (p >= 0 and cuts.people[p] > 0)
        if is_cut or cuts.dirty[k] == 1:
            fill_line(calm, cuts, lines, k)
            cuts.dirty[k] = 1 if is_cut else 0


def stretch_minutes(lines: Lines, k: int) -> int:
    """Open minutes of the longest stretch of line ``k``, from minute 0 on."""
    a, b = int(lines.lo[k]), int(lines.lo[k + 1])
    ends: dict[int, int] = {}
    windows: Sequence[tuple[int, int, int]] = list(
        zip(lines.start[a:b].tolist(), lines.end[a:b].tolist(), lines.stretch_end[a:b].tolist(), strict=True)
    )
    for start, end, stretch in windows:
        if end > 0:
            ends[stretch] = ends.get(stretch, 0) + end - max(0, start)
    return max(ends.values(), default=0)
