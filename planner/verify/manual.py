"""Rule 5: work done by people throughout, in stints."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from planner.plan import Step, Stint
from planner.verify import amounts
from planner.verify.breach import Breach
from planner.verify.context import Context
from planner.work import Alternative, Begun, Kind

RULE = "5 manual"


def check(ctx: Context) -> Iterator[Breach]:
    for step in ctx.steps.values():
        alternative = ctx.alternative(step)
        if alternative is None or ctx.operation(step).kind != Kind.MANUAL:
            continue
        yield from _total(ctx, step, alternative)
        for stint in step.stints:
            yield from _person(ctx, step, stint)
            yield from _window(ctx, step, stint)
        yield from _order(ctx, step)
        yield from _moments(ctx, step)
        yield from _no_pause(ctx, step)


def run_minutes(ctx: Context, step: Step, alternative: Alternative) -> int:
    """Run minutes, lengthened where the people who do it are called away to first pieces."""
    operation = ctx.operation(step)
    minutes = amounts.run_minutes(operation, alternative)
    if operation.skill in ctx.stretched_skills:
        return amounts.up(minutes * ctx.work.inspection_stretch_percent, 100)
    return minutes


def _total(ctx: Context, step: Step, alternative: Alternative) -> Iterator[Breach]:
    run = run_minutes(ctx, step, alternative)
    found = sum(stint.end - stint.start for stint in step.stints)
    if found != step.setup_min + run:
        expected = f"{step.setup_min + run} minutes (setup {step.setup_min}, run {run})"
        yield Breach(RULE, f"{ctx.on(step)}, work in all its stints", expected, f"{found} minutes")


def _person(ctx: Context, step: Step, stint: Stint) -> Iterator[Breach]:
    operation = ctx.operation(step)
    who, name = f"{ctx.on(step)}, stint from {ctx.when(stint.start)}", ctx.person(stint.person)
    if stint.person == -1 or operation.skill not in ctx.work.people[stint.person].skills:
        yield Breach(RULE, who, f"someone with {ctx.skill(operation.skill)}", name)
    for only, why in ((operation.pin_person, "pinned"), (step.named, "named by the plan")):
        if only is not None and stint.person != only:
            yield Breach(RULE, f"{who} is {why}", ctx.person(only), name)


def _window(ctx: Context, step: Step, stint: Stint) -> Iterator[Breach]:
    """A stint is within one window and lasts to its end, unless it finishes the work."""
    assert step.machine is not None
    where = f"{ctx.on(step)}, stint of {ctx.person(stint.person)}"
    window = ctx.common(step.machine, stint.person).window_at(stint.start)
    if window is None:
        expected = "begin while the machine is attended and the person is there"
        yield Breach(RULE, where, expected, ctx.when(stint.start))
    elif not stint.start < stint.end <= window[1]:
        yield Breach(RULE, f"{where}, end", f"after its start, not after {ctx.when(window[1])}", ctx.when(stint.end))
    elif stint.end < window[1] and stint is not step.stints[-1]:
        yield Breach(RULE, f"{where}, end (the work is not done)", ctx.when(window[1]), ctx.when(stint.end))


def _order(ctx: Context, step: Step) -> Iterator[Breach]:
    for first, second in pairwise(step.stints):
        if second.start < first.end:
            expected = f"not before the stint before it ends, {ctx.when(first.end)}"
            yield Breach(
                RULE, f"{ctx.on(step)}, stint of {ctx.person(second.person)}", expected, ctx.when(second.start)
            )


def _moments(ctx: Context, step: Step) -> Iterator[Breach]:
    """Start, run start and run end are the moments that the stints say; begun work is held from 0."""
    if not step.stints:
        if not step.start == step.run_start == step.run_end:
            found = f"{ctx.when(step.start)}, {ctx.when(step.run_start)}, {ctx.when(step.run_end)}"
            yield Breach(
                RULE, f"{ctx.on(step)}, start, run start and run end", "one moment, as nobody does anything", found
            )
        return
    first, last = step.stints[0].start, step.stints[-1].end
    running = ctx.operation(step).begun == Begun.RUNNING
    if first < step.start or (first > step.start and not running):
        yield Breach(RULE, f"{ctx.on(step)}, first stint", ctx.when(step.start), ctx.when(first))
    run_start = _run_start(step)
    if step.run_start != run_start and not (running and step.setup_min == 0 and step.run_start == first):
        where = f"{ctx.on(step)}, run start (after {step.setup_min} minutes of setup)"
        yield Breach(RULE, where, ctx.when(run_start), ctx.when(step.run_start))
    if step.run_end != last:
        yield Breach(RULE, f"{ctx.on(step)}, run end", ctx.when(last), ctx.when(step.run_end))


def _run_start(step: Step) -> int:
    if step.setup_min == 0:
        return step.start
    left = step.setup_min
    for stint in step.stints:
        if left < stint.end - stint.start:
            return stint.start + left
        left -= stint.end - stint.start
    return step.stints[-1].end


def _no_pause(ctx: Context, step: Step) -> Iterator[Breach]:
    assert step.machine is not None
    most = ctx.work.break_max_min
    start = max([step.run_start, *(stint.start for stint in step.stints[:1])])
    if not ctx.operation(step).may_pause and not ctx.attended(step.machine).in_one_stretch(start, step.run_end, most):
        expected = f"within one stretch of the attended hours, breaks of up to {most} minutes allowed"
        yield Breach(RULE, f"{ctx.on(step)} may not pause", expected, ctx.span(start, step.run_end))
