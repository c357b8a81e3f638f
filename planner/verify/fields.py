"""The fields of a step agree with each other and with what kind of operation it is."""

from __future__ import annotations

from collections.abc import Iterator

from planner.plan import Step
from planner.verify.breach import Breach
from planner.verify.context import Context
from planner.work import Begun, Kind

RULE = "fields"

EMPTY: dict[str, object] = {
    "machine": None, "setup_min": 0, "changeover_min": 0, "setup": (), "first_off": None, "bursts": (), "stints": (), "trip": None,
}  # fmt: skip
ALLOWED = {
    Kind.MACHINE: {"machine", "setup_min", "changeover_min", "setup", "first_off", "bursts"},
    Kind.MANUAL: {"machine", "setup_min", "changeover_min", "stints"},
    Kind.OUTSIDE: {"trip"},
    Kind.WAIT: set(),
}


def check(ctx: Context) -> Iterator[Breach]:
    for step in ctx.steps.values():
        yield from _times(ctx, step)
        yield from _not_of_this_kind(ctx, step)


def _times(ctx: Context, step: Step) -> Iterator[Breach]:
    wait = ctx.operation(step).wait_min
    if step.end != step.run_end + wait:
        expected = f"{ctx.when(step.run_end + wait)}, {wait} minutes after its run ends"
        yield Breach(RULE, f"{ctx.name(step)}, end", expected, ctx.when(step.end))
    if not step.start <= step.run_start <= step.run_end:
        found = f"{step.start}, {step.run_start}, {step.run_end}"
        yield Breach(RULE, f"{ctx.name(step)}, minutes of start, run start and run end", "in this order", found)


def _not_of_this_kind(ctx: Context, step: Step) -> Iterator[Breach]:
    operation = ctx.operation(step)
    allowed = ALLOWED[operation.kind]
    if operation.begun == Begun.OUT or (step.machine is None and operation.kind != Kind.OUTSIDE):
        allowed = set()
    for field, empty in EMPTY.items():
        value = getattr(step, field)
        if field not in allowed and value != empty:
            kind = f"{operation.kind.name.lower()} operation, {ctx.machine(step.machine)}"
            yield Breach(RULE, f"{ctx.name(step)} ({kind}), {field}", repr(empty), repr(value))
