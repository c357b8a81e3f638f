"""A plan: exact times for every operation, what they cost, and how good they are.

All times are whole minutes from the plan start of the ``Work`` the plan was made for.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple


class State(StrEnum):
    """How a search ended. Never mixed: see ``planner.search``."""

    BEST = "proved best"
    GOOD = "good, time ran out"
    IMPOSSIBLE = "impossible"
    NOTHING = "nothing found yet"


@dataclass(frozen=True)
class Stint:
    """One person at one task from ``start`` to ``end`` (elapsed)."""

    person: int
    start: int
    end: int


@dataclass(frozen=True)
class FirstOff:
    """The first cycle ends at ``cycle_end``; ``approver`` works on it in ``[start, end)``."""

    cycle_end: int
    approver: int
    start: int
    end: int


@dataclass(frozen=True)
class Burst:
    """An unbroken share of a run: it begins at ``start`` when ``run_min_before`` minutes are done.

    A run is one burst, plus one after a first-off, plus one for each sublot that had to be
    waited for (or began anew). It pauses by itself at closed time; that needs no new burst.
    """

    start: int
    run_min_before: int


@dataclass(frozen=True)
class Step:
    """One operation in the plan.

    MACHINE: ``setup`` (stints of setters, empty without setup; with ``setup_min`` 0 there is
    none; where setting needs nobody it is one stint of person -1), then ``bursts`` from
    ``run_start`` to ``run_end``. MANUAL: ``stints`` cover setup and run; ``run_start`` is when the
    setup minutes are worked off. OUTSIDE: ``trip`` of its service; ``run_start`` = collection,
    ``run_end`` = back. WAIT and zero-length: ``run_start == run_end``.
    ``start`` .. ``run_end`` holds machine and equipment; ``equipment_from`` is earlier than ``start``
    only where a setup is skipped because the equipment stayed. ``end`` adds the elapsed wait.
    """

    operation: int
    machine: int | None
    start: int
    setup_min: int  # working minutes of setting, handovers not counted
    changeover_min: int  # share of setup_min that depends on what ran before
    setup: tuple[Stint, ...]
    first_off: FirstOff | None
    run_start: int
    bursts: tuple[Burst, ...]
    run_end: int
    end: int
    stints: tuple[Stint, ...]
    equipment_from: int
    trip: int | None
    waited_for: str  # 'release', 'step before', 'machine', 'person', 'equipment', 'component', 'van', ...
    waited_on: int | None = None  # the operation (or batch, for 'component') it waited for
    held_until: int | None = None  # the plan itself holds it back: it could be sooner, but would only lie about
    named: int | None = None  # the plan itself names who sets it up or does it by hand, though others could


@dataclass(frozen=True)
class Cost:
    """Named integer terms. Tiers compare as (``first``, ``second``)."""

    late: int  # sum of class weight x minutes late
    change: int  # price of change against the kept plan
    wip: int  # weighted
    setup: int  # weighted
    charges: int  # weighted

    @property
    def first(self) -> int:
        return self.late + self.change

    @property
    def second(self) -> int:
        return self.wip + self.setup + self.charges


@dataclass(frozen=True)
class Bound:
    """No allowed plan has a first-tier cost below ``value``; ``kind`` says why."""

    value: int
    kind: str


@dataclass(frozen=True)
class Plan:
    """Steps for every operation that is still to be planned, in ``Work.operations`` order.

    An impossible plan has no steps; ``no_time`` are then the operations for which no time was found within the known
    hours and collections, without those that only wait for one of them.
    """

    fingerprint: str
    steps: tuple[Step, ...]
    sequence: tuple[int, ...]  # operations in the priority order that the timetable was given
    cost: Cost
    bound: Bound
    state: State
    seed: int
    trials: int
    seconds: float
    version: str
    no_time: tuple[int, ...] = ()

    @property
    def complete(self) -> bool:
        """Has every operation a place? Not when it is impossible or nothing was found."""
        return self.state in (State.BEST, State.GOOD)

    def step_of(self) -> dict[int, Step]:
        """Step by operation index."""
        return {s.operation: s for s in self.steps}


class Listed(NamedTuple):
    """An operation in a list to begin with, with its machine (None, or one that cannot do it: any)."""

    operation: int
    machine: int | None = None
    held_until: int = 0  # not before that minute
    named: int | None = None  # who sets it up or does it by hand (None, or one who cannot: whoever is through soonest)


@dataclass(frozen=True)
class AcceptedStep:
    """What counts of an accepted plan when the next one is made: by name, so that data may have changed."""

    batch: str
    operation: int
    machine: str
    start: str  # ISO 8601 moment with offset
