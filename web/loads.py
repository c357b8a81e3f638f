"""Load as the page draws it: a row of cells for each machine, and what is behind each cell."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from planner.answers.load import (
    EQUIPMENT,
    FULL,
    GROUP,
    MACHINE,
    OVERDUE,
    PERSON,
    SKILL,
    By,
    Load,
    LoadRow,
    Use,
    VanLoad,
    View,
)
from planner.answers.wording import short_day_text

NEARLY_FULL = 90.0


@dataclass(frozen=True)
class Line:
    """One machine, group, skill, person or piece of equipment over all periods, in the order of :attr:`LoadView.weeks`."""

    name: str
    weeks: tuple[LoadRow, ...]


@dataclass(frozen=True)
class LoadView:
    """``classes`` of work in the order in which they are stacked; ``weeks`` are weeks or days, with what stands above them."""

    view: View
    by: By
    weeks: tuple[str, ...]
    headings: tuple[str, ...]
    classes: tuple[str, ...]
    machines: tuple[Line, ...]
    groups: tuple[Line, ...]
    skills: tuple[Line, ...]
    people: tuple[Line, ...]
    equipment: tuple[Line, ...]
    vans: tuple[VanLoad, ...]
    use: tuple[Use, ...]
    over: tuple[LoadRow, ...]  # above 100 per cent, people left out, the most first


def load_view(answer: Load, classes: Sequence[str]) -> LoadView:
    """Rows of a load gathered by name, empty last periods left out; ``classes`` in order of urgency."""
    used = [r.week for r in answer.rows if r.needed_min and r.week != OVERDUE]
    weeks = sorted({r.week for r in answer.rows if r.week != OVERDUE and (not used or r.week <= max(used))})
    overdue = [OVERDUE] if any(r.week == OVERDUE for r in answer.rows) else []
    found: dict[str, dict[str, dict[str, LoadRow]]] = {}
    for row in answer.rows:
        found.setdefault(row.kind, {}).setdefault(row.name, {})[row.week] = row
    run = {c for r in answer.rows for c in r.run_min}
    shown = (*overdue, *weeks)
    machines, groups, skills, people, equipment = (
        tuple(_line(name, rows, shown) for name, rows in found.get(kind, {}).items())
        for kind in (MACHINE, GROUP, SKILL, PERSON, EQUIPMENT)
    )
    over = (r for r in answer.rows if (r.percent or 0) > FULL and r.kind in (MACHINE, GROUP, SKILL, EQUIPMENT))
    return LoadView(
        answer.view, answer.by, shown, headings(shown), tuple(c for c in classes if c in run),
        machines, groups, skills, people, tuple(x for x in equipment if _asked(x.weeks)),
        tuple(v for v in answer.vans if v.pieces), answer.use, tuple(sorted(over, key=lambda r: (r.week, -(r.percent or 0)))),
    )  # fmt: skip


def _line(name: str, rows: dict[str, LoadRow], weeks: Sequence[str]) -> Line:
    """A cell for each period; nothing where a name has no row of its own for what is overdue."""
    first = next(iter(rows.values()))
    nothing = LoadRow(first.kind, name, OVERDUE, 0, 0, 0, {}, 0, 0, 0, None)
    return Line(name, tuple(rows.get(week, nothing) for week in weeks))


def _asked(rows: Iterable[LoadRow]) -> bool:
    return any(r.needed_min for r in rows)


def headings(periods: Sequence[str]) -> tuple[str, ...]:
    """'W27' for a week, 'Mon 5 Jul' for a day; with the year where it is another than that of the period before."""
    found = []
    before = ""
    for period in periods:
        year = "" if period == OVERDUE else period[:4]
        found.append(_heading(period) + (f" {year}" if before and year != before else ""))
        before = year
    return tuple(found)


def _heading(period: str) -> str:
    if period == OVERDUE:
        return period
    if "W" in period:
        return period[5:]
    return short_day_text(date.fromisoformat(period))


def mark(percent: float | None) -> str:
    """Beside a percentage, so that it is not told by colour alone."""
    if percent is None or percent < NEARLY_FULL:
        return ""
    return "over" if percent > FULL else "nearly full"
