"""Every cost term added up again, and the bound against the cost."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from planner.plan import State
from planner.verify.breach import Breach
from planner.verify.context import Context
from planner.verify.outside import trip_of
from planner.work import Batch, Begun, Order

RULE = "cost"
RULE_BOUND = "bound"


def check(ctx: Context) -> Iterator[Breach]:
    if not ctx.plan.steps and ctx.plan.state in (State.IMPOSSIBLE, State.NOTHING):
        return
    terms = (
        ("late", late(ctx)),
        ("change", change(ctx)),
        ("wip", wip(ctx)),
        ("setup", setup(ctx)),
        ("charges", charges(ctx)),
    )
    for name, expected in terms:
        found = getattr(ctx.plan.cost, name)
        if not isinstance(found, int):
            yield Breach(RULE, f"cost term '{name}'", "a whole number", repr(found))
        elif expected is not None and found != expected:
            yield Breach(RULE, f"cost term '{name}'", str(expected), str(found))
    numbers = (ctx.plan.cost.late, ctx.plan.cost.change, ctx.plan.bound.value)
    if all(isinstance(number, int) for number in numbers):
        yield from _bound(ctx)
    else:
        yield Breach(RULE_BOUND, "first-tier cost and bound", "whole numbers", repr(numbers))


def late(ctx: Context) -> int | None:
    """Class weight times minutes late over all orders; None where a finish is not known."""
    total = 0
    for order in ctx.work.orders:
        finish = order_finish(ctx, order)
        if finish is None:
            return None
        total += order.weight * max(0, finish - order.due_min)
    return total


def order_finish(ctx: Context, order: Order) -> int | None:
    """When all of an order is there; None where that is not known."""
    finish = 0
    for source in order.sources:
        there = source.at_min if source.batch is None else ctx.batch_end(source.batch)
        if there is None:
            return None
        finish = max(finish, there)
    return finish


def change(ctx: Context) -> int:
    """Price of every other machine or place in the running order than in the kept plan."""
    prices, total = ctx.work.prices, 0
    for kept in ctx.work.kept:
        step = ctx.steps.get(kept.operation)
        if step is None:
            continue
        before = ctx.before_on_machine(step)
        if step.machine != kept.machine:
            total += kept.weight * prices.change_machine_min
        elif (None if before is None else before.operation) != kept.after:
            total += kept.weight * prices.change_place_min
    return total


def wip(ctx: Context) -> int | None:
    """Weighted minutes from each batch's first start to its end; None where an end is not known."""
    total = 0
    for batch in ctx.work.batches:
        end = ctx.batch_end(batch.index)
        if end is None:
            return None
        total += max(0, end - _first_start(ctx, batch))
    return ctx.work.prices.wip_weight * total


def _first_start(ctx: Context, batch: Batch) -> int:
    if any(ctx.work.operations[o].begun != Begun.NO for o in batch.operations):
        return 0
    return min((ctx.steps[o].start for o in batch.operations if o in ctx.steps), default=0)


def setup(ctx: Context) -> int:
    return ctx.work.prices.setup_weight * sum(step.setup_min for step in ctx.steps.values())


def charges(ctx: Context) -> int:
    """Weighted pence of all outside work: what shares a key and a collection shares one minimum."""
    price: dict[tuple[int, str, int], int] = defaultdict(int)
    lines: dict[tuple[int, str, int], int] = defaultdict(int)
    for step in ctx.steps.values():
        operation = ctx.operation(step)
        if trip_of(ctx, step) is None or operation.begun == Begun.OUT:
            continue
        assert operation.service is not None and step.trip is not None
        key = (operation.service, operation.charge_key, step.trip)
        price[key] += operation.pieces * operation.piece_price_pence
        lines[key] += 1
    pence = 0
    for key, pieces_pence in price.items():
        service = ctx.work.services[key[0]]
        pence += max(service.minimum_pence, pieces_pence) + service.line_fee_pence * lines[key]
    return ctx.work.prices.charge_weight * pence


def _bound(ctx: Context) -> Iterator[Breach]:
    first, bound = ctx.plan.cost.first, ctx.plan.bound
    if bound.value > first:
        yield Breach(
            RULE_BOUND, f"first-tier cost against the bound ({bound.kind})", f"{bound.value} at least", str(first)
        )
    if ctx.plan.state == State.BEST and bound.value != first:
        yield Breach(RULE_BOUND, f"the plan is called {State.BEST}", f"a bound of {first}", str(bound.value))
