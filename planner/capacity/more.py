"""The same work with more of one resource: its open hours a tenth longer, or the nearest to that where it has none.

Every window gets its tenth at its end; what the next window leaves no room for goes to the one after.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from planner.capacity.adding import EQUIPMENT, GROUP, SKILL
from planner.work import Hours, Span, Work
from planner.worktime import without

PERCENT = 10
OUTSIDE = "outside"  # a firm; its name is the supplier's


def with_more(work: Work, kind: str, name: str, percent: int = PERCENT) -> tuple[Work, str]:
    """A changed copy of the work, and what was changed in words.

    Parameters
    ----------
    kind, name
        A machine group, a skill, a piece of equipment or an outside firm of the work.

    Raises
    ------
    ValueError
        For any other kind.
    """
    if kind == GROUP:
        group = next(g for g, x in enumerate(work.groups) if x.name == name)
        machines = [replace(m, hours=_more_hours(m.hours, percent)) if m.group == group else m for m in work.machines]
        return replace(work, machines=tuple(machines)), f"hours {percent} % longer"
    if kind == SKILL:
        skill = work.skills.index(name)
        people = [
            replace(p, hours=lengthened(p.hours, percent)) if skill in p.skills else p for p in work.people
        ]  # fmt: skip
        return replace(work, people=tuple(people)), f"hours of everybody who has it {percent} % longer"
    if kind == EQUIPMENT:
        equipment = [
            replace(e, count=max(e.count + 1, -(-e.count * (100 + percent) // 100))) if e.name == name else e
            for e in work.equipment
        ]  # fmt: skip
        more = next(a.count - b.count for a, b in zip(equipment, work.equipment, strict=True) if a.name == name)
        return replace(work, equipment=tuple(equipment)), f"{more} more of them"
    if kind == OUTSIDE:
        runs = [
            replace(r, room_pieces=-(-r.room_pieces * (100 + percent) // 100))
            if r.supplier == name and r.room_pieces is not None else r
            for r in work.runs
        ]  # fmt: skip
        return replace(work, runs=tuple(runs)), f"room on each collection {percent} % more"
    raise ValueError(f"there is no more or less of a {kind}")


def _more_hours(hours: Hours, percent: int) -> Hours:
    attended = lengthened(hours.attended, percent)
    return Hours(attended, tuple(without(lengthened(hours.unattended, percent), attended)))


def lengthened(windows: Sequence[Span], percent: int) -> tuple[Span, ...]:
    """Windows made longer at their ends; in all by that share, but for what there is no room for at the very end."""
    found: list[Span] = []
    owed = 0  # hundredths of minutes
    for i, (a, b) in enumerate(windows):
        owed += (b - a) * percent
        room = windows[i + 1][0] - b if i + 1 < len(windows) else owed // 100
        more = min(owed // 100, room)
        owed -= 100 * more
        found.append((a, b + more))
    return tuple(found)
