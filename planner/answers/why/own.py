"""The minutes in which a step has its machine: setting, running, first piece, and what is closed between."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from planner.answers.spent import CHECK, RUN, SETUP, cut
from planner.answers.why.facts import Facts, is_open
from planner.answers.why.hands import approver, hands
from planner.answers.why.split import edges_of, joined, told
from planner.chain import Part, PartKind
from planner.plan import Step
from planner.work import Kind

KINDS = {SETUP: PartKind.SETUP, RUN: PartKind.RUN, CHECK: PartKind.APPROVING}


def own(facts: Facts, step: Step, start: int, end: int) -> list[Part]:
    """Parts that cover ``[start, end)``, which lies between the step's start and its run end."""
    return list(joined(_own(facts, step, start, end)))


def _own(facts: Facts, step: Step, start: int, end: int) -> Iterator[Part]:
    at = start
    for spent in facts.spent(step.operation):
        a, b = max(at, spent.start), min(spent.end, end)
        if a >= b:
            continue
        yield from _still(facts, step, at, a)
        person = spent.person if spent.what == CHECK else None
        yield Part(KINDS[spent.what], a, b, step.operation, spent.machine, person)
        at = b
    yield from _still(facts, step, at, end)


def _still(facts: Facts, step: Step, start: int, end: int) -> Iterator[Part]:
    """Nothing is done on it in ``[start, end)``: cut where setting ends and where a first piece is looked at."""
    if start >= end:
        return
    op, check = facts.work.operations[step.operation], step.first_off
    if op.kind is Kind.MANUAL:
        yield from open_minutes(facts, step, start, end)
        return
    set_end = step.setup[-1].end if step.setup else step.start
    looks = (end, end) if check is None else (check.cycle_end, check.end)
    for a, b in ((start, set_end), (set_end, looks[0]), (looks[0], looks[1]), (looks[1], end)):
        a, b = max(a, start), min(b, end)
        if a >= b:
            continue
        if b <= set_end:
            yield from _setting(facts, step, a, b)
        elif check is not None and looks[0] <= a and b <= looks[1]:
            yield from _looked_at(facts, step, a, b)
        else:
            yield from _between_runs(facts, step, a, b)


def _setting(facts: Facts, step: Step, start: int, end: int) -> Iterator[Part]:
    """A setup pauses when the machine is not attended or its setter is away; somebody may be waited for to take over."""
    assert step.machine is not None
    bounds = sorted({start, end, *(min(max(e, start), end) for s in step.setup for e in (s.start, s.end))})
    for a, b in pairwise(bounds):
        setter = next((s.person for s in step.setup if s.start <= a < s.end), None)
        if setter is None or setter < 0:
            yield from open_minutes(facts, step, a, b)
        else:
            yield from _paused(facts, step, setter, a, b)


def _paused(facts: Facts, step: Step, setter: int, start: int, end: int) -> Iterator[Part]:
    assert step.machine is not None
    windows, machine = facts.work.machines[step.machine].hours.attended, step.machine

    def tell(a: int, b: int) -> Part:
        if is_open(windows, a):
            return Part(PartKind.CLOSED, a, b, step.operation, person=setter)
        return Part(PartKind.CLOSED, a, b, step.operation, machine=machine)

    return told(start, end, edges_of(windows, start, end), tell)


def _looked_at(facts: Facts, step: Step, start: int, end: int) -> Iterator[Part]:
    """Before the approval the approver is waited for; within it, they are away."""
    assert step.first_off is not None
    begun = min(max(start, step.first_off.start), end)
    if start < begun:
        yield from approver(facts, step, start, begun)
    if begun < end:
        yield Part(PartKind.CLOSED, begun, end, step.operation, person=step.first_off.approver)


def _between_runs(facts: Facts, step: Step, start: int, end: int) -> Iterator[Part]:
    """A run pauses outside its hours; a burst begins only while the machine is attended, or in a stretch long enough."""
    assert step.machine is not None
    op, machine = facts.work.operations[step.operation], step.machine
    goes_on = next((s.start for s in facts.spent(op.index) if s.what == RUN and s.start >= end), None)
    begins = goes_on is not None and any(burst.start == goes_on for burst in step.bursts)
    first_cycle = step.first_off is not None and end <= step.first_off.cycle_end
    hours = (
        facts.openings.attended(machine)
        if begins or first_cycle
        else facts.openings.run(machine, op.unattended_limit_min)
    ).windows
    kind = PartKind.OTHER if op.may_pause else PartKind.STRETCH

    def tell(a: int, b: int) -> Part:
        return Part(kind if is_open(hours, a) else PartKind.CLOSED, a, b, op.index, machine)

    yield from told(start, end, edges_of(hours, start, end), tell)


def open_minutes(facts: Facts, step: Step, start: int, end: int) -> Iterator[Part]:
    """The step has or could have its machine: it is closed, or something else is waited for."""
    assert step.machine is not None
    machine = step.machine
    open_spans = cut(facts.work.machines[machine].hours.attended, start, end)
    at = start
    for a, b in open_spans:
        if at < a:
            yield Part(PartKind.CLOSED, at, a, step.operation, machine)
        yield from hands(facts, step, a, b)
        at = b
    if at < end:
        yield Part(PartKind.CLOSED, at, end, step.operation, machine)
