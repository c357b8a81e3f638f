"""Rules 1, 10 and 11 for machines: an allowed one, one operation at a time, begun work first."""

from __future__ import annotations

from collections.abc import Iterator

from planner.plan import Step
from planner.verify import amounts
from planner.verify.breach import Breach
from planner.verify.context import Context
from planner.work import Begun, Kind, Operation

RULE = "1 machine"
RULE_PIN = "10 pins"
RULE_BEGUN = "11 begun work"
RULE_ZERO = "13 zero length"


def check(ctx: Context) -> Iterator[Breach]:
    for step in ctx.steps.values():
        if ctx.operation(step).kind in (Kind.MACHINE, Kind.MANUAL):
            yield from _choice(ctx, step)
            yield from _begun(ctx, step)
    for line in ctx.lines.values():
        yield from _one_at_a_time(ctx, line)


def _choice(ctx: Context, step: Step) -> Iterator[Breach]:
    operation, alternative = ctx.operation(step), ctx.alternative(step)
    if step.machine is None:
        if not amounts.may_take_no_time(operation):
            yield Breach(RULE, f"{ctx.name(step)} has work to do", f"one of {_choices(ctx, operation)}", "no machine")
        return
    if alternative is None:
        yield Breach(RULE, ctx.name(step), f"one of {_choices(ctx, operation)}", ctx.machine(step.machine))
    elif amounts.takes_no_time(operation, alternative) and step.changeover_min == 0:
        yield Breach(RULE_ZERO, f"{ctx.name(step)} has nothing to do", "no machine", ctx.machine(step.machine))
    if operation.pin_machine is not None and step.machine != operation.pin_machine:
        pinned = ctx.machine(operation.pin_machine)
        yield Breach(RULE_PIN, f"{ctx.name(step)} is pinned to a machine", pinned, ctx.machine(step.machine))


def _choices(ctx: Context, operation: Operation) -> str:
    return ", ".join(ctx.machine(a.machine) for a in operation.alternatives) or "no machine at all"


def _begun(ctx: Context, step: Step) -> Iterator[Breach]:
    operation = ctx.operation(step)
    if operation.begun != Begun.RUNNING or step.machine is None:
        return
    if operation.begun_machine is not None and step.machine != operation.begun_machine:
        expected = ctx.machine(operation.begun_machine)
        yield Breach(RULE_BEGUN, f"{ctx.name(step)} is running", expected, ctx.machine(step.machine))
    if step.start != 0:
        yield Breach(RULE_BEGUN, f"{ctx.on(step)} is running, start", ctx.when(0), ctx.when(step.start))
    before = ctx.before_on_machine(step)
    if before is not None:
        yield Breach(RULE_BEGUN, f"{ctx.on(step)} is running", "first on its machine", f"after {ctx.name(before)}")


def _one_at_a_time(ctx: Context, line: list[Step]) -> Iterator[Breach]:
    last: Step | None = None
    for step in line:
        if last is not None and step.start < last.run_end:
            expected = f"start not before {ctx.when(last.run_end)}, when {ctx.name(last)} is off"
            yield Breach(RULE, ctx.on(step), expected, ctx.when(step.start))
        if last is None or step.run_end > last.run_end:
            last = step
