"""Which steps can be checked at all: whole numbers, and references to things that exist."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from planner.plan import Burst, FirstOff, Step, Stint
from planner.work import Begun, Kind, Work

NUMBERS: dict[type, tuple[str, ...]] = {
    Step: ("operation", "start", "setup_min", "changeover_min", "run_start", "run_end", "end", "equipment_from"),
    Stint: ("person", "start", "end"),
    Burst: ("start", "run_min_before"),
    FirstOff: ("cycle_end", "approver", "start", "end"),
}


def faults(work: Work, step: Any) -> list[tuple[str, str, str]]:
    """Field, expected and found for everything that makes a step unreadable; empty if it can be read."""
    found = list(_form_faults(step))
    return found or list(_reference_faults(work, step))


def _form_faults(step: Any) -> Iterator[tuple[str, str, str]]:
    yield from _record_faults("step", step, Step)
    if not isinstance(step, Step):
        return
    for field, kind in (("setup", Stint), ("stints", Stint), ("bursts", Burst)):
        parts = getattr(step, field)
        if not isinstance(parts, tuple):
            yield field, "a list", repr(parts)
            continue
        for part in parts:
            yield from _record_faults(field, part, kind)
    if step.first_off is not None:
        yield from _record_faults("first_off", step.first_off, FirstOff)
    for field in ("machine", "trip", "waited_on", "held_until", "named"):
        value = getattr(step, field)
        if value is not None and not _whole(value):
            yield field, "a whole number or nothing", repr(value)


def _record_faults(field: str, record: Any, kind: type) -> Iterator[tuple[str, str, str]]:
    if not isinstance(record, kind):
        yield field, f"a {kind.__name__}", repr(record)
        return
    for name in NUMBERS[kind]:
        if not _whole(getattr(record, name)):
            yield f"{field}.{name}", "a whole number", repr(getattr(record, name))


def _whole(value: Any) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def _reference_faults(work: Work, step: Step) -> Iterator[tuple[str, str, str]]:
    if not 0 <= step.operation < len(work.operations):
        yield "operation", _one_of("operation", len(work.operations)), str(step.operation)
        return
    operation = work.operations[step.operation]
    if operation.begun == Begun.DONE:
        yield "operation", "an operation that is still to be done", f"{step.operation}, which is done"
    if step.machine is not None and not 0 <= step.machine < len(work.machines):
        yield "machine", _one_of("machine", len(work.machines)), str(step.machine)
    people = [stint.person for stint in (*step.setup, *step.stints) if stint.person != -1]
    people += [step.first_off.approver] if step.first_off else []
    people += [] if step.named is None else [step.named]
    for person in people:
        if not 0 <= person < len(work.people):
            yield "person", _one_of("person", len(work.people)), str(person)
    trips = (
        work.services[operation.service].trips
        if operation.kind == Kind.OUTSIDE and operation.service is not None
        else ()
    )
    if step.trip is not None and not 0 <= step.trip < len(trips):
        yield "trip", _one_of("collection of this outside operation", len(trips)), str(step.trip)
    kind, known = ("batch", work.batches) if step.waited_for == "component" else ("operation", work.operations)
    if step.waited_on is not None and not 0 <= step.waited_on < len(known):
        yield "waited_on", _one_of(kind, len(known)), str(step.waited_on)


def _one_of(what: str, count: int) -> str:
    return f"a {what} from 0 to {count - 1}" if count else f"no {what}, there is none"
