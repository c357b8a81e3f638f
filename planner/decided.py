"""A list to begin with, with what was decided about the running order in it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.plan import Listed
from planner.work import Begun, Kept, Work


def in_decided_order(listed: list[Listed], work: Work) -> list[Listed]:
    """The list with each step that a decision puts right after another one moved there, on its machine.

    Later steps of its batch that stood before that place follow it, in their order.
    """
    for kept in _first_before_next(work.kept):
        own = next((row for row in listed if row.operation == kept.operation), None)
        if own is None:
            continue
        rest = [row for row in listed if row is not own]
        place = next((i for i, row in enumerate(rest, 1) if row.operation == kept.after), None)
        if place is None:  # first on the machine, or behind what runs on it; else it stays where it was
            first = kept.after is None or work.operations[kept.after].begun is Begun.RUNNING
            place = 0 if first else listed.index(own)
        batch = work.operations[own.operation].batch
        follow = [
            row for row in rest[:place]
            if work.operations[row.operation].batch == batch and row.operation > own.operation
        ]  # fmt: skip
        before = [row for row in rest[:place] if row not in follow]
        listed = [*before, own._replace(machine=kept.machine), *follow, *rest[place:]]
    return listed


def _first_before_next(kept: Sequence[Kept]) -> Iterator[Kept]:
    """What was decided, each after what it comes after: else moving that would part the two again."""
    firm = {k.operation: k for k in kept if k.weight > 1}
    while firm:
        chain = [next(iter(firm.values()))]
        while (before := chain[-1].after) is not None and before in firm and firm[before] not in chain:
            chain.append(firm[before])
        for k in reversed(chain):
            yield firm.pop(k.operation)
