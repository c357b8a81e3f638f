"""The work to be planned: batches and operations in whole minutes and pieces.

``Work`` is what the planner plans and the verifier checks. It holds no datetimes and no
names that need looking up: everything refers by index into the tuples of this record. Minute
0 is the plan start; intervals are ``[start, end)``; ``NEVER`` stands for "not within the
known calendars".
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from enum import IntEnum, StrEnum
from functools import cached_property
from zoneinfo import ZoneInfo

from planner.plan import Cost

NEVER = 1 << 40
NOTHING = Cost(0, 0, 0, 0, 0)

Span = tuple[int, int]


class Kind(IntEnum):
    """What an operation needs: a machine (set, then run), a person throughout, another firm, or time."""

    MACHINE = 0
    MANUAL = 1
    OUTSIDE = 2
    WAIT = 3


class Begun(IntEnum):
    """What has happened to an operation before the plan start.

    DONE operations stay in ``Work`` (so that a batch shows its whole way) but are not planned.
    PART was begun and its setup torn down: it is planned afresh with the pieces left.
    OUT is at the outside firm: ``Operation.back_min`` says when it is back.
    """

    NO = 0
    DONE = 1
    RUNNING = 2
    PART = 3
    OUT = 4


@dataclass(frozen=True)
class Hours:
    """Open time as sorted, disjoint windows; adjacent windows are kept apart where shifts change."""

    attended: tuple[Span, ...]
    unattended: tuple[Span, ...] = ()


@dataclass(frozen=True)
class Machine:
    name: str
    group: int
    hours: Hours  # downtime already taken out
    # unattended windows as they would be had the plan started long ago: the first may have a
    # negative start, so that a running limit counts from where the stretch really began
    on_key: tuple[str, str, int] | None = None  # (part, revision, operation number) set on it at 0
    on_family: str = ""
    on_equipment: tuple[int, ...] = ()


@dataclass(frozen=True)
class Group:
    name: str
    machines: tuple[int, ...]
    minding_skill: int | None = None
    machines_per_person: int | None = None


@dataclass(frozen=True)
class Factors:
    """How much of a group's attended hours counts when load is compared with them; times and plans know nothing of it."""

    availability_percent: float = 100.0  # less breakdowns and the like
    performance_percent: float = 100.0  # less running slower than the times in the tables

    @property
    def share(self) -> float:
        return self.availability_percent * self.performance_percent / 10_000


@dataclass(frozen=True)
class Person:
    name: str
    skills: frozenset[int]
    hours: tuple[Span, ...]  # leave already taken out


@dataclass(frozen=True)
class Equipment:
    name: str
    count: int


@dataclass(frozen=True)
class Alternative:
    """A machine that can do the operation. ``setup_min`` is the base, without changeover."""

    machine: int
    setup_min: int
    cycle_sec: int


@dataclass(frozen=True)
class Operation:
    """One step of one batch.

    ``pieces`` go through it in all; ``pieces_left`` are still to run (fewer when begun).
    For OUTSIDE, ``service`` indexes ``Work.services``. For MANUAL, ``skill`` is who does it; for
    MACHINE, who sets it (None: setting needs nobody).
    """

    index: int
    batch: int
    number: int
    description: str
    kind: Kind
    pieces: int
    pieces_left: int
    pieces_per_cycle: int = 1
    alternatives: tuple[Alternative, ...] = ()
    family: str = ""
    skill: int | None = None
    first_off_skill: int | None = None
    first_off_min: int = 0
    unattended_limit_min: int = 0
    may_pause: bool = True
    transfer_pieces: int | None = None
    setup_ahead: bool = False
    move_min: int = 0
    move_calendar: int | None = None  # index into Work.move_calendars
    wait_min: int = 0
    equipment: tuple[tuple[int, int], ...] = ()  # (equipment, units)
    service: int | None = None
    charge_key: str = ""
    piece_price_pence: int = 0
    begun: Begun = Begun.NO
    begun_machine: int | None = None
    begun_person: int | None = None
    setup_left_min: int = 0  # RUNNING only
    first_off_passed: bool = False
    back_min: int = 0  # OUT only
    pin_machine: int | None = None
    pin_person: int | None = None
    not_before_min: int = 0


@dataclass(frozen=True)
class Need:
    """What a batch's operation waits for besides the step before it.

    Exactly one source: a batch of this plan, a receipt at ``at_min``, or stock (``at_min`` 0).
    """

    operation: int  # consuming operation
    part: str
    pieces: int
    batch: int | None = None
    receipt: str = ""
    at_min: int = 0


@dataclass(frozen=True)
class Batch:
    """A quantity of one part going through its routing together."""

    index: int
    name: str
    part: str
    revision: str
    description: str
    start_pieces: int  # without setting pieces
    setting_pieces: int
    good_expected: int
    release_min: int
    operations: tuple[int, ...]
    due_min: int  # earliest due of the orders it feeds, for rules and ties
    own_product: bool = False
    is_open: bool = False


@dataclass(frozen=True)
class Source:
    """One part of an order's quantity: from a batch, a receipt at ``at_min``, or stock (0)."""

    pieces: int
    batch: int | None = None
    receipt: str = ""
    at_min: int = 0


@dataclass(frozen=True)
class Order:
    index: int
    number: str
    customer: str
    part: str
    pieces: int
    due_min: int
    weight: int
    priority: str
    sources: tuple[Source, ...]
    promise_min: int | None = None
    provisional_until: date | None = field(default=None, repr=False)  # not in the fingerprint: it moves nothing

    @property
    def promised_min(self) -> int:
        """The promise, or the due time where no promise was given."""
        return self.due_min if self.promise_min is None else self.promise_min


@dataclass(frozen=True)
class Trip:
    """One collection of an outside service and when what goes on it is back."""

    cutoff_min: int
    collect_min: int
    ready_min: int
    back_min: int
    run: int  # index into Work.runs: services that share a van share its room


@dataclass(frozen=True)
class Service:
    """One process of one supplier."""

    supplier: str
    process: str
    trips: tuple[Trip, ...]  # in order of time
    minimum_pence: int = 0
    line_fee_pence: int = 0


@dataclass(frozen=True)
class Run:
    """One van on one day; ``room_pieces`` None is unlimited."""

    supplier: str
    collect_min: int
    room_pieces: int | None


@dataclass(frozen=True)
class Given:
    """One giving of supply to demand, for showing."""

    part: str
    pieces: int
    supply: str  # 'stock', 'receipt R12', 'batch B7'
    demand: str  # 'order O1', 'batch B3 operation 10'


class Change(StrEnum):
    """What a proposal does with batches."""

    SPLIT = "split"
    COMBINE = "combine"


@dataclass(frozen=True)
class Proposal:
    """The planner's choice to run a batch as two, or several of one part as one, where their part allows it.

    ``saved`` is the cost without it less the cost with it, when it was found (single terms may be negative), and
    ``orders`` are those late with or without it, with the minutes by which each was ready earlier (negative: later).
    """

    kind: Change
    part: str
    batches: tuple[str, ...]  # by the names they would have without it
    pieces: tuple[int, ...]  # start quantities of the batches it makes: two of a split, one of a combination
    saved: Cost = NOTHING
    orders: tuple[tuple[str, int], ...] = ()

    @property
    def makes(self) -> tuple[str, ...]:
        """Names of the batches it makes: 'B7/1' and 'B7/2', or 'B7+B9'."""
        if self.kind is Change.SPLIT:
            return tuple(f"{self.batches[0]}/{half}" for half in (1, 2))
        return ("+".join(self.batches),)


@dataclass(frozen=True)
class Prices:
    """Weights of the cost terms; see ``planner.shop.Settings`` for units."""

    wip_weight: int = 1
    setup_weight: int = 10
    charge_weight: int = 1
    change_machine_min: int = 240
    change_place_min: int = 60


@dataclass(frozen=True)
class Kept:
    """Where the accepted plan has an operation that starts in the window in which change has a price.

    ``after`` is the operation just before it on that machine among those that are still to be
    planned, or None when it is the first. ``weight`` multiplies the prices: what was decided, or is frozen, weighs more.
    """

    operation: int
    machine: int
    after: int | None
    weight: int = 1


@dataclass(frozen=True)
class Work:
    """All there is to plan. See the module docstring for conventions."""

    shop: str
    zone: str
    plan_start: datetime  # aware, UTC
    machines: tuple[Machine, ...]
    groups: tuple[Group, ...]
    skills: tuple[str, ...]
    people: tuple[Person, ...]
    equipment: tuple[Equipment, ...]
    changeovers: dict[tuple[int, str, str], int]  # (group, from family, to family)
    batches: tuple[Batch, ...]
    operations: tuple[Operation, ...]
    needs: tuple[Need, ...]
    orders: tuple[Order, ...]
    services: tuple[Service, ...] = ()
    runs: tuple[Run, ...] = ()
    move_calendars: tuple[tuple[Span, ...], ...] = ()
    shop_calendar: int | None = None  # index into move_calendars
    known_to_min: int = NEVER  # earliest end of the calendars in use
    handover_min: int | None = None
    setter_may_approve: bool = False
    break_max_min: int = 60
    inspection_stretch_percent: int = 125
    prices: Prices = Prices()
    start_early: bool = False  # see planner.shop.Settings; these two make no plan wrong, so the fingerprint is without
    safety_min: int = 16 * 60
    factors: tuple[Factors, ...] = ()  # by group; empty: all 100 %. No plan depends on them: not in the fingerprint
    kept: tuple[Kept, ...] = ()
    change_window_min: int = 0
    given: tuple[Given, ...] = ()
    proposals: tuple[Proposal, ...] = ()  # those that made some of the batches what they are
    assumptions: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()  # e.g. orders of quantity 0, pins that could not be kept

    @cached_property
    def fingerprint(self) -> str:
        """SHA-256 over everything that can change a plan, in hexadecimal."""
        parts = (
            self.shop, self.zone, self.plan_start.isoformat(), self.machines, self.groups,
            self.skills, tuple((p.name, tuple(sorted(p.skills)), p.hours) for p in self.people),
            self.equipment, tuple(sorted(self.changeovers.items())), self.batches,
            self.operations, self.needs, self.orders, self.services, self.runs,
            self.move_calendars, self.shop_calendar, self.handover_min, self.setter_may_approve,
            self.break_max_min, self.inspection_stretch_percent, self.prices, self.kept,
            self.change_window_min,
        )  # fmt: skip
        return hashlib.sha256(repr(parts).encode()).hexdigest()

    @cached_property
    def places(self) -> dict[tuple[str, int], int]:
        """Operations by batch name and operation number."""
        return {(self.batches[op.batch].name, op.number): op.index for op in self.operations}

    def local(self, minute: int) -> datetime:
        """Local time of a planning minute, in the shop's zone."""
        return (self.plan_start + timedelta(minutes=minute)).astimezone(ZoneInfo(self.zone))
