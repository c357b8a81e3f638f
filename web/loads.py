"""Load as the page draws it: a row of cells for each machine, and what is behind each cell."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from planner.answers.load import GROUP, MACHINE, PERSON, SKILL, Load, LoadRow, VanLoad

NEARLY_FULL, FULL = 90.0, 100.0


@dataclass(frozen=True)
class Line:
    """One machine, group, skill or person over all weeks, in the order of :attr:`LoadView.weeks`."""

    name: str
    weeks: tuple[LoadRow, ...]


@dataclass(frozen=True)
class LoadView:
    """``classes`` of work in the order in which they are stacked."""

    weeks: tuple[str, ...]
    classes: tuple[str, ...]
    machines: tuple[Line, ...]
    groups: tuple[Line, ...]
    skills: tuple[Line, ...]
    people: tuple[Line, ...]
    vans: tuple[VanLoad, ...]


def load_view(answer: Load, classes: Sequence[str]) -> LoadView:
    """Rows of a load gathered by name, empty last weeks left out; ``classes`` in order of urgency."""
    used = [r.week for r in answer.rows if r.needed_min]
    weeks = tuple(sorted({r.week for r in answer.rows if not used or r.week <= max(used)}))
    kept = [r for r in answer.rows if r.week in set(weeks)]
    run = {c for r in answer.rows for c in r.run_min}
    machines, groups, skills, people = (_lines(r for r in kept if r.kind == k) for k in (MACHINE, GROUP, SKILL, PERSON))
    return LoadView(
        weeks, tuple(c for c in classes if c in run), machines, groups, skills, people,
        vans=tuple(v for v in answer.vans if v.pieces),
    )  # fmt: skip


def _lines(rows: Iterable[LoadRow]) -> tuple[Line, ...]:
    found: dict[str, list[LoadRow]] = {}
    for row in rows:
        found.setdefault(row.name, []).append(row)
    return tuple(Line(name, tuple(sorted(weeks, key=lambda r: r.week))) for name, weeks in found.items())


def mark(percent: float | None) -> str:
    """Beside a percentage, so that it is not told by colour alone."""
    if percent is None or percent < NEARLY_FULL:
        return ""
    return "over" if percent > FULL else "nearly full"
