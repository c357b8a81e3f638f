"""Moments within a run: when so many of its minutes are done, when the next one begins."""

from __future__ import annotations

from planner.plan import Step
from planner.verify import amounts
from planner.verify.context import Context
from planner.verify.hours import OpenTime


def burst_hours(ctx: Context, step: Step, place: int) -> OpenTime:
    """Hours of the burst in that place: a first cycle that is to be approved is run while attended."""
    assert step.machine is not None
    operation = ctx.operation(step)
    if place == 0 and amounts.first_off_due(operation):
        return ctx.attended(step.machine)
    return ctx.run_hours(step.machine, operation.unattended_limit_min)


def done_at(ctx: Context, step: Step, minutes: int) -> int | None:
    """When that many run minutes are worked off along the bursts; None if never."""
    if minutes <= 0:
        return step.run_start
    for place in range(len(step.bursts) - 1, -1, -1):
        burst = step.bursts[place]
        if burst.run_min_before < minutes:
            return burst_hours(ctx, step, place).work_off(burst.start, minutes - burst.run_min_before)
    return None


def begun_at(ctx: Context, step: Step, minutes_before: int) -> int | None:
    """When the minute after that many is run; None if never."""
    end = done_at(ctx, step, minutes_before + 1)
    return None if end is None else end - 1
