"""Why a way gains nothing: what holds the order in the plan that was made with it."""

from __future__ import annotations

from planner.alter.compare import Side
from planner.answers.orders import waits_on_the_way
from planner.answers.way import Ways
from planner.answers.wording import elapsed_text, moment_text, step_name
from planner.plan import Step
from planner.work import Kind, Operation, Work


def why_nothing(order: str, plain: Side, with_it: Side) -> str:
    """A sentence: the van it goes with all the same, or what it waits for instead."""
    ways = Ways(with_it.work, with_it.plan)
    batch = ways.last_batch(next(o for o in with_it.work.orders if o.number == order))
    if batch is None:
        return "gains nothing: the order waits for no batch"
    collected = _collections(plain)
    for wait in ways.back(batch):
        op = with_it.work.operations[wait.step.operation]
        if op.kind is Kind.OUTSIDE and collected.get(_name(with_it.work, op)) == wait.step.run_start:
            return _same_van(with_it.work, op, wait.step)
    _, (minutes, what) = waits_on_the_way(with_it.work, ways, batch)
    if not minutes:
        return "gains nothing: the order's own steps take as long"
    return f"gains nothing: the order still waits, longest for {what} ({elapsed_text(minutes)})"


def _same_van(work: Work, op: Operation, step: Step) -> str:
    firm = work.services[op.service].supplier if op.service is not None else "the outside firm"
    return f"gains nothing: {step_name(work, op)} goes with {firm} on {moment_text(work, step.run_start)} anyway"


def _collections(side: Side) -> dict[tuple[str, int], int]:
    steps = side.plan.step_of()
    outside = (op for op in side.work.operations if op.kind is Kind.OUTSIDE and op.index in steps)
    return {_name(side.work, op): steps[op.index].run_start for op in outside}


def _name(work: Work, op: Operation) -> tuple[str, int]:
    return work.batches[op.batch].name, op.number
