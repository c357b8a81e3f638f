"""The answer to "why then": a chain in words, for the telephone, as a table, and to scale."""

from __future__ import annotations

from dataclasses import dataclass

from planner.chain import PartKind


@dataclass(frozen=True)
class Behind:
    """Work of others that took a machine, a person or a piece of equipment while this waited, and for how long."""

    what: str  # 'B7 op 20'; for people 'Ann at B7 op 20'
    minutes: int


@dataclass(frozen=True)
class Line:
    """Minutes of one kind and cause at one step; they need not lie together in ``[start, end)``."""

    kind: PartKind
    text: str
    minutes: int
    start: str
    start_at: str | None
    end: str
    end_at: str | None
    start_min: int
    end_min: int
    behind: tuple[Behind, ...]


@dataclass(frozen=True)
class Stage:
    """One step of the chain, from when the chain comes to it to when it leaves it; ``lines`` add up to ``minutes``.

    ``can_wait_min``: how much later it could start (outside work: be ready for its collection), the list order and all else
    kept, before any order gets later; None where it is under way, or not known.
    """

    batch: str
    operation: int | None  # None: the order itself
    what: str
    where: str  # machine or firm
    start: str
    end: str
    start_min: int
    end_min: int
    minutes: int
    can_wait_min: int | None
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class Leg:
    """The stretch of the chain that lies in one batch. ``component``: it goes into the batch of the leg after."""

    batch: str
    part: str
    description: str
    component: bool
    start: str
    end: str
    start_min: int
    end_min: int
    minutes: int
    stages: tuple[Stage, ...]


@dataclass(frozen=True)
class Cause:
    """All minutes of the chain that go to one cause. ``wait``: nothing was done on it then."""

    kind: PartKind
    text: str  # '2.1 days for L2 behind B7 and B9'
    minutes: int
    wait: bool
    behind: tuple[Behind, ...]


@dataclass(frozen=True)
class Bit:
    """A part to scale: minutes ``[start, end)`` that go into one thing at one step."""

    kind: PartKind
    start_min: int
    end_min: int
    text: str


@dataclass(frozen=True)
class Why:
    """Why an order (or a batch) is ready when it is. The minutes of ``causes``, ``legs`` and ``bits`` each add up to ``lead_min``.

    ``finish_min`` is None, and everything but the sentence empty, where the plan has no time for it.
    """

    name: str
    batch: bool
    sentence: str
    reason: str  # the causes alone; empty where there are none
    finish: str
    finish_at: str | None
    finish_min: int | None
    due: str
    due_min: int | None
    late_min: int | None
    origin: str
    origin_min: int
    lead_min: int
    causes: tuple[Cause, ...]
    legs: tuple[Leg, ...]
    notes: tuple[str, ...]
    bits: tuple[Bit, ...]
