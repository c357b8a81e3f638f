"""The chain as a table: legs by batch, stages by step, lines by kind and cause."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from itertools import groupby

from planner.answers.leeway import Room
from planner.answers.why.facts import Facts
from planner.answers.why.records import Bit, Leg, Line, Stage
from planner.answers.why.words import behind, line_text, supplier
from planner.answers.wording import moment_iso, short_moment_text
from planner.chain import MACHINE_KINDS, Chain, Part, PartKind
from planner.plan import Step
from planner.work import Kind

RECEIVED = "received"  # name of the leg of an order that waits for a receipt alone


def legs(facts: Facts, chain: Chain, rooms: Mapping[int, Room]) -> tuple[Leg, ...]:
    """In order of time; all but the last are components of the one after."""
    runs = [(batch, list(parts)) for batch, parts in groupby(chain.parts, key=lambda p: _batch(facts, p))]
    return tuple(_leg(facts, batch, parts, i < len(runs) - 1, rooms) for i, (batch, parts) in enumerate(runs))


def _batch(facts: Facts, part: Part) -> int | None:
    return None if part.operation is None else facts.work.operations[part.operation].batch


def _leg(facts: Facts, batch: int | None, parts: Sequence[Part], component: bool, rooms: Mapping[int, Room]) -> Leg:
    work = facts.work
    record = None if batch is None else work.batches[batch]
    stages = [_stage(facts, op, list(own), rooms) for op, own in groupby(parts, key=lambda p: p.operation)]
    start, end = parts[0].start, parts[-1].end
    return Leg(
        batch=RECEIVED if record is None else record.name, part="" if record is None else record.part,
        description="" if record is None else record.description, component=component,
        start=short_moment_text(work, start), end=short_moment_text(work, end), start_min=start, end_min=end,
        minutes=end - start, stages=tuple(stages),
    )  # fmt: skip


def _stage(facts: Facts, operation: int | None, parts: Sequence[Part], rooms: Mapping[int, Room]) -> Stage:
    work = facts.work
    start, end = parts[0].start, parts[-1].end
    step = None if operation is None else facts.steps[operation]
    op = None if operation is None else work.operations[operation]
    return Stage(
        batch=RECEIVED if op is None else work.batches[op.batch].name, operation=None if op is None else op.number,
        what="" if op is None else op.description, where=place(facts, step),
        start=short_moment_text(work, start), end=short_moment_text(work, end), start_min=start, end_min=end,
        minutes=end - start, can_wait_min=_can_wait(facts, step, parts, rooms),
        lines=tuple(_line(facts, step, list(own)) for own in _by_cause(parts)),
    )  # fmt: skip


def place(facts: Facts, step: Step | None) -> str:
    """Machine or firm of a step."""
    if step is None:
        return ""
    if step.machine is not None:
        return facts.work.machines[step.machine].name
    return supplier(facts, step) if facts.work.operations[step.operation].kind is Kind.OUTSIDE else ""


def _can_wait(facts: Facts, step: Step | None, parts: Sequence[Part], rooms: Mapping[int, Room]) -> int | None:
    """From its start, or from when it is ready for its collection, to the latest."""
    if step is None or step.operation not in rooms:
        return None
    ready = next((p.start for p in parts if p.kind is PartKind.VAN), step.start)
    return max(0, rooms[step.operation].latest - ready)


def _by_cause(parts: Sequence[Part]) -> Iterator[list[Part]]:
    """Parts of one kind and cause together, in order of first coming."""
    found: dict[Hashable, list[Part]] = {}
    for part in parts:
        found.setdefault(cause_at_step(part), []).append(part)
    yield from found.values()


def cause_at_step(part: Part) -> Hashable:
    """Equal for the parts of one step that go into one line."""
    if part.kind in MACHINE_KINDS:
        return PartKind.MACHINE
    if part.kind is PartKind.CLOSED:
        return part.kind, part.machine, part.person, part.skill
    return part.kind, part.skill, part.equipment, part.need


def _line(facts: Facts, step: Step | None, parts: Sequence[Part]) -> Line:
    work, start, end = facts.work, parts[0].start, parts[-1].end
    return Line(
        kind=PartKind.MACHINE if parts[0].kind in MACHINE_KINDS else parts[0].kind,
        text=line_text(facts, step, parts), minutes=sum(p.minutes for p in parts),
        start=short_moment_text(work, start), start_at=moment_iso(work, start),
        end=short_moment_text(work, end), end_at=moment_iso(work, end), start_min=start, end_min=end,
        behind=behind(facts, parts),
    )  # fmt: skip


def bits(facts: Facts, chain: Chain) -> tuple[Bit, ...]:
    """Parts to scale, those that touch and show alike made one."""
    found = []
    for _, same in groupby(chain.parts, key=lambda p: (p.kind, p.operation, cause_at_step(p))):
        parts = list(same)
        step = None if parts[0].operation is None else facts.steps[parts[0].operation]
        found.append(Bit(parts[0].kind, parts[0].start, parts[-1].end, line_text(facts, step, parts)))
    return tuple(found)
