"""Open time as flat arrays, with the few questions that a timetable asks of it, compiled.

A *line* is one person's, machine's or pair's sorted windows. All lines lie one after another in
flat arrays; ``Lines.lo[k] .. Lines.lo[k + 1]`` are the windows of line ``k``. A table of about days says where to
begin looking. The rules of counting are those of ``planner.worktime``.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain
from typing import NamedTuple

import numpy as np

from planner.compiling import compiled, inner
from planner.work import NEVER, Span

MOST_DAYS = 4096  # later windows are looked for by bisection
NEAR = 6  # windows looked at one after another before bisecting
DAY = 10  # powers of two of minutes: what the table of days counts in


class Lines(NamedTuple):
    """``start``, ``end``: windows; ``done``: open minutes of the line before the window;
    ``stretch_end``: end of the stretch the window belongs to (gaps up to a break do not end it);
    ``day``: ``[line, day]`` first window that ends after the day's begin."""

    lo: np.ndarray
    start: np.ndarray
    end: np.ndarray
    done: np.ndarray
    stretch_end: np.ndarray
    day: np.ndarray


def build_lines(windows: Sequence[Sequence[Span]], break_max_min: int) -> Lines:
    """Lay the windows of all lines into flat arrays."""
    lo = np.zeros(len(windows) + 1, np.int64)
    lo[1:] = np.cumsum([len(w) for w in windows])
    edges = np.fromiter(chain.from_iterable(chain.from_iterable(windows)), np.int64, 2 * int(lo[-1]))
    start, end = edges[::2].copy(), edges[1::2].copy()
    done, stretch_end = np.zeros_like(start), np.zeros_like(start)
    _fill(lo, start, end, done, stretch_end, break_max_min)
    days = 2 + (max(0, int(end.max(initial=0))) >> DAY)
    day = np.zeros((len(windows), min(days, MOST_DAYS)), np.int64)
    for k in range(len(windows)):
        day[k] = lo[k] + np.searchsorted(end[lo[k] : lo[k + 1]], np.arange(day.shape[1]) << DAY, side="right")
    return Lines(lo, start, end, done, stretch_end, day)


@compiled
def _fill(lo, start, end, done, stretch_end, break_max_min):
    for k in range(len(lo) - 1):
        total = 0
        for i in range(lo[k], lo[k + 1]):
            done[i] = total
            total += end[i] - start[i]
        last = NEVER
        for i in range(lo[k + 1] - 1, lo[k] - 1, -1):
            ends_here = i == lo[k + 1] - 1 or start[i + 1] - end[i] > break_max_min
            last = end[i] if ends_here else last
            stretch_end[i] = last


@inner
def window_at(lines, line, t):
    """Index of the first window that ends after ``t``, or the line's upper index when there is none."""
    a, b = lines.lo[line], lines.lo[line + 1]
    end = lines.end
    days = lines.day.shape[1] - 1
    if t > 0:
        at = t >> DAY
        if at < days:
            a, b = lines.day[line, at], lines.day[line, at + 1]
        else:
            a = lines.day[line, days]
    while a < b:
        mid = (a + b) >> 1
        if end[mid] > t:
            b = mid
        else:
            a = mid + 1
    return a


@compiled
def first_open(lines, line, t):
    """First open minute at or after ``t``."""
    i = window_at(lines, line, t)
    if i == lines.lo[line + 1]:
        return NEVER
    return max(t, lines.start[i])


@inner
def _done_by(lines, i):
    """Open minutes of the line up to the end of window ``i``."""
    return lines.done[i] + lines.end[i] - lines.start[i]


@compiled
def after(lines, line, t, minutes):
    """End of the ``minutes``-th open minute at or after ``t``; ``t`` itself for 0."""
    if minutes == 0:
        return t
    i = window_at(lines, line, t)
    b = lines.lo[line + 1]
    if i == b:
        return NEVER
    target = lines.done[i] + max(0, t - lines.start[i]) + minutes
    near = min(b, i + NEAR)
    while i < near and _done_by(lines, i) < target:
        i += 1
    a = i
    while i == near and a < b:
        mid = (a + b) >> 1
        if _done_by(lines, mid) >= target:
            b = mid
        else:
            a = mid + 1
    if a == lines.lo[line + 1]:
        return NEVER
    return lines.start[a] + target - lines.done[a]


@compiled
def before(lines, line, t, minutes):
    """Latest start from which ``minutes`` open minutes fit before ``t``; ``-NEVER`` when none does; ``t`` itself for 0."""
    if minutes == 0:
        return t
    lo, i = lines.lo[line], window_at(lines, line, t)
    if i < lines.lo[line + 1]:
        total = lines.done[i] + max(0, t - lines.start[i])
    elif i > lo:
        total = lines.done[i - 1] + lines.end[i - 1] - lines.start[i - 1]
    else:
        total = 0
    target = total - minutes
    if target < 0:
        return -NEVER
    a, b = lo, i + 1 if i < lines.lo[line + 1] else i
    while a < b:
        mid = (a + b) >> 1
        if lines.done[mid] + lines.end[mid] - lines.start[mid] > target:
            b = mid
        else:
            a = mid + 1
    return lines.start[a] + target - lines.done[a]


@compiled
def open_between(lines, line, t, until):
    """Open minutes in ``[t, until)``."""
    total = 0
    for i in range(window_at(lines, line, t), lines.lo[line + 1]):
        if lines.start[i] >= until:
            break
        total += min(until, lines.end[i]) - max(t, lines.start[i])
    return total
