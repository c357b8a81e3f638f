"""Starts of a piece of work cut where the time from start to end changes, for the plain model."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import NamedTuple

from planner.work import NEVER, Span


class Piece(NamedTuple):
    """Starts from ``first`` to ``last`` end ``minutes`` later; the first phase takes ``set_min`` of them."""

    first: int
    last: int
    minutes: int
    set_min: int


class Line:
    """Open stretches of time: sorted, disjoint, not touching."""

    def __init__(self, spans: Sequence[Span]) -> None:
        self.start = [a for a, _ in spans]
        self.end = [b for _, b in spans]
        self.worked = list(accumulate(b - a for a, b in spans))  # open minutes up to the end of each

    def open_at(self, t: int) -> int:
        """The first open minute from ``t`` on; NEVER when there is none."""
        i = bisect_right(self.end, t)
        return max(t, self.start[i]) if i < len(self.end) else NEVER

    def room(self, t: int) -> int:
        """How far an open minute can move on within its stretch."""
        return self.end[bisect_right(self.end, t)] - 1 - t

    def after(self, t: int, minutes: int) -> tuple[int, int]:
        """End of ``minutes`` (1 or more) from the open minute ``t``, and how far that end can move within its stretch."""
        i = bisect_right(self.end, t)
        worked = self.worked[i] - (self.end[i] - t) + minutes
        j = bisect_left(self.worked, worked)
        if j == len(self.end):
            return NEVER, 0
        slack = self.worked[j] - worked
        return self.end[j] - slack, slack


@dataclass(frozen=True)
class Phase:
    """Part of an operation: ``minutes`` (1 or more) in the hours of ``line``."""

    line: Line
    minutes: int


def pieces(phases: Sequence[Phase], first: int, last: int, exact_until: int) -> list[Piece]:
    """All starts from ``first`` to ``last``. From ``exact_until`` on everything counts as open: never too long."""
    found: list[Piece] = []
    line = phases[0].line
    t = line.open_at(first)
    while t <= last and t < exact_until:
        piece = _piece(phases, t)
        if piece is None:
            break
        found.append(piece._replace(last=min(piece.last, last)))
        t = line.open_at(piece.last + 1)
    if t <= last:
        minutes = sum(phase.minutes for phase in phases)
        found.append(Piece(t, last, minutes, phases[0].minutes))
    return _joined(found)


def _piece(phases: Sequence[Phase], t: int) -> Piece | None:
    """The piece that begins at ``t``; of starts with the same end, only the latest. None where hours run out."""
    at, room, fixed, set_end = t, NEVER, False, t
    for k, (line, minutes) in enumerate((p.line, p.minutes) for p in phases):
        begin = line.open_at(at)
        if begin >= NEVER:
            return None
        fixed = fixed or begin > at  # the end stays where it is while the start moves
        room = room if fixed else min(room, line.room(begin))
        at, slack = line.after(begin, minutes)
        if at >= NEVER:
            return None
        room = room if fixed else min(room, slack)
        set_end = at if k == 0 else set_end
    return Piece(t + room if fixed else t, t + room, at - t - (room if fixed else 0), set_end - t)


def _joined(found: list[Piece]) -> list[Piece]:
    """Neighbours with the same lengths as one."""
    out: list[Piece] = []
    for piece in found:
        if out and out[-1].last + 1 == piece.first and out[-1][2:] == piece[2:]:
            out[-1] = out[-1]._replace(last=piece.last)
        else:
            out.append(piece)
    return out
