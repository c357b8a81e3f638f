"""Why an open machine that nothing else has stands still: people, equipment, a run that may not pause."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.answers.why.facts import Facts, Held, is_open, within
from planner.answers.why.split import edges_held, edges_of, told
from planner.chain import Part, PartKind
from planner.plan import Step
from planner.work import Kind, Operation


def hands(facts: Facts, step: Step, start: int, end: int) -> Iterator[Part]:
    """What a step that has its machine, in its hours, still waits for in ``[start, end)``."""
    op = facts.work.operations[step.operation]
    able = facts.able(op) if _asks_hands(op, step) else []
    edges = [e for p in able for e in _edges_of_person(facts, p, start, end)]
    edges += [e for what, _ in op.equipment for e in edges_held(within(facts.of_equipment[what], start, end))]
    people = _first(_actual(step), able)
    return told(start, end, edges, lambda a, b: _hands_at(facts, op, step, people, a, b))


def _asks_hands(op: Operation, step: Step) -> bool:
    return op.skill is not None and (op.kind is Kind.MANUAL or step.setup_min > 0)


def _actual(step: Step) -> int | None:
    """Who began it in the end."""
    return next((s.person for s in (*step.setup, *step.stints)), None)


def _first(person: int | None, people: Sequence[int]) -> list[int]:
    """The people, that one in front."""
    return sorted(people, key=lambda p: (p != person, p))


def _edges_of_person(facts: Facts, person: int, start: int, end: int) -> list[int]:
    hours = edges_of(facts.work.people[person].hours, start, end)
    return hours + edges_held(within(facts.of_person[person], start, end))


def _hands_at(facts: Facts, op: Operation, step: Step, people: list[int], a: int, b: int) -> Part:
    short = _equipment_short(facts, op, a)
    if short is not None:
        return Part(PartKind.EQUIPMENT, a, b, op.index, equipment=short[0], behind=short[1])
    if people:
        there = [p for p in people if is_open(facts.work.people[p].hours, a)]
        if not there:
            only = facts.only(op)
            return Part(PartKind.CLOSED, a, b, op.index, person=only, skill=op.skill if only is None else None)
        busy = next(((p, h) for p in there for h in _at(facts.of_person[p], a, op.index)), None)
        if busy is not None:
            return Part(PartKind.PERSON, a, b, op.index, person=busy[0], skill=op.skill, behind=busy[1].operation)
    return _left_over(facts, op, step, people, a, b)


def _at(held: list[Held], minute: int, but: int) -> Iterator[Held]:
    return (h for h in within(held, minute, minute + 1) if h.operation != but)


def _equipment_short(facts: Facts, op: Operation, minute: int) -> tuple[int, int] | None:
    """Equipment of which too little is free at that minute, and who gives it back last."""
    for what, units in op.equipment:
        others = list(_at(facts.of_equipment[what], minute, op.index))
        if sum(h.units for h in others) + units > facts.work.equipment[what].count:
            return what, max(others, key=lambda h: (h.end, h.operation)).operation
    return None


def _left_over(facts: Facts, op: Operation, step: Step, people: list[int], a: int, b: int) -> Part:
    """All is free at that minute; what comes soon is in the way, or who is there could not see it through."""
    if step.waited_for == "equipment":
        for what, _ in op.equipment:
            soon = _soon(facts.of_equipment[what], step, a)
            if soon is not None:
                return Part(PartKind.EQUIPMENT, a, b, op.index, equipment=what, behind=soon)
    for person in people:
        soon = _soon(facts.of_person[person], step, a) if is_open(facts.work.people[person].hours, a) else None
        if soon is not None:
            return Part(PartKind.PERSON, a, b, op.index, person=person, skill=op.skill, behind=soon)
    if not op.may_pause:
        return Part(PartKind.STRETCH, a, b, op.index, machine=step.machine)
    if people:
        return Part(PartKind.PERSON, a, b, op.index, person=people[0], skill=op.skill)
    return Part(PartKind.OTHER, a, b, op.index, machine=step.machine)


def _soon(held: list[Held], step: Step, minute: int) -> int | None:
    """What has it, or them, next, before the step starts."""
    return next((h.operation for h in held if minute < h.start < step.start and h.operation != step.operation), None)


def approver(facts: Facts, step: Step, start: int, end: int) -> Iterator[Part]:
    """A first piece that is finished waits to be approved in ``[start, end)``."""
    assert step.first_off is not None
    op, people = facts.work.operations[step.operation], _first(step.first_off.approver, facts.approvers(step))
    edges = [e for p in people for e in _edges_of_person(facts, p, start, end)]

    def tell(a: int, b: int) -> Part:
        there = [p for p in people if is_open(facts.work.people[p].hours, a)]
        if not there:
            return Part(PartKind.CLOSED, a, b, op.index, skill=op.first_off_skill)
        busy = ((p, h) for p in there for h in _at(facts.of_person[p], a, op.index) if not facts.interruptible(h))
        person, behind = next(((p, h.operation) for p, h in busy), (people[0], None))
        return Part(PartKind.APPROVER, a, b, op.index, person=person, skill=op.first_off_skill, behind=behind)

    return told(start, end, edges, tell)
