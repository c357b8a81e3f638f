"""Rule 3, people's lines: nobody does two things at once that exclude each other."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from planner.plan import Step
from planner.verify.breach import Breach
from planner.verify.context import Context

RULE = "3 people"


@dataclass(frozen=True)
class Task:
    """``kind`` is 'setup', 'work', 'batch inspection' (stretched work) or 'first-off'."""

    start: int
    end: int
    kind: str
    step: Step


def check(ctx: Context) -> Iterator[Breach]:
    lines: dict[int, list[Task]] = defaultdict(list)
    for step in ctx.steps.values():
        for person, task in _tasks(ctx, step):
            if person != -1 and task.start < task.end:
                lines[person].append(task)
    for person, line in sorted(lines.items()):
        line.sort(key=lambda t: (t.start, t.end, t.step.operation))
        for first, second in _clashes(line):
            yield _breach(ctx, person, first, second)


def _tasks(ctx: Context, step: Step) -> Iterator[tuple[int, Task]]:
    work = "batch inspection" if ctx.operation(step).skill in ctx.stretched_skills else "work"
    for stint in step.setup:
        yield stint.person, Task(stint.start, stint.end, "setup", step)
    for stint in step.stints:
        yield stint.person, Task(stint.start, stint.end, work, step)
    if step.first_off is not None:
        yield step.first_off.approver, Task(step.first_off.start, step.first_off.end, "first-off", step)


def _clashes(line: list[Task]) -> Iterator[tuple[Task, Task]]:
    """Only a first-off and a batch inspection may be at the same time."""
    without_first_offs = [t for t in line if t.kind != "first-off"]
    without_inspections = [t for t in line if t.kind != "batch inspection"]
    yield from _overlaps(without_first_offs)
    for first, second in _overlaps(without_inspections):
        if "first-off" in (first.kind, second.kind):
            yield first, second


def _overlaps(line: list[Task]) -> Iterator[tuple[Task, Task]]:
    """Each task with the one that ends latest among those before it, where they overlap."""
    last: Task | None = None
    for task in line:
        if last is not None and task.start < last.end:
            yield last, task
        if last is None or task.end > last.end:
            last = task


def _breach(ctx: Context, person: int, first: Task, second: Task) -> Breach:
    where = f"{ctx.person(person)}, {second.kind} for {ctx.name(second.step)}"
    expected = f"not before {ctx.when(first.end)}, when their {first.kind} for {ctx.name(first.step)} ends"
    return Breach(RULE, where, expected, ctx.when(second.start))
