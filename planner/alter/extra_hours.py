"""Attended hours that a change brings, and how much of them the plan uses."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from planner.answers.spent import Minutes, Spent, cut
from planner.plan import Plan
from planner.work import Span, Work
from planner.worktime import without

MACHINE, PERSON = "machine", "person"


@dataclass(frozen=True)
class ExtraHours:
    """Attended minutes, up to the plan's end, that a machine or person has only after the change.

    ``used_min`` of them the machine is set or runs, or the person sets, works or checks.
    """

    kind: str
    name: str
    extra_min: int
    used_min: int


def extra_hours(before: Work, after: Work, plan: Plan) -> tuple[ExtraHours, ...]:
    """Machines and people with more hours in ``after`` than in ``before``; ``plan`` is for ``after``."""
    end = max((step.end for step in plan.steps), default=0)
    more = dict(_more(MACHINE, _machines(before), _machines(after), end))
    more |= _more(PERSON, _people(before), _people(after), end)
    if not more:
        return ()
    used = _used(after, plan)
    return tuple(
        ExtraHours(kind, name, _total(spans), sum(_total(cut(spans, a, b)) for a, b in used[kind, name]))
        for (kind, name), spans in more.items()
    )


def _machines(work: Work) -> dict[str, Sequence[Span]]:
    return {m.name: m.hours.attended for m in work.machines}


def _people(work: Work) -> dict[str, Sequence[Span]]:
    return {p.name: p.hours for p in work.people}


def _more(
    kind: str, before: dict[str, Sequence[Span]], after: dict[str, Sequence[Span]], end: int
) -> dict[tuple[str, str], list[Span]]:
    found = {
        (kind, n): cut(without(spans, before.get(n, ())), 0, end)
        for n, spans in after.items()
        if spans != before.get(n)
    }
    return {key: spans for key, spans in found.items() if spans}


def _used(work: Work, plan: Plan) -> dict[tuple[str, str], list[Span]]:
    """Attended minutes worked, by machine and by person."""
    minutes, found = Minutes(work), defaultdict(list)
    for step in plan.steps:
        for s in minutes.of(step):
            for key in _whose(work, s):
                found[key].append((s.start, s.end))
    return found


def _whose(work: Work, spent: Spent) -> Iterable[tuple[str, str]]:
    if spent.machine is not None and spent.attended:
        yield MACHINE, work.machines[spent.machine].name
    if spent.person is not None:
        yield PERSON, work.people[spent.person].name


def _total(spans: Iterable[Span]) -> int:
    return sum(b - a for a, b in spans)
