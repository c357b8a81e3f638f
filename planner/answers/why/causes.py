"""What the minutes of a chain come to by cause, over all its steps."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

from planner.answers.why.facts import Facts, within
from planner.answers.why.records import Cause
from planner.answers.why.words import DAY_NAMES, batches_behind, behind, bought, kept_text, supplier
from planner.answers.wording import WEEKDAYS, elapsed_text, short_day_text, short_moment_text
from planner.chain import DATES, FOR_MACHINE, MACHINE_KINDS, QUEUES, WAITS, Chain, Part, PartKind
from planner.counted import listed

OWN = (PartKind.SETUP, PartKind.RUN, PartKind.APPROVING)
TAKES = (*QUEUES, *DATES)  # what a start that is held back would have waited for anyway


@dataclass(frozen=True)
class Gathered:
    """All parts of one cause; the first is the one whose kind it has."""

    parts: tuple[Part, ...]

    @property
    def kind(self) -> PartKind:
        """The kind that counts: what was held back counts to what it would have waited for later."""
        kind = next((p.kind for p in self.parts if p.kind is not PartKind.HELD), PartKind.HELD)
        return PartKind.MACHINE if kind is PartKind.TURN else PartKind.RUN if kind in OWN else kind

    @property
    def of_kind(self) -> tuple[Part, ...]:
        """Those that are not held back, where there are any."""
        return tuple(p for p in self.parts if p.kind is not PartKind.HELD) or self.parts

    @property
    def minutes(self) -> int:
        return sum(p.minutes for p in self.parts)


def gathered(facts: Facts, chain: Chain, late: bool) -> list[Gathered]:
    """By cause, the most minutes first.

    Where it is late, nothing was lost by a start held back: those minutes count to what the batch waits for at a later
    step, and would have waited for all the longer.
    """
    found: dict[Hashable, list[Part]] = {}
    queues: dict[int | None, Hashable] = {}  # by operation, what it waits for; the steps nearest to the finish first
    for part in reversed(chain.parts):
        key = _key(facts, part)
        if part.kind in TAKES:
            queues[part.operation] = key
        elif part.kind is PartKind.HELD and late:
            others = [queue for op, queue in queues.items() if op != part.operation]
            key = others[-1] if others else queues.get(part.operation, key)
        found.setdefault(key, []).append(part)
    made = [Gathered(tuple(reversed(parts))) for parts in found.values()]
    return sorted(made, key=lambda g: (-g.minutes, g.parts[0].start))


def _key(facts: Facts, part: Part) -> Hashable:
    if part.kind in MACHINE_KINDS:
        return PartKind.MACHINE, part.machine
    if part.kind is PartKind.KEPT:
        return PartKind.KEPT, part.machine
    if part.kind in OWN:
        return PartKind.RUN
    if part.kind in (PartKind.VAN, PartKind.OUTSIDE):
        return part.kind, supplier(facts, facts.steps.get(part.operation or 0))
    if part.kind in (PartKind.CLOSED, PartKind.HELD):
        return part.kind
    return part.kind, part.skill, part.equipment, part.need


def causes(facts: Facts, chain: Chain, late: bool) -> tuple[Cause, ...]:
    """Every cause with its minutes; they add up to the lead time."""
    return tuple(
        Cause(
            g.kind,
            _ALONE.get(g.kind, "") + cause_text(facts, g),
            g.minutes,
            g.kind in WAITS,
            behind(facts, _queue(facts, g)),
        )
        for g in gathered(facts, chain, late)
    )


def _queue(facts: Facts, cause: Gathered) -> list[Part]:
    """Its parts; for what is held back because its turn on a machine comes later, who has that machine meanwhile."""
    machine = cause.of_kind[0].machine if cause.kind in FOR_MACHINE else None
    if machine is None:
        return list(cause.parts)
    found = list(cause.of_kind)
    for part in cause.parts:
        if part.kind is PartKind.HELD:
            for has in within(facts.on_machine[machine], part.start, part.end):
                a, b = max(part.start, has.start), min(part.end, has.end)
                found.append(Part(cause.kind, a, b, part.operation, machine, behind=has.operation))
    return found


# --- in words: '2.1 days for L2 behind B7 and B9' -------------------------------------------------


def cause_text(facts: Facts, cause: Gathered) -> str:
    """The minutes of a cause and what they went into."""
    return f"{elapsed_text(cause.minutes)} {_what(facts, cause)}"


def _what(facts: Facts, cause: Gathered) -> str:
    kind, parts = cause.kind, cause.of_kind
    first, until = parts[0], short_moment_text(facts.work, parts[-1].end)
    if kind in FOR_MACHINE and first.machine is not None:
        kept = f", where {kept_text(facts, parts)}" if kind is PartKind.KEPT else ""
        return f"for {facts.work.machines[first.machine].name}{batches_behind(facts, _queue(facts, cause))}{kept}"
    if kind is PartKind.PERSON and first.skill is not None:
        return f"for a person for {facts.work.skills[first.skill]}{batches_behind(facts, parts)}"
    if kind is PartKind.EQUIPMENT and first.equipment is not None:
        return f"for {facts.work.equipment[first.equipment].name}{batches_behind(facts, parts)}"
    if kind is PartKind.APPROVER:
        return f"for the first-off to be looked at{batches_behind(facts, parts)}"
    if kind is PartKind.VAN:
        return f"for {_days(facts, parts)} by {supplier(facts, facts.steps.get(first.operation or 0))}"
    if kind is PartKind.OUTSIDE:
        return f"at {supplier(facts, facts.steps.get(first.operation or 0))}"
    if kind is PartKind.RECEIPT:
        return f"for {bought(facts, first)}"
    if kind is PartKind.RELEASE:
        return f"for its material ({short_day_text(facts.work.local(parts[-1].end).date())})"
    return _PLAIN.get(kind, kind.value).format(until=until)


_ALONE = {PartKind.HELD: "held back ", PartKind.DECISION: "held "}  # what a sentence says with its verb
_PLAIN = {
    PartKind.RUN: "own setting, running and first pieces", PartKind.CLOSED: "closed hours", PartKind.MOVE: "being moved",
    PartKind.WAIT: "set times (curing, cooling)", PartKind.DECISION: "by decision, not before {until}",
    PartKind.HELD: "on purpose, until {until}", PartKind.STRETCH: "for a stretch long enough for its run",
    PartKind.OTHER: "for its place in the list",
}  # fmt: skip


def _days(facts: Facts, parts: Sequence[Part]) -> str:
    """'Thursday's collection', or 'collections' of several days."""
    names = [DAY_NAMES[WEEKDAYS[facts.work.local(p.end).weekday()]] for p in parts]
    if len(names) > 1:
        return f"{len(names)} collections"
    return f"{listed(names)}'s collection"
