"""How long each of several searches may take, so that all together keep to their seconds.

To make a changed copy, and to check and explain its plan, takes as long for a short search as for a long one. What
that was the last time is left for it beside every search, and as many ways fit as can be searched for at least as long.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager


class Pace:
    """Seconds for everything together, from now on; None: there is no such limit, and everything fits."""

    def __init__(self, seconds: float | None) -> None:
        self.seconds, self.began, self.beside_sec = seconds, time.monotonic(), 0.0

    def share(self, share: float) -> float | None:
        """A share of the seconds."""
        return None if self.seconds is None else self.seconds * share

    def part(self, seconds: float | None) -> float:
        """What share of the seconds some of them are; all where there is no such limit."""
        return seconds / self.seconds if seconds and self.seconds else 1.0

    def fitting(self, count: int, end: float) -> int:
        """How many of ``count`` ways fit in until that share of the seconds is over."""
        left = self._left(end)
        if left is None or not self.beside_sec:
            return count
        return min(count, max(0, int(left // (2 * self.beside_sec))))

    @contextmanager
    def one(self, of: int, end: float) -> Iterator[float | None]:
        """One of so many ways that fit in: the seconds to search for it, at least as long as the rest of it takes."""
        left, began = self._left(end), time.monotonic()
        seconds = None if left is None else max(self.beside_sec, left / max(1, of) - self.beside_sec)
        yield seconds
        self.beside_sec = max(0.0, time.monotonic() - began - (seconds or 0.0))

    def _left(self, end: float) -> float | None:
        return None if self.seconds is None else self.began + end * self.seconds - time.monotonic()
