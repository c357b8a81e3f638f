"""The binding chain of an order or a batch: every minute from the plan start to its finish, in exactly one part.

``planner.answers.why`` makes chains, ``planner.verify.chain`` checks them; both read these records and nothing of each other.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class PartKind(StrEnum):
    """What a minute of a chain goes into."""

    SETUP = "own setup"
    RUN = "own run"
    APPROVING = "first-off"
    APPROVER = "waits for approver"
    MACHINE = "waits for machine"
    TURN = "machine kept free"  # for a batch that is before it on the machine
    KEPT = "kept in its place"  # behind a batch on its machine, by what is frozen or was decided
    PERSON = "waits for person"
    EQUIPMENT = "waits for equipment"
    STRETCH = "waits for a long enough stretch"  # its run may not pause
    MOVE = "move"
    WAIT = "elapsed wait"
    VAN = "waits for collection"
    OUTSIDE = "outside"
    RECEIPT = "waits for receipt"
    RELEASE = "before release"
    DECISION = "held by decision"
    HELD = "held back on purpose"
    CLOSED = "closed"
    OTHER = "no reason found"  # the rules would have let it start: the list or a plan altered by hand put it later


MACHINE_KINDS = (PartKind.MACHINE, PartKind.TURN)
FOR_MACHINE = (*MACHINE_KINDS, PartKind.KEPT)
QUEUES = (*FOR_MACHINE, PartKind.PERSON, PartKind.EQUIPMENT, PartKind.APPROVER)  # it waits for others to be through
FIXED = (PartKind.RELEASE, PartKind.RECEIPT, PartKind.DECISION)  # a date keeps it, whenever its pieces are there
DATES = (*FIXED, PartKind.VAN)
WAITS = (*QUEUES, *DATES, PartKind.HELD, PartKind.STRETCH, PartKind.OTHER)  # nothing is done on it


@dataclass(frozen=True)
class Part:
    """Minutes ``[start, end)`` of a chain.

    ``operation`` is the step in whose way they lie (None: the order itself waits for a receipt). The other fields say what
    it was that took them, as far as the kind has it:

    SETUP, RUN, MACHINE, TURN, KEPT
        ``machine``; the last three with ``behind``, the operation that had it or was to have it. KEPT where the step was ready
        when that one began, and its place behind it is kept: the plan has it right behind the operation that ``Work.kept``
        says, at a price of change that is frozen or was decided (a ``weight`` over 1), and so on from that to ``behind``.
        Whether it would be sooner at another place is not said: that takes another plan.
    APPROVING, APPROVER
        ``person``, the approver; of APPROVER also ``skill``, and ``behind``, what they were at.
    PERSON
        ``skill``; ``person`` and ``behind`` are whom it waited for and what they were at (None: nobody was busy).
    EQUIPMENT
        ``equipment`` and ``behind``, the operation that had it.
    RECEIPT
        ``need`` (index into ``Work.needs``), or ``receipt``, its reference, where the order is given it itself.
    CLOSED
        whose hours: ``machine``, ``person``, or ``skill`` (nobody who has it is there); none of them: those of the move.
    """

    kind: PartKind
    start: int
    end: int
    operation: int | None
    machine: int | None = None
    person: int | None = None
    skill: int | None = None
    equipment: int | None = None
    behind: int | None = None
    need: int | None = None
    receipt: str = ""

    @property
    def minutes(self) -> int:
        return self.end - self.start


@dataclass(frozen=True)
class Chain:
    """Parts in order of time, without gaps, from ``origin`` to ``finish``. Exactly one of ``order`` and ``batch`` is given."""

    order: int | None
    batch: int | None
    origin: int
    finish: int
    parts: tuple[Part, ...]

    @property
    def lead_min(self) -> int:
        """Lead time: finish less origin."""
        return self.finish - self.origin
