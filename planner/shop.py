"""What a shop is: frozen records in the units the shop uses.

One record type for each table of the shop folder (see ``planner/intake/tables.py`` for
the columns). Dates and local wall times are as entered; nothing here is converted to
planning minutes, knows about files, or computes times.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, time


@dataclass(frozen=True)
class Settings:
    """Shop-wide choices, one row each in ``settings.csv`` (all have defaults but the first two).

    Minutes are whole minutes; prices of lateness and change are plain whole numbers.
    """

    shop_name: str
    plan_start: datetime  # naive local wall time of the shop's zone
    zone: str = "Europe/London"
    shop_calendar: str = ""  # calendar of the dispatch desk and of moves that have no receiving machine
    dispatch_cutoff: time = time(16, 0)  # a due date means "ready by this time that day"
    break_max_min: int = 60  # a closed gap up to this long is a break, not the end of a stretch or shift
    handover_min: int | None = None  # None: a setup is finished by the person who began it
    setter_may_approve: bool = False  # may the setter of an operation approve its first-off?
    inspection_stretch_percent: int = 125  # batch work whose skill approves first-offs is lengthened to this
    confidence_percent: int = 0  # start quantity enough with at least this chance; 0: simple division by yield
    wip_weight: int = 1  # second tier, per batch-minute between first start and finish
    setup_weight: int = 10  # second tier, per setup or changeover minute
    charge_weight: int = 1  # second tier, per penny of outside charges
    change_machine_min: int = 240  # first tier, price of another machine than in the kept plan
    change_place_min: int = 60  # first tier, price of another place in the running order
    change_days: int = 5  # working days of the shop calendar in which change has a price
    frozen_hours: int = 0  # hours from the plan start in which the price of change is a hundred times higher
    start_early: bool = False  # start every batch as early as it can be, even where it would only lie about?
    safety_hours: int = 16  # working hours of the shop calendar that a start which is held back leaves in hand
    batch_proposals: bool = True  # may the planner split and combine batches where their part allows it?
    extra_hour_pence: int = 3500  # what an extra hour of a person counts for when ways to reach a date are weighed
    late_day_pence: int = 2000  # and a day late of another order, times the weight of its class
    special_collection_pence: int = 6000  # and a collection for once
    faster_turn_percent: int = 50  # and how much dearer a faster outside turn is taken to be
    # what may come otherwise than planned; these change no plan. Spreads: standard deviation in percent of the planned time
    setup_spread_percent: int = 30
    setup_spread_first_percent: int = 60  # of parts made here for the first time
    run_spread_percent: int = 10
    run_spread_first_percent: int = 25
    common_spread_percent: int = 5  # of a factor that all times share: good and bad spells of the whole shop
    breakdown_hours: int = 400  # open hours of a machine between breakdowns, where the machine says nothing; 0: none
    repair_hours: int = 4  # attended hours of the machine until it is mended, on average
    absence_days: int = 6  # a year on which a person is away without notice, on average; 0: none
    missed_collection_percent: int = (
        2  # chance that a van does not come or is missed, where the collection says nothing
    )
    receipt_late_percent: int = 10  # chance that bought pieces come later than confirmed
    receipt_late_days: int = 3  # by so many days, on average
    # what follows is for costs beside the plan
    hourly_rate_pence: int = 4500  # an hour of a machine group whose table row has no rate of its own
    holding_percent: int = 20  # what it costs a year to have a piece lie in stock, of its value


@dataclass(frozen=True)
class Hours:
    """One weekly window of a calendar, local wall time. ``end <= start`` runs past midnight."""

    weekday: int  # 0 = Monday
    start: time
    end: time
    attended: bool


@dataclass(frozen=True)
class ClosedDays:
    """Days (first and last included) on which shifts that start that day do not happen."""

    first: date
    last: date
    reason: str


@dataclass(frozen=True)
class ExtraShift:
    """One extra window on one date, as well as the weekly ones and in spite of closed days."""

    day: date
    start: time
    end: time
    attended: bool


@dataclass(frozen=True)
class Calendar:
    """Weekly pattern with exceptions. After ``known_to`` (inclusive date) everything is closed."""

    name: str
    known_to: date
    hours: tuple[Hours, ...] = ()
    closed: tuple[ClosedDays, ...] = ()
    extra: tuple[ExtraShift, ...] = ()


@dataclass(frozen=True)
class Absence:
    """A local-time span taken out of hours: leave of a person, downtime of a machine."""

    start: datetime
    end: datetime
    reason: str


@dataclass(frozen=True)
class Person:
    name: str
    calendar: str
    skills: tuple[str, ...]
    leave: tuple[Absence, ...] = ()


@dataclass(frozen=True)
class Group:
    """Interchangeable machines. ``minding_*``: one person with the skill minds at most N of them."""

    name: str
    description: str
    setup_skill: str | None  # None: setting needs nobody in particular
    minding_skill: str | None = None
    machines_per_person: int | None = None
    # what follows is for comparing load with hours, and for costs: no plan depends on it
    availability_percent: float = 100.0
    performance_percent: float = 100.0
    hourly_rate_pence: int | None = None  # None: as in the settings
    overtime_rate_pence: int | None = None  # an hour of overtime, all in; None: the hourly rate and a half
    overtime_percent: int = 0  # most overtime in a month, of its hours
    outside_rate_pence: int | None = None  # an hour of this work sent out; None: it cannot be
    outside_hours: int = 0  # most hours a month that can be sent out


@dataclass(frozen=True)
class Machine:
    name: str
    group: str
    calendar: str
    description: str = ""
    downtime: tuple[Absence, ...] = ()
    on_part: str | None = None  # what is set on it at plan start
    on_operation: int | None = None
    on_family: str | None = None
    on_equipment: tuple[str, ...] = ()
    hours_between_breakdowns: int | None = None  # its open hours; 0: it never breaks down; None: as in the settings
    repair_hours: int | None = None


@dataclass(frozen=True)
class Equipment:
    name: str
    count: int
    description: str = ""


@dataclass(frozen=True)
class BatchRule:
    """How needs become batches; quantities are start quantities before setting pieces."""

    minimum: int = 1
    multiple: int = 1
    maximum: int | None = None


@dataclass(frozen=True)
class Part:
    """A made or bought thing. The key is the part number; a revision is part of its identity.

    ``split_minimum`` and ``combine_within_days`` say what the planner may do with batches that are not released yet.
    """

    number: str
    revision: str
    description: str
    made: bool
    own_product: bool = False
    yield_percent: float = 100.0  # of the whole routing
    rule: BatchRule = BatchRule()
    split_minimum: int | None = None  # least start quantity of each half of a split batch; None: never split
    combine_within_days: int | None = None  # due dates of batches run as one are no further apart; None: never combined
    first_time: bool = False  # not made here before: its times are less sure
    # what follows is for quantities and the longer view: no plan depends on it
    piece_value_pence: int | None = None  # a finished piece in stock; None: its own work at the hourly rates
    contribution_pence: int | None = None  # what a piece sold brings before the shop's own hours
    learning_percent: float = 100.0  # time of manual steps at each doubling of the pieces made; 100: none left to learn
    made_before: int = 0  # good pieces made so far, for the learning curve


@dataclass(frozen=True)
class Alternative:
    """A machine that can do the operation, with its own times."""

    machine: str
    setup_min: int
    cycle_sec: int


@dataclass(frozen=True)
class Operation:
    """One step of a routing. ``kind``: 'machine', 'manual', 'outside' or 'wait'."""

    number: int
    description: str
    kind: str
    group: str | None = None
    alternatives: tuple[Alternative, ...] = ()
    pieces_per_cycle: int = 1
    family: str | None = None
    skill: str | None = None  # manual: who does it. machine: who sets it (default: the group's setup skill)
    setting_pieces: int = 0
    sample_pieces: int | None = None  # only this many pieces go through (inspection)
    first_off_skill: str | None = None
    first_off_min: int = 0
    unattended_limit_min: int = 0  # running minutes allowed in each unattended stretch
    may_pause: bool = True
    transfer_pieces: int | None = None  # moved on to the next operation before the batch is finished
    setup_ahead: bool = False
    move_min: int = 0  # to the next operation
    move_calendar: str | None = None  # None: attended minutes of the receiving machine
    wait_min: int = 0  # elapsed (curing, cooling), counted to the end of the step
    equipment: tuple[tuple[str, int], ...] = ()
    supplier: str | None = None
    process: str | None = None
    charge_key: str | None = None  # outside work with one key shares a minimum charge on one collection
    piece_price_pence: int = 0


@dataclass(frozen=True)
class Routing:
    part: str
    operations: tuple[Operation, ...]  # in order of number


@dataclass(frozen=True)
class Component:
    """``quantity_per`` of ``component`` go into one ``parent`` at operation ``operation``."""

    parent: str
    component: str
    quantity_per: int
    operation: int | None = None  # None: the first operation


@dataclass(frozen=True)
class Receipt:
    part: str
    quantity: int
    due: date  # usable from the start of that day in the shop calendar
    reference: str


@dataclass(frozen=True)
class WeeklyTime:
    """Each week on that day; with ``day``, on that date only."""

    weekday: int
    at: time
    day: date | None = None


@dataclass(frozen=True)
class Collection:
    """Each week on that day; with ``day``, on that date only (no table has one: a question about what if may)."""

    weekday: int
    collect: time
    cutoff: time
    capacity_pieces: int | None = None
    missed_percent: int | None = None  # chance that the van does not come or is missed; None: as in the settings
    day: date | None = None


@dataclass(frozen=True)
class Process:
    """What one supplier does, with its turn in its own working days and its charges.

    ``turn_low`` and ``turn_high``: the shortest and the longest turn; None: as :func:`planner.risk.turns.days_of` takes it.
    """

    name: str
    turn_days: int
    minimum_pence: int = 0
    line_fee_pence: int = 0
    turn_low: int | None = None
    turn_high: int | None = None


@dataclass(frozen=True)
class Supplier:
    name: str
    calendar: str
    processes: tuple[Process, ...]
    collections: tuple[Collection, ...]
    deliveries: tuple[WeeklyTime, ...]


@dataclass(frozen=True)
class PriorityClass:
    name: str
    weight: int  # cost of one late minute


@dataclass(frozen=True)
class Order:
    number: str
    customer: str
    part: str
    quantity: int
    due: datetime | date  # a plain date means that day's dispatch cut-off
    priority: str
    material_date: date | None = None
    promise: date | None = None
    note: str = ""
    provisional_until: date | None = None  # an enquiry that holds its place up to and with that day
    after_all: bool = (
        False  # asked as an enquiry: given what supplies all others leave, and holds none of their batches back
    )
    is_asked: bool = False  # not in the tables, and so after those that are, too


@dataclass(frozen=True)
class Progress:
    """State of one operation of an open batch.

    ``state``: 'done', 'running' (set up on the machine now), 'part' (begun, setup since torn
    down), 'out' (collected by the outside firm at ``collected``).
    """

    operation: int
    state: str
    machine: str | None = None
    person: str | None = None
    setup_left_min: int = 0
    first_off_passed: bool = False
    good: int = 0
    scrap: int = 0
    collected: datetime | None = None
    set_again: bool = False  # pieces may be from before the setup was torn down


@dataclass(frozen=True)
class OpenBatch:
    """A batch already released. ``quantity`` is its start quantity without setting pieces."""

    number: str
    part: str
    quantity: int
    order: str | None = None  # reserved for this order
    material_date: date | None = None
    progress: tuple[Progress, ...] = ()


@dataclass(frozen=True)
class Pin:
    """A manager's decision for one operation that survives planning."""

    batch: str
    operation: int
    machine: str | None = None
    person: str | None = None
    not_before: datetime | None = None
    reason: str = ""
    not_machines: tuple[str, ...] = ()
    after_batch: str | None = None  # right after this step on the same machine
    after_operation: int | None = None


@dataclass(frozen=True)
class Forecast:
    """Pieces of a part that are expected to be wanted in a month, orders in hand included."""

    part: str
    month: date  # its first day
    pieces: int


@dataclass(frozen=True)
class Bar:
    """The bar a part is made from; lengths in thousandths of a millimetre, density in kg a cubic metre."""

    length_um: int
    remnant_um: int  # what the machine cannot use
    part_um: int
    cutoff_um: int
    facing_um: int
    diameter_um: int | None = None
    density_kg_m3: int | None = None


@dataclass(frozen=True)
class BookedTime:
    """One setup or run (``what``) as it was booked, in open minutes, beside what the tables plan for it. ``name`` says whose."""

    day: date
    what: str  # 'setup' or 'run'
    group: str  # of machines
    planned_min: int
    actual_min: int
    first_time: bool = False
    name: str = ""


@dataclass(frozen=True)
class BookedTurn:
    """An outside step that came back on ``day``: how many of the firm's working days it really took."""

    day: date
    supplier: str
    process: str
    days: int
    name: str = ""


@dataclass(frozen=True)
class BookedGroup:
    """How long steps held the machines of a group, of the ``open_min`` attended minutes that all of them had meanwhile."""

    group: str
    machines: int
    open_min: int
    held_min: tuple[int, ...]


@dataclass(frozen=True)
class BookedBatch:
    """A finished batch: its pieces, and how many of them were scrapped on the way."""

    part: str
    pieces: int
    scrap: int


@dataclass(frozen=True)
class BookedDate:
    """A day that was given with a chance, and what became of it.

    ``reached``: the chance (0 to 1) that the draws gave then for the cut-off of the last day before it was ready; 1: not ready yet.
    """

    outside: bool  # does some step of it go out?
    reached: float


@dataclass(frozen=True)
class History:
    """What was booked, for how sure dates are: no plan depends on it. ``unclear``: how many bookings say nothing, by reason."""

    times: tuple[BookedTime, ...] = ()
    turns: tuple[BookedTurn, ...] = ()
    groups: tuple[BookedGroup, ...] = ()
    batches: tuple[BookedBatch, ...] = ()
    dates: tuple[BookedDate, ...] = ()
    unclear: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True)
class Shop:
    """A whole shop, cross-checked: every name that a record mentions exists."""

    settings: Settings
    calendars: dict[str, Calendar] = field(default_factory=dict)
    people: dict[str, Person] = field(default_factory=dict)
    groups: dict[str, Group] = field(default_factory=dict)
    machines: dict[str, Machine] = field(default_factory=dict)
    equipment: dict[str, Equipment] = field(default_factory=dict)
    # (group, from family, to family) -> minutes; '' is "no family"
    changeovers: dict[tuple[str, str, str], int] = field(default_factory=dict)
    parts: dict[str, Part] = field(default_factory=dict)
    routings: dict[str, Routing] = field(default_factory=dict)
    structure: tuple[Component, ...] = ()
    stock: dict[str, int] = field(default_factory=dict)
    receipts: tuple[Receipt, ...] = ()
    suppliers: dict[str, Supplier] = field(default_factory=dict)
    classes: dict[str, PriorityClass] = field(default_factory=dict)
    orders: dict[str, Order] = field(default_factory=dict)
    batches: dict[str, OpenBatch] = field(default_factory=dict)
    pins: tuple[Pin, ...] = ()
    left_alone: tuple[str, ...] = ()  # batches that are neither split nor run as one: planner/explode/left_alone.py
    forecast: tuple[Forecast, ...] = ()
    bars: dict[str, Bar] = field(default_factory=dict)  # by part
    history: History = History()
