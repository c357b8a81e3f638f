"""Open time as the rules count it: open minutes, working off, windows, stretches."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable

from planner.work import Span


class OpenTime:
    """Sorted disjoint windows ``[start, end)``; windows that touch are kept apart."""

    def __init__(self, windows: Iterable[Span]) -> None:
        self.windows = tuple(sorted(w for w in windows if w[0] < w[1]))
        self._starts = [start for start, _ in self.windows]
        self._worked = [0]  # open minutes up to the start of each window, then all of them
        for start, end in self.windows:
            self._worked.append(self._worked[-1] + end - start)

    def window_at(self, minute: int) -> Span | None:
        """The window that contains the minute."""
        at = bisect_right(self._starts, minute) - 1
        return self.windows[at] if at >= 0 and minute < self.windows[at][1] else None

    def is_open(self, minute: int) -> bool:
        return self.window_at(minute) is not None

    def minutes_before(self, minute: int) -> int:
        """Open minutes from the beginning of these hours up to ``minute``."""
        at = bisect_right(self._starts, minute) - 1
        if at < 0:
            return 0
        start, end = self.windows[at]
        return self._worked[at] + min(minute, end) - start

    def minutes(self, start: int, end: int) -> int:
        """Open minutes in ``[start, end)``."""
        return self.minutes_before(end) - self.minutes_before(start)

    def work_off(self, start: int, minutes: int) -> int | None:
        """End of the ``minutes``-th open minute at or after ``start``; None if there are too few."""
        if minutes <= 0:
            return start
        wanted = self.minutes_before(start) + minutes
        at = bisect_left(self._worked, wanted) - 1
        if at >= len(self.windows):
            return None
        return self.windows[at][0] + wanted - self._worked[at]

    def next_open(self, minute: int) -> int | None:
        """The first open minute at or after ``minute``."""
        end = self.work_off(minute, 1)
        return None if end is None else end - 1

    def gap_after(self, end: int) -> int | None:
        """Closed minutes after the window that ends at ``end``; None after the last window."""
        at = bisect_left(self._starts, end)
        return self._starts[at] - end if at < len(self._starts) else None

    def ends_shift(self, minute: int, break_max_min: int) -> bool:
        """Does a window end here, with more than a break until the next one?"""
        last = self.window_at(minute - 1)
        if last is None or last[1] != minute:
            return False
        gap = self.gap_after(minute)
        return gap is None or gap > break_max_min

    def in_one_stretch(self, start: int, end: int, break_max_min: int) -> bool:
        """Is ``[start, end)`` within one stretch, closed gaps of up to ``break_max_min`` allowed?"""
        if start >= end:
            return True
        window = self.window_at(start)
        while window is not None and window[1] < end:
            gap = self.gap_after(window[1])
            window = self.window_at(window[1] + gap) if gap is not None and gap <= break_max_min else None
        return window is not None


def common(first: OpenTime, second: OpenTime) -> OpenTime:
    """Every window of one cut with every window of the other, cuts kept apart."""
    cuts, i, j = [], 0, 0
    while i < len(first.windows) and j < len(second.windows):
        (a, b), (c, d) = first.windows[i], second.windows[j]
        cuts.append((max(a, c), min(b, d)))
        if b <= d:
            i += 1
        else:
            j += 1
    return OpenTime(cuts)


def with_unattended(attended: OpenTime, unattended: OpenTime, limit_min: int) -> OpenTime:
    """Attended windows and the first ``limit_min`` minutes of each unattended stretch."""
    if limit_min <= 0:
        return attended
    allowed, stretch = [], (0, 0)
    for start, end in unattended.windows:
        stretch = (stretch[0], end) if stretch[0] < stretch[1] == start else (start, end)
        allowed.append((start, min(end, stretch[0] + limit_min)))
    return OpenTime(attended.windows + tuple(allowed))
