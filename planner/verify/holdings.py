"""How many units of something are held at each moment."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable

Level = tuple[int, int]  # (minute, units held from then on)


def levels(holdings: Iterable[tuple[int, int, int]]) -> list[Level]:
    """Each minute at which the number held changes, from holdings ``(start, end, units)``."""
    changes: dict[int, int] = defaultdict(int)
    for start, end, units in holdings:
        if start < end:
            changes[start] += units
            changes[end] -= units
    total, held = 0, []
    for minute in sorted(changes):
        total += changes[minute]
        held.append((minute, total))
    return held


def most_held(held: list[Level], start: int, end: int) -> int:
    """The most that is held at any moment of ``[start, end)``."""
    if start >= end:
        return 0
    most = 0
    for place in range(max(0, bisect_right(held, (start, 1 << 62)) - 1), len(held)):
        minute, units = held[place]
        if minute >= end:
            break
        most = max(most, units)
    return most
