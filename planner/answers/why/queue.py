"""What a step waited for before it started, once its pieces and its components were there."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from planner.answers.why.facts import Facts, is_open, within
from planner.answers.why.hands import hands
from planner.answers.why.split import edges_held, edges_of, joined
from planner.chain import Part, PartKind
from planner.plan import Step
from planner.work import Kind


def waits(facts: Facts, step: Step, since: int) -> list[Part]:
    """Parts that cover ``[since, start)``: dates first, then what the step itself needs."""
    return list(joined(_waits(facts, step, since)))


def _waits(facts: Facts, step: Step, since: int) -> Iterator[Part]:
    op, at = facts.work.operations[step.operation], since
    for dated in (_dated(facts, step), (step.held_until or 0, Part(PartKind.HELD, 0, 0, op.index))):
        until, part = min(dated[0], step.start), dated[1]
        if at < until:
            yield Part(part.kind, at, until, op.index, need=part.need)
            at = until
    if at >= step.start:
        return
    if op.kind is Kind.OUTSIDE:
        yield Part(PartKind.VAN, at, step.start, op.index)
    elif step.machine is None:
        yield Part(PartKind.OTHER, at, step.start, op.index)
    else:
        yield from _for_machine(facts, step, step.machine, at, step.start)


def _dated(facts: Facts, step: Step) -> tuple[int, Part]:
    """The latest moment that a date keeps the step to, and which date that is."""
    op = facts.work.operations[step.operation]
    release = facts.work.batches[op.batch].release_min
    found = [
        (release, Part(PartKind.RELEASE, 0, 0, op.index)),
        (op.not_before_min, Part(PartKind.DECISION, 0, 0, op.index)),
    ]
    for i, need in facts.needs.get(op.index, ()):
        if need.batch is None:
            found.append((need.at_min, Part(PartKind.RECEIPT, 0, 0, op.index, need=i)))
    return max(found, key=lambda f: f[0])


def _for_machine(facts: Facts, step: Step, machine: int, start: int, end: int) -> Iterator[Part]:
    line = facts.on_machine[machine]
    attended = facts.work.machines[machine].hours.attended
    kept = {
        i for i in facts.kept_behind(step) if facts.steps[i].start >= start
    }  # those begun sooner have the machine anyway
    edges = edges_held(within(line, start, end)) + edges_of(attended, start, end)

    def tell(a: int, b: int) -> Part | None:
        has = next((h for h in within(line, a, a + 1) if h.operation != step.operation), None)
        if has is not None:
            kind = PartKind.KEPT if has.operation in kept else PartKind.MACHINE
            return Part(kind, a, b, step.operation, machine, behind=has.operation)
        if not is_open(attended, a):
            return Part(PartKind.CLOSED, a, b, step.operation, machine)
        first = next((h for h in within(line, a, end) if h.operation != step.operation), None)
        if first is not None:
            kind = PartKind.KEPT if first.operation in kept else PartKind.TURN
            return Part(kind, a, b, step.operation, machine, behind=first.operation)
        return None

    bounds = sorted({start, end, *(e for e in edges if start < e < end)})
    for a, b in pairwise(bounds):
        part = tell(a, b)
        if part is None:
            yield from hands(facts, step, a, b)
        else:
            yield part
