"""Rule 6: equipment is held from the right moment, and no more of it than there is."""

from __future__ import annotations

from collections.abc import Iterator

from planner.plan import Step
from planner.verify.breach import Breach
from planner.verify.context import Context
from planner.verify.setups import setup_due

RULE = "6 equipment"


def check(ctx: Context) -> Iterator[Breach]:
    for step in ctx.steps.values():
        yield from _held_from(ctx, step)
    for equipment in sorted(ctx.held):
        yield from _enough(ctx, equipment)


def _held_from(ctx: Context, step: Step) -> Iterator[Breach]:
    due = setup_due(ctx, step)
    allowed = (step.start,) if due is None else due.held_from
    if step.equipment_from not in allowed:
        expected = " or ".join(ctx.when(moment) for moment in allowed)
        yield Breach(RULE, f"{ctx.name(step)}, equipment held from", expected, ctx.when(step.equipment_from))


def _enough(ctx: Context, equipment: int) -> Iterator[Breach]:
    """One breach for each unbroken time in which too many units are held."""
    count, name = ctx.work.equipment[equipment].count, ctx.work.equipment[equipment].name
    short = False
    for minute, held in ctx.held[equipment]:
        if held > count and not short:
            users = ", ".join(_users(ctx, equipment, minute))
            yield Breach(RULE, f"{name} at {ctx.when(minute)}", f"{count} at most", f"{held}, held by {users}")
        short = held > count


def _users(ctx: Context, equipment: int, minute: int) -> Iterator[str]:
    for step, _units in ctx.holders[equipment]:
        if step.equipment_from <= minute < step.run_end:
            yield ctx.name(step)
