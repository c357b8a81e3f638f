"""Parts of a chain as words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence

from planner.answers.why.facts import Facts
from planner.answers.why.records import Behind
from planner.answers.wording import WEEKDAYS, elapsed_text, short_moment_text, step_name
from planner.chain import Part, PartKind
from planner.counted import listed
from planner.plan import Step
from planner.work import Operation, Trip

DAY_NAMES = dict(
    zip(WEEKDAYS, ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"), strict=True)
)
NAMED = 2  # batches named in a sentence; the others are counted


def behind(facts: Facts, parts: Sequence[Part]) -> tuple[Behind, ...]:
    """What was in the way, the longest first."""
    minutes: Counter[tuple[int | None, int]] = Counter()
    for part in parts:
        if part.behind is not None:
            minutes[part.person, part.behind] += part.minutes
    ordered = sorted(minutes.items(), key=lambda item: (-item[1], item[0][1]))
    return tuple(Behind(_who_at(facts, who, facts.work.operations[op]), spent) for (who, op), spent in ordered)


def _who_at(facts: Facts, who: int | None, op: Operation) -> str:
    name = step_name(facts.work, op)
    return name if who is None else f"{facts.work.people[who].name} at {name}"


def batches_behind(facts: Facts, parts: Sequence[Part]) -> str:
    """' behind B7 and B9', ' behind B7, B9 and 3 others', or nothing."""
    minutes: Counter[int] = Counter()
    for part in parts:
        if part.behind is not None:
            minutes[facts.work.operations[part.behind].batch] += part.minutes
    names = [facts.work.batches[b].name for b, _ in sorted(minutes.items(), key=lambda item: (-item[1], item[0]))]
    return f" behind {listed(names, NAMED + 1)}" if names else ""


# --- one line of the table ------------------------------------------------------------------------


def line_text(facts: Facts, step: Step | None, parts: Sequence[Part]) -> str:
    """What the minutes of one kind and cause at one step went into."""
    return LINES[parts[0].kind](facts, step, parts)


def _machine(facts: Facts, step: Step | None, parts: Sequence[Part]) -> str:
    name, op = _machine_name(facts, parts[0]), _op(facts, parts[0])
    pinned = (
        ", to which it is pinned" if op is not None and op.pin_machine is not None and len(op.alternatives) > 1 else ""
    )
    free = sum(_free_min(facts, p) for p in parts)
    for_others = f"; {elapsed_text(free)} of that it stands free for the batch before" if free else ""
    kept = f", where {kept_text(facts, parts)}" if parts[0].kind is PartKind.KEPT else ""
    return f"waits for {name}{pinned}{kept}{for_others}"


def _free_min(facts: Facts, part: Part) -> int:
    """Minutes of a wait in which what it waits behind has not come to the machine."""
    return 0 if part.behind is None else max(0, min(part.end, facts.steps[part.behind].start) - part.start)


def kept_text(facts: Facts, parts: Sequence[Part]) -> str:
    """What keeps steps in their places. Who decides one names its machine, so without that it is frozen."""
    decided = any((op := _op(facts, p)) is not None and op.pin_machine is not None for p in parts)
    return "its place is kept (frozen, or decided)" if decided else "its place is kept (frozen)"


def _person(facts: Facts, step: Step | None, parts: Sequence[Part]) -> str:
    op = _op(facts, parts[0])
    only = None if op is None else facts.only(op)
    if op is not None and only is not None:
        name, skill = facts.work.people[only].name, _skill(facts, parts[0])
        if op.pin_person is not None:
            return f"waits for {name}, to whom it is pinned ({skill})"
        return f"waits for {name}, whom the plan names for it ({skill}; others are needed elsewhere)"
    free = " (who is there could not see it through sooner)" if all(p.behind is None for p in parts) else ""
    return f"waits for a person for {_skill(facts, parts[0])}{free}"


def _approver(facts: Facts, step: Step | None, parts: Sequence[Part]) -> str:
    return f"waits for its first piece to be approved ({_skill(facts, parts[0])})"


def _approving(facts: Facts, step: Step | None, parts: Sequence[Part]) -> str:
    return f"first piece approved by {listed(sorted({facts.work.people[p.person].name for p in parts if p.person is not None}))}"


def _equipment(facts: Facts, step: Step | None, parts: Sequence[Part]) -> str:
    return f"waits for equipment {facts.work.equipment[parts[0].equipment or 0].name}"


def _van(facts: Facts, step: Step | None, parts: Sequence[Part]) -> str:
    if step is None or step.trip is None:
        return "waits for a collection"
    return f"waits for the collection by {supplier(facts, step)} on {short_moment_text(facts.work, step.run_start)}{full_vans(facts, step, parts[0])}"


def full_vans(facts: Facts, step: Step, part: Part) -> str:
    """Collections in time for it that the plan has passed over."""
    trips = [t for t in trips_of(facts, step)[: step.trip] if t.cutoff_min >= part.start]
    if not trips:
        return ""
    return f" (no room on {listed([short_moment_text(facts.work, t.collect_min) for t in trips[-NAMED:]])})"


def trips_of(facts: Facts, step: Step) -> tuple[Trip, ...]:
    """Collections of the service that an outside step goes to."""
    op = facts.work.operations[step.operation]
    return () if op.service is None else facts.work.services[op.service].trips


def supplier(facts: Facts, step: Step | None) -> str:
    """The outside firm of a step."""
    op = None if step is None else facts.work.operations[step.operation]
    return "the outside firm" if op is None or op.service is None else facts.work.services[op.service].supplier


def _outside(facts: Facts, step: Step | None, parts: Sequence[Part]) -> str:
    back = f"back {short_moment_text(facts.work, parts[-1].end)}"
    trips = () if step is None or step.trip is None else trips_of(facts, step)
    ready = (
        f"ready there {short_moment_text(facts.work, trips[step.trip or 0].ready_min)}, "
        if step is not None and trips
        else ""
    )
    return f"at {supplier(facts, step)}: {ready}{back}"


def _receipt(facts: Facts, step: Step | None, parts: Sequence[Part]) -> str:
    return f"waits for {bought(facts, parts[0])}, due {short_moment_text(facts.work, parts[-1].end)}"


def bought(facts: Facts, part: Part) -> str:
    """'bought BU-04 (PO-311)'."""
    if part.need is None:
        return f"receipt {part.receipt}"
    need = facts.work.needs[part.need]
    return f"bought {need.part}" + (f" ({need.receipt})" if need.receipt else "")


def _release(facts: Facts, step: Step | None, parts: Sequence[Part]) -> str:
    return f"before its release (material date) {short_moment_text(facts.work, parts[-1].end)}"


def _decision(facts: Facts, step: Step | None, parts: Sequence[Part]) -> str:
    return f"held by decision: not before {short_moment_text(facts.work, parts[-1].end)}"


def _held(facts: Facts, step: Step | None, parts: Sequence[Part]) -> str:
    return f"held back on purpose until {short_moment_text(facts.work, parts[-1].end)}: sooner it would only lie about later"


def _closed(facts: Facts, step: Step | None, parts: Sequence[Part]) -> str:
    return f"closed: {whose_hours(facts, parts[0])}"


def whose_hours(facts: Facts, part: Part) -> str:
    """Whose hours keep it closed."""
    if part.machine is not None:
        return f"hours of {_machine_name(facts, part)}"
    if part.person is not None:
        return f"hours of {facts.work.people[part.person].name}"
    if part.skill is not None:
        return f"nobody for {_skill(facts, part)} is there"
    return "hours in which it is moved"


def _machine_name(facts: Facts, part: Part) -> str:
    return "its machine" if part.machine is None else facts.work.machines[part.machine].name


def _skill(facts: Facts, part: Part) -> str:
    return "it" if part.skill is None else facts.work.skills[part.skill]


def _op(facts: Facts, part: Part) -> Operation | None:
    return None if part.operation is None else facts.work.operations[part.operation]


def _plain(words: str) -> Callable[[Facts, Step | None, Sequence[Part]], str]:
    return lambda facts, step, parts: words


LINES: dict[PartKind, Callable[[Facts, Step | None, Sequence[Part]], str]] = {
    PartKind.SETUP: _plain("own setup"), PartKind.RUN: _plain("own run"), PartKind.APPROVING: _approving,
    PartKind.APPROVER: _approver, PartKind.MACHINE: _machine, PartKind.TURN: _machine, PartKind.KEPT: _machine,
    PartKind.PERSON: _person,
    PartKind.EQUIPMENT: _equipment, PartKind.STRETCH: _plain("waits for a stretch long enough: its run may not pause"),
    PartKind.MOVE: _plain("moved to here"), PartKind.WAIT: _plain("lies for its set time (curing, cooling)"),
    PartKind.VAN: _van, PartKind.OUTSIDE: _outside, PartKind.RECEIPT: _receipt, PartKind.RELEASE: _release,
    PartKind.DECISION: _decision, PartKind.HELD: _held, PartKind.CLOSED: _closed,
    PartKind.OTHER: _plain("no rule keeps it: the list has it later"),
}  # fmt: skip
