"""When a batch that left one step is at the next."""

from __future__ import annotations

from planner.plan import Step
from planner.verify.context import Context
from planner.verify.hours import OpenTime
from planner.work import NEVER, Begun, Operation


def whole_batch_ready(ctx: Context, step: Step) -> int | None:
    """When all of the batch is at the step; None where the step before it is missing from the plan."""
    before = ctx.before_in_batch(ctx.operation(step))
    if before is None or before.begun == Begun.DONE:
        return 0
    done = ctx.steps.get(before.index)
    return None if done is None else moved(ctx, before, step.machine, done.end)


def moved(ctx: Context, before: Operation, machine: int | None, minute: int) -> int:
    """``minute`` and the move after ``before`` to ``machine``; NEVER if the hours end before."""
    hours = move_hours(ctx, before, machine)
    if hours is None:
        return minute + before.move_min
    there = hours.work_off(minute, before.move_min)
    return NEVER if there is None else there


def move_hours(ctx: Context, before: Operation, machine: int | None) -> OpenTime | None:
    """The named calendar, else the receiving machine attended, else the shop's; None: elapsed."""
    if before.move_calendar is not None:
        return ctx.move_calendars[before.move_calendar]
    if machine is not None:
        return ctx.attended(machine)
    if ctx.work.shop_calendar is not None:
        return ctx.move_calendars[ctx.work.shop_calendar]
    return None
