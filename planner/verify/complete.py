"""The plan is for this work, and has one readable step for every operation still to be done."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import pairwise

from planner.plan import State
from planner.verify import shape
from planner.verify.breach import Breach
from planner.verify.context import Context
from planner.work import Begun

RULE = "complete"


def check(ctx: Context) -> Iterator[Breach]:
    yield from _fingerprint(ctx)
    yield from _unreadable(ctx)
    if ctx.plan.steps or ctx.plan.state not in (State.IMPOSSIBLE, State.NOTHING):
        yield from _missing(ctx)
    yield from _twice(ctx)
    yield from _order(ctx)


def _fingerprint(ctx: Context) -> Iterator[Breach]:
    expected, found = ctx.work.fingerprint, ctx.plan.fingerprint
    if expected != found:
        yield Breach(RULE, "the plan was made for other data; plan again", expected, str(found))


def _unreadable(ctx: Context) -> Iterator[Breach]:
    for place, step in enumerate(ctx.plan.steps):
        for field, expected, found in shape.faults(ctx.work, step):
            yield Breach(RULE, f"step {place + 1} of the plan, {field}", expected, found)


def _missing(ctx: Context) -> Iterator[Breach]:
    for operation in ctx.work.operations:
        if operation.begun != Begun.DONE and operation.index not in ctx.steps:
            yield Breach(RULE, f"{ctx.name(operation)} is to be done", "one step", "none that can be read")


def _twice(ctx: Context) -> Iterator[Breach]:
    readable = [s.operation for s in ctx.plan.steps if not shape.faults(ctx.work, s)]
    for operation, count in Counter(readable).items():
        if count > 1:
            yield Breach(RULE, f"{ctx.name(operation)} is planned more than once", "one step", f"{count} steps")


def _order(ctx: Context) -> Iterator[Breach]:
    """Steps are listed in the order of the operations; the list they came from names each at most once."""
    listed = list(ctx.steps)
    if listed != sorted(listed):
        first = next(b for a, b in pairwise(listed) if b < a)
        yield Breach(RULE, "order of the steps", "that of the operations", f"{ctx.name(first)} after a later one")
    known = range(len(ctx.work.operations))
    for operation, count in Counter(map(_index, ctx.plan.sequence)).items():
        if operation not in known or count > 1:
            found = f"{operation}, {count} times"
            yield Breach(RULE, "the list the plan was made from", "known operations, each once", found)


def _index(value: object) -> int | str:
    return value if isinstance(value, int) else repr(value)
