"""Rules 7, 9, 10 and 13: nothing starts before it may and before all it needs is there."""

from __future__ import annotations

from collections.abc import Iterator

from planner.plan import Step
from planner.verify import moves, sublots
from planner.verify.breach import Breach
from planner.verify.context import Context
from planner.work import Begun, Kind, Need

Gate = tuple[str, str, int]  # (rule, what is waited for, moment)

RULE_MOVE = "7 moves"
RULE_NEED = "9 needs"
RULE_RELEASE = "10 release"
RULE_BEGUN = "11 begun work"
RULE_ZERO = "13 zero length"


def check(ctx: Context) -> Iterator[Breach]:
    for step in ctx.steps.values():
        if step.held_until is not None and ctx.operation(step).begun is not Begun.NO:
            yield Breach(RULE_BEGUN, f"{ctx.name(step)}, held back", "never: it is begun", ctx.when(step.held_until))
        if ctx.operation(step).begun in (Begun.RUNNING, Begun.OUT) and not _without_machine(ctx, step):
            continue  # work under way has all it needs
        gates = list(gates_of(ctx, step))
        for rule, what, moment in gates:
            if step.start < moment:
                expected = f"not before {ctx.when(moment)}, {what}"
                yield Breach(rule, f"{ctx.name(step)}, start", expected, ctx.when(step.start))
        if _without_machine(ctx, step):
            yield from _no_time(ctx, step, gates)


def _without_machine(ctx: Context, step: Step) -> bool:
    """A wait, or a step with nothing to do."""
    return step.machine is None and ctx.operation(step).kind != Kind.OUTSIDE


def gates_of(ctx: Context, step: Step) -> Iterator[Gate]:
    """All moments that a step's start may not be before; those that the plan does not tell left out."""
    operation = ctx.operation(step)
    batch = ctx.work.batches[operation.batch]
    yield RULE_RELEASE, "the plan start", 0
    yield RULE_RELEASE, "the release of its batch", batch.release_min
    yield RULE_RELEASE, "the moment it is pinned to", operation.not_before_min
    if step.held_until is not None:
        yield RULE_RELEASE, "the moment the plan holds it back to", step.held_until
    for need in ctx.needs.get(operation.index, ()):
        there = ctx.batch_end(need.batch) if need.batch is not None else need.at_min
        if there is not None:
            yield RULE_NEED, _needed(ctx, need), there
    ready = moves.whole_batch_ready(ctx, step)
    if ready is not None and not sublots.arrivals(ctx, step):
        yield RULE_MOVE, "when the batch is there from the step before", ready


def _needed(ctx: Context, need: Need) -> str:
    pieces = f"when its {need.pieces} of {need.part} are there"
    if need.batch is not None:
        return f"{pieces} from batch {ctx.work.batches[need.batch].name}"
    return f"{pieces} from {f'receipt {need.receipt}' if need.receipt else 'stock'}"


def _no_time(ctx: Context, step: Step, gates: list[Gate]) -> Iterator[Breach]:
    """A wait and a step of zero length begin when the batch is there and end their run at once."""
    ready = max(moment for _, _, moment in gates)
    known = any(rule == RULE_MOVE for rule, _, _ in gates)
    if known and step.start > ready:
        yield Breach(RULE_ZERO, f"{ctx.name(step)} needs no machine, start", ctx.when(ready), ctx.when(step.start))
    for what, moment in (("run start", step.run_start), ("run end", step.run_end)):
        if moment != step.start:
            yield Breach(
                RULE_ZERO, f"{ctx.name(step)} needs no machine, {what}", ctx.when(step.start), ctx.when(moment)
            )
