"""Rule 4: the run of a machine operation, burst by burst."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from planner.plan import Burst, Step
from planner.verify import amounts, running, sublots
from planner.verify.breach import Breach
from planner.verify.context import Context
from planner.work import Alternative, Begun, Kind

RULE = "4 run"


def check(ctx: Context) -> Iterator[Breach]:
    for step in ctx.steps.values():
        alternative = ctx.alternative(step)
        if alternative is None or ctx.operation(step).kind != Kind.MACHINE:
            continue
        run_min = amounts.run_minutes(ctx.operation(step), alternative)
        if run_min == 0:
            yield from _no_run(ctx, step)
            continue
        yield from _first_burst(ctx, step)
        yield from _places(ctx, step, alternative, run_min)
        yield from _starts(ctx, step)
        yield from _end(ctx, step, alternative, run_min)
        yield from _no_pause(ctx, step)


def _no_run(ctx: Context, step: Step) -> Iterator[Breach]:
    """Without a run there is no burst but perhaps an empty one; a first-off may still follow."""
    if step.bursts not in ((), (Burst(step.run_start, 0),)):
        yield Breach(RULE, f"{ctx.on(step)} has nothing to run", "no burst", _listed(step))
    if step.run_end != step.run_start and not amounts.first_off_due(ctx.operation(step)):
        expected = ctx.when(step.run_start)
        yield Breach(RULE, f"{ctx.on(step)} has nothing to run, run end", expected, ctx.when(step.run_end))


def _first_burst(ctx: Context, step: Step) -> Iterator[Breach]:
    if step.bursts[:1] != (Burst(step.run_start, 0),):
        expected = f"{ctx.when(step.run_start)} with 0 minutes before, the run start"
        yield Breach(RULE, f"{ctx.on(step)}, first burst", expected, _listed(step))


def _places(ctx: Context, step: Step, alternative: Alternative, run_min: int) -> Iterator[Breach]:
    """A run goes on by itself: it is cut only by its first-off and by waits for sublots."""
    befores = [burst.run_min_before for burst in step.bursts]
    cut = _first_off_cut(ctx, step, alternative, run_min)
    if cut is not None and cut not in befores:
        yield Breach(RULE, f"{ctx.on(step)}, burst after the first-off", f"with {cut} minutes before", _listed(step))
    if any(b <= a for a, b in pairwise(befores)):
        yield Breach(RULE, f"{ctx.on(step)}, bursts", "more minutes before each", _listed(step))
    lots = sublots.arrivals(ctx, step)
    lot_cuts = {lot.run_min: after.ready for lot, after in pairwise(lots)}
    for place, burst in enumerate(step.bursts[1:], 1):
        if burst.run_min_before == cut:
            continue
        if burst.run_min_before not in lot_cuts:
            yield Breach(RULE, f"{ctx.on(step)}, burst {place + 1}", "no cut of the run here", _listed(step))
        else:
            yield from _waited(ctx, step, place, lot_cuts[burst.run_min_before])


def _first_off_cut(ctx: Context, step: Step, alternative: Alternative, run_min: int) -> int | None:
    operation = ctx.operation(step)
    first = amounts.first_cycle_minutes(operation, alternative)
    return first if amounts.first_off_due(operation) and first < run_min else None


def _waited(ctx: Context, step: Step, place: int, ready: int | None) -> Iterator[Breach]:
    """There is no new burst where the next sublot was there in time and the run just went on."""
    burst = step.bursts[place]
    end = running.done_at(ctx, step, burst.run_min_before)
    if end is None or ready is None or ready > end:
        return
    if running.burst_hours(ctx, step, place).next_open(end) == burst.start:
        yield Breach(
            RULE, f"{ctx.on(step)}, burst {place + 1}", "no burst, the run goes on without a wait", _listed(step)
        )


def _starts(ctx: Context, step: Step) -> Iterator[Breach]:
    assert step.machine is not None
    attended = ctx.attended(step.machine)
    for place, burst in enumerate(step.bursts):
        where = f"{ctx.on(step)}, burst {place + 1}"
        hours = running.burst_hours(ctx, step, place) if place == 0 and _goes_on(ctx, step) else attended
        if not hours.is_open(burst.start):
            expected = "in the run hours" if hours is not attended else "in an attended minute"
            yield Breach(RULE, f"{where}, start", expected, ctx.when(burst.start))
        end = running.done_at(ctx, step, burst.run_min_before) if place else None
        if end is not None and burst.start < end:
            expected = f"not before the last one's share is done, {ctx.when(end)}"
            yield Breach(RULE, f"{where}, start", expected, ctx.when(burst.start))


def _goes_on(ctx: Context, step: Step) -> bool:
    """A run that was under way at the plan start may go on unattended."""
    operation = ctx.operation(step)
    running_now = operation.begun == Begun.RUNNING and operation.setup_left_min == 0
    return running_now and not amounts.first_off_due(operation)


def _end(ctx: Context, step: Step, alternative: Alternative, run_min: int) -> Iterator[Breach]:
    operation = ctx.operation(step)
    if amounts.first_off_due(operation) and amounts.first_cycle_minutes(operation, alternative) == run_min:
        return  # the run ends with its approval, see first_off
    last = step.bursts[-1] if step.bursts else Burst(step.run_start, 0)
    left = run_min - last.run_min_before
    end = running.done_at(ctx, step, run_min) if left > 0 else last.start
    if step.run_end != end:
        expected = f"{ctx.when(end)}, the end of {run_min} run minutes"
        yield Breach(RULE, f"{ctx.on(step)}, run end", expected, ctx.when(step.run_end))


def _no_pause(ctx: Context, step: Step) -> Iterator[Breach]:
    assert step.machine is not None
    operation, most = ctx.operation(step), ctx.work.break_max_min
    hours = ctx.run_hours(step.machine, operation.unattended_limit_min)
    if not operation.may_pause and not hours.in_one_stretch(step.run_start, step.run_end, most):
        expected = f"within one stretch of the run hours, breaks of up to {most} minutes allowed"
        yield Breach(RULE, f"{ctx.on(step)} may not pause", expected, ctx.span(step.run_start, step.run_end))


def _listed(step: Step) -> str:
    return ", ".join(f"minute {b.start} with {b.run_min_before} before" for b in step.bursts) or "no burst"
