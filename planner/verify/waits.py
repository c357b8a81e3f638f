"""Rule 14: what a step says it waited for is there to be waited for."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from planner.plan import Step
from planner.verify import sublots
from planner.verify.breach import Breach
from planner.verify.context import Context
from planner.work import Kind

RULE = "14 waits"

HELD = "held back"
ALONE = ("release", "not before", "receipt", "van", HELD)  # nothing else of the plan is behind these


def check(ctx: Context) -> Iterator[Breach]:
    for step in ctx.steps.values():
        if step.waited_for not in (*ALONE, *ON):
            yield Breach(
                RULE, f"{ctx.name(step)}, waited for", f"one of {', '.join((*ALONE, *ON))}", repr(step.waited_for)
            )
            continue
        expected = _alone(ctx, step) if step.waited_for in ALONE else ON[step.waited_for](ctx, step)
        if step.waited_for == HELD:
            expected = expected or _held_back(ctx, step)
        if expected:
            yield Breach(RULE, f"{ctx.name(step)} waited for {step.waited_for}", expected, _found(ctx, step))


def _found(ctx: Context, step: Step) -> str:
    on = step.waited_on
    if on is None:
        return "nothing named"
    return f"batch {ctx.work.batches[on].name}" if step.waited_for == "component" else ctx.name(on)


# ---- what should have been named; empty where it is -----------------------------------


def _alone(ctx: Context, step: Step) -> str:
    return "" if step.waited_on is None else "nothing named"


def _held_back(ctx: Context, step: Step) -> str:
    """The plan says until when, and the step then starts in the first minute in which it can.

    Where its run may not pause, or its setup may be ahead of its pieces, later minutes can be the first.
    """
    operation, until = ctx.operation(step), step.held_until
    if until is None:
        return "not this: the plan does not hold it back"
    first: int | None = until
    if operation.kind == Kind.OUTSIDE:
        cutoffs = ctx.work.services[operation.service or 0].trips
        first = next((trip.collect_min for trip in cutoffs if trip.cutoff_min >= until), None)
    elif step.machine is not None:
        first = ctx.attended(step.machine).next_open(until)
    any_later = not operation.may_pause or operation.setup_ahead or bool(sublots.arrivals(ctx, step))
    if step.start == first or (any_later and first is not None and step.start > first):
        return ""
    return f"a start at {ctx.when(first)}, the first minute from {ctx.when(until)} on"


def _any_or_none(ctx: Context, step: Step) -> str:
    """A person or a piece of equipment may come from any operation, or from its hours."""
    return ""


def _step_before(ctx: Context, step: Step) -> str:
    before = ctx.before_in_batch(ctx.operation(step))
    if before is None or before.index not in ctx.steps:
        return "not this: nothing is to be done before it in its batch"
    return "" if step.waited_on == before.index else ctx.name(before)


def _machine(ctx: Context, step: Step) -> str:
    others = () if step.machine is None else ctx.lines[step.machine]
    through = [other.operation for other in others if other is not step and other.run_end <= step.start]
    if step.waited_on in through:
        return ""
    return f"an operation on {ctx.machine(step.machine)} that is through by {ctx.when(step.start)}"


def _component(ctx: Context, step: Step) -> str:
    sources = [need.batch for need in ctx.needs.get(step.operation, ()) if need.batch is not None]
    if step.waited_on in sources:
        return ""
    names = " or ".join(ctx.work.batches[b].name for b in sources)
    return f"batch {names}, which it needs" if names else "not this: it needs nothing from a batch"


ON: dict[str, Callable[[Context, Step], str]] = {
    "step before": _step_before,
    "machine": _machine,
    "component": _component,
    "person": _any_or_none,
    "equipment": _any_or_none,
}
