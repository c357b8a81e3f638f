"""A span cut where anything changes, each piece told what it is, and equal neighbours put together again."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from itertools import pairwise

from planner.answers.spent import cut
from planner.answers.why.facts import Held
from planner.chain import Part
from planner.work import Span

Tell = Callable[[int, int], Part]


def told(start: int, end: int, edges: Iterable[int], tell: Tell) -> Iterator[Part]:
    """Parts that cover ``[start, end)``, cut at the edges; ``tell`` says what a piece without an edge inside is."""
    inside = sorted({edge for edge in edges if start < edge < end})
    bounds = [start, *inside, end]
    return joined(tell(a, b) for a, b in pairwise(bounds) if a < b)


def joined(parts: Iterable[Part]) -> Iterator[Part]:
    """The same parts, those that touch and differ in nothing but time made one."""
    last: Part | None = None
    for part in parts:
        if last is not None and last.end == part.start and replace(part, start=last.start, end=last.end) == last:
            last = replace(last, end=part.end)
            continue
        if last is not None:
            yield last
        last = part
    if last is not None:
        yield last


def clipped(parts: Iterable[Part], end: int) -> Iterator[Part]:
    """What lies before a moment."""
    return (replace(p, end=min(p.end, end)) for p in parts if p.start < end)


def edges_of(windows: tuple[Span, ...], start: int, end: int) -> list[int]:
    """Where windows begin and end within a span."""
    return [edge for span in cut(windows, start, end) for edge in span]


def edges_held(held: Iterable[Held]) -> list[int]:
    return [edge for h in held for edge in (h.start, h.end)]
