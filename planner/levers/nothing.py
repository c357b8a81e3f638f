"""Why a way gains nothing: what holds the order in the plan that was made with it."""

from __future__ import annotations

from planner.alter.records import Side
from planner.answers.why.causes import causes
from planner.answers.why.facts import Facts
from planner.answers.why.walk import order_chain
from planner.answers.wording import moment_text, step_name
from planner.plan import Step
from planner.work import Kind, Operation, Work


def why_nothing(order: str, plain: Side, with_it: Side) -> str:
    """A sentence: the van it goes or comes back with all the same, or what it waits for instead."""
    work = with_it.work
    facts = Facts(work, with_it.plan)
    chain = order_chain(facts, next(o for o in work.orders if o.number == order))
    if chain is None or not chain.parts:
        return "gains nothing: the order waits for no step"
    before = _away(plain)
    for i in dict.fromkeys(p.operation for p in reversed(chain.parts) if p.operation is not None):
        op, step = work.operations[i], facts.steps[i]
        was = before.get(_name(work, op)) if op.kind is Kind.OUTSIDE else None
        if was is not None and step.run_start == was.run_start:
            return f"gains nothing: {_with(work, op, 'goes', step.run_start)}"
        if was is not None and step.run_end == was.run_end:
            return f"gains nothing: {_with(work, op, 'comes back', step.run_end)}"
    waits = next((c for c in causes(facts, chain, late=True) if c.wait), None)
    if waits is None:
        return "gains nothing: the order's own steps take as long"
    return f"gains nothing: the order still waits, longest {waits.text}"


def _with(work: Work, op: Operation, verb: str, minute: int) -> str:
    firm = work.services[op.service].supplier if op.service is not None else "the outside firm"
    return f"{step_name(work, op)} {verb} with {firm} on {moment_text(work, minute)} anyway"


def _away(side: Side) -> dict[tuple[str, int], Step]:
    """Outside steps by batch name and number."""
    steps = side.plan.step_of()
    outside = (op for op in side.work.operations if op.kind is Kind.OUTSIDE and op.index in steps)
    return {_name(side.work, op): steps[op.index] for op in outside}


def _name(work: Work, op: Operation) -> tuple[str, int]:
    return work.batches[op.batch].name, op.number
