"""Rule 8: work of other firms goes on collections with room, in time, and comes back."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from planner.plan import Step
from planner.verify.breach import Breach
from planner.verify.context import Context
from planner.verify.flow import gates_of
from planner.work import Begun, Kind, Trip

RULE = "8 outside"


def check(ctx: Context) -> Iterator[Breach]:
    for step in ctx.steps.values():
        operation = ctx.operation(step)
        if operation.begun == Begun.OUT:
            yield from _is_out(ctx, step)
        elif operation.kind == Kind.OUTSIDE:
            trip = trip_of(ctx, step)
            if trip is None:
                yield Breach(RULE, ctx.name(step), "a collection", "none")
            else:
                yield from _times(ctx, step, trip)
    yield from _room(ctx)


def trip_of(ctx: Context, step: Step) -> Trip | None:
    operation = ctx.operation(step)
    if operation.kind != Kind.OUTSIDE or operation.service is None or step.trip is None:
        return None
    return ctx.work.services[operation.service].trips[step.trip]


def _is_out(ctx: Context, step: Step) -> Iterator[Breach]:
    back = max(0, ctx.operation(step).back_min)
    for what, expected, found in (
        ("start", 0, step.start), ("run start", 0, step.run_start), ("back", back, step.run_end),
    ):  # fmt: skip
        if expected != found:
            yield Breach(RULE, f"{ctx.name(step)} is out, {what}", ctx.when(expected), ctx.when(found))


def _times(ctx: Context, step: Step, trip: Trip) -> Iterator[Breach]:
    where = f"{ctx.name(step)} with {_service(ctx, step)}"
    for what, expected, found in (
        ("collection", trip.collect_min, step.run_start), ("back", trip.back_min, step.run_end),
    ):  # fmt: skip
        if expected != found:
            yield Breach(RULE, f"{where}, {what}", ctx.when(expected), ctx.when(found))
    for _, what, ready in gates_of(ctx, step):
        if ready > trip.cutoff_min:
            cutoff = f"ready by the cut-off, {ctx.when(trip.cutoff_min)}"
            yield Breach(RULE, where, cutoff, f"{ctx.when(ready)}, {what}")


def _service(ctx: Context, step: Step) -> str:
    operation = ctx.operation(step)
    assert operation.service is not None
    service = ctx.work.services[operation.service]
    return f"{service.supplier}, {service.process}"


def _room(ctx: Context) -> Iterator[Breach]:
    on_it: dict[int, list[Step]] = defaultdict(list)
    for step in ctx.steps.values():
        trip = trip_of(ctx, step)
        if trip is not None and ctx.operation(step).begun != Begun.OUT:
            on_it[trip.run].append(step)
    for number, steps in sorted(on_it.items()):
        run = ctx.work.runs[number]
        pieces = sum(ctx.operation(step).pieces for step in steps)
        if run.room_pieces is not None and pieces > run.room_pieces:
            where = f"collection by {run.supplier} at {ctx.when(run.collect_min)}"
            found = f"{pieces}: {', '.join(ctx.name(step) for step in steps)}"
            yield Breach(RULE, f"{where}, pieces", f"{run.room_pieces} at most", found)
