"""Machines that run attended against the people there to mind them: warned of, never held back.

In a group with a minding skill one person minds at most so many machines. A shift is an attended window
of the group. A warning says for how many of its minutes more machines of the group run than the people
present with the skill can mind; a person who is setting or inspecting counts as present.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from planner.answers.spent import RUN, Minutes
from planner.answers.wording import moment_text, span_text
from planner.counted import counted
from planner.plan import Plan
from planner.work import Group, Kind, Span, Work
from planner.worktime import united

Level = tuple[int, int, int]  # from, to, count


@dataclass(frozen=True)
class MindingWarning:
    """One shift of a group with too few people; minutes from the plan start."""

    group: str
    skill: str
    shift_start: int
    shift_end: int
    over_min: int
    most_running: int  # machines running at the worst moment
    present: int  # people with the skill at that moment
    text: str


def minding(work: Work, plan: Plan) -> list[MindingWarning]:
    """A warning for each shift in which some group has more machines running than can be minded."""
    minutes = Minutes(work)
    found: list[MindingWarning] = []
    for group in work.groups:
        if group.minding_skill is None or group.machines_per_person is None:
            continue
        running: list[Span] = []
        for step in plan.steps:
            if step.machine in group.machines and work.operations[step.operation].kind is Kind.MACHINE:
                running += [(s.start, s.end) for s in minutes.of(step) if s.what == RUN and s.attended]
        found += _warnings(work, group, running)
    return sorted(found, key=lambda w: (w.shift_start, w.group))


def _warnings(work: Work, group: Group, running: list[Span]) -> Iterator[MindingWarning]:
    assert group.minding_skill is not None and group.machines_per_person is not None
    able = [p for p in work.people if group.minding_skill in p.skills]
    over = [
        (a, b, machines, present)
        for a, b, machines, present in together(running, [s for p in able for s in p.hours])
        if machines > present * group.machines_per_person
    ]
    for start, end in united(w for m in group.machines for w in work.machines[m].hours.attended):
        inside = [(max(a, start), min(b, end), m, p) for a, b, m, p in over if a < end and b > start]
        if inside:
            _, _, machines, present = max(inside, key=lambda o: (o[2] - o[3] * (group.machines_per_person or 0), -o[0]))
            over_min = sum(b - a for a, b, _, _ in inside)
            skill = work.skills[group.minding_skill]
            text = (
                f"{group.name}, shift from {moment_text(work, start)}: for {span_text(over_min)} more machines run than "
                f"can be minded (at worst {machines} with {present} of skill '{skill}' present, "
                f"{counted(group.machines_per_person or 0, 'machine')} each)."
            )
            yield MindingWarning(group.name, skill, start, end, over_min, machines, present, text)


def together(first: Iterable[Span], second: Iterable[Span]) -> Iterator[tuple[int, int, int, int]]:
    """Spans between changes with how many of each list cover them, where the first has any."""
    changes = sorted(
        [(t, way, 0) for a, b in first for t, way in ((a, 1), (b, -1))]
        + [(t, 0, way) for a, b in second for t, way in ((a, 1), (b, -1))]
    )
    before = ones = twos = 0
    for t, one, two in changes:
        if t > before and ones:
            yield before, t, ones, twos
        before, ones, twos = t, ones + one, twos + two
