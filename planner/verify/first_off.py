"""Rule 3: the first piece is approved before the run goes on."""

from __future__ import annotations

from collections.abc import Iterator

from planner.plan import FirstOff, Step
from planner.verify import amounts
from planner.verify.breach import Breach
from planner.verify.context import Context
from planner.work import Alternative, Kind

RULE = "3 first-off"


def check(ctx: Context) -> Iterator[Breach]:
    for step in ctx.steps.values():
        operation, alternative = ctx.operation(step), ctx.alternative(step)
        if operation.kind != Kind.MACHINE or alternative is None:
            continue
        due, first = amounts.first_off_due(operation), step.first_off
        if due != (first is not None):
            expected = "a first-off" if due else "no first-off"
            yield Breach(RULE, ctx.on(step), expected, "none" if first is None else ctx.span(first.start, first.end))
        elif first is not None:
            yield from _cycle(ctx, step, alternative, first)
            yield from _approver(ctx, step, first)
            yield from _approval(ctx, step, first)
            yield from _rest(ctx, step, alternative, first)


def _cycle(ctx: Context, step: Step, alternative: Alternative, first: FirstOff) -> Iterator[Breach]:
    assert step.machine is not None
    minutes = amounts.first_cycle_minutes(ctx.operation(step), alternative)
    attended = ctx.attended(step.machine)
    if minutes and not attended.is_open(step.run_start):
        yield Breach(RULE, f"{ctx.on(step)}, first cycle begins", "in an attended minute", ctx.when(step.run_start))
    end = attended.work_off(step.run_start, minutes)
    if first.cycle_end != end:
        where = f"{ctx.on(step)}, end of the first cycle of {minutes} attended minutes"
        yield Breach(RULE, where, ctx.when(end), ctx.when(first.cycle_end))


def _approver(ctx: Context, step: Step, first: FirstOff) -> Iterator[Breach]:
    operation = ctx.operation(step)
    where, name = f"{ctx.on(step)}, approver of the first piece", ctx.person(first.approver)
    if operation.first_off_skill not in ctx.work.people[first.approver].skills:
        yield Breach(RULE, where, f"someone with {ctx.skill(operation.first_off_skill)}", name)
    if not ctx.work.setter_may_approve and first.approver in {stint.person for stint in step.setup}:
        yield Breach(RULE, where, "someone who did not set it", name)


def _approval(ctx: Context, step: Step, first: FirstOff) -> Iterator[Breach]:
    minutes = ctx.operation(step).first_off_min
    hours = ctx.person_hours(first.approver)
    where = f"{ctx.on(step)}, approval by {ctx.person(first.approver)}"
    if first.start < first.cycle_end:
        expected = f"not before the first cycle ends, {ctx.when(first.cycle_end)}"
        yield Breach(RULE, f"{where}, start", expected, ctx.when(first.start))
    if minutes and not hours.is_open(first.start):
        yield Breach(RULE, f"{where}, start", "in a minute in which they are there", ctx.when(first.start))
    end = hours.work_off(first.start, minutes)
    if first.end != end:
        yield Breach(RULE, f"{where}, end of {minutes} minutes in their hours", ctx.when(end), ctx.when(first.end))


def _rest(ctx: Context, step: Step, alternative: Alternative, first: FirstOff) -> Iterator[Breach]:
    operation = ctx.operation(step)
    cut = amounts.first_cycle_minutes(operation, alternative)
    if cut == amounts.run_minutes(operation, alternative):
        if step.run_end != first.end:
            where = f"{ctx.on(step)}, run end (the first cycle is the whole run)"
            yield Breach(RULE, where, ctx.when(first.end), ctx.when(step.run_end))
        return
    for burst in step.bursts[1:]:
        if burst.start < first.end:
            expected = f"not before the approval ends, {ctx.when(first.end)}"
            yield Breach(RULE, f"{ctx.on(step)}, run after the first piece", expected, ctx.when(burst.start))
