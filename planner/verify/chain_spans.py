"""Minutes in which a step is really worked on, and by whom, for checking what a chain says of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.chain import PartKind
from planner.plan import Step
from planner.verify import amounts, running
from planner.verify.context import Context
from planner.verify.hours import OpenTime
from planner.work import Kind, Span

Worked = tuple[PartKind, int, int, int | None]  # kind, from, to, person


def worked(ctx: Context, step: Step) -> Iterator[Worked]:
    """Every span in which the step is set, run, or its first piece is looked at."""
    alternative = ctx.alternative(step)
    if alternative is None or step.machine is None:
        return
    if ctx.operation(step).kind == Kind.MANUAL:
        yield from _by_hand(step)
        return
    for stint in step.setup:
        for a, b in _open(ctx.common(step.machine, stint.person), stint.start, stint.end):
            yield PartKind.SETUP, a, b, stint.person
    total = amounts.run_minutes(ctx.operation(step), alternative)
    for place, burst in enumerate(step.bursts):
        upto = step.bursts[place + 1].run_min_before if place + 1 < len(step.bursts) else total
        hours = running.burst_hours(ctx, step, place)
        end = hours.work_off(burst.start, upto - burst.run_min_before)
        for a, b in _open(hours, burst.start, burst.start if end is None else end):
            yield PartKind.RUN, a, b, None
    if step.first_off is not None:
        check = step.first_off
        for a, b in _open(ctx.person_hours(check.approver), check.start, check.end):
            yield PartKind.APPROVING, a, b, check.approver


def _by_hand(step: Step) -> Iterator[Worked]:
    for stint in step.stints:
        for kind, a, b in (
            (PartKind.SETUP, stint.start, min(stint.end, step.run_start)),
            (PartKind.RUN, max(stint.start, step.run_start), stint.end),
        ):
            if a < b:
                yield kind, a, b, stint.person


def _open(hours: OpenTime, start: int, end: int) -> Iterator[Span]:
    at = hours.next_open(start)
    while at is not None and at < end:
        window = hours.window_at(at)
        assert window is not None
        yield at, min(window[1], end)
        at = hours.next_open(window[1])


def tasks_of(step: Step) -> Iterator[tuple[int, int, int]]:
    """(person, from, to) of each stint and approval."""
    for stint in (*step.setup, *step.stints):
        yield stint.person, stint.start, stint.end
    if step.first_off is not None:
        yield step.first_off.approver, step.first_off.start, step.first_off.end


def covered(spans: Sequence[Span], start: int, end: int) -> bool:
    """Do the spans, which do not overlap, hold every minute of ``[start, end)``?"""
    return sum(max(0, min(b, end) - max(a, start)) for a, b in spans) == end - start
