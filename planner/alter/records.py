"""What a question about what if is answered with."""

from __future__ import annotations

from dataclasses import dataclass

from planner.alter.extra_hours import ExtraHours
from planner.plan import Plan
from planner.work import Work

ADDED, REMOVED, SAVED, NEWLY_LATE = "added", "removed", "saved", "newly late"
EARLIER, LATER, SAME = "earlier", "later", "same"
UNPROVEN = "unproven"


@dataclass(frozen=True)
class Side:
    """One of the two plans, with what it was made for."""

    work: Work
    plan: Plan


@dataclass(frozen=True)
class Noise:
    """How far two plans of the same differ that were searched with different seeds."""

    cost: int  # first tier
    late_min: int  # most that one order's minutes late differ
    ready_min: int  # most that one order's ready time differs


@dataclass(frozen=True)
class OrderChange:
    """One order in both plans; times None where it is not in the plan. ``later_min`` is negative where it is earlier.

    ``what``: added, removed, saved (late before, on time after), newly late, earlier, later, same (no difference
    larger than the noise), or unproven: the searches were too short to tell.
    """

    order: str
    customer: str
    part: str
    priority: str
    due: str
    before: str
    after: str
    before_min: int | None
    after_min: int | None
    late_before_min: int | None
    late_after_min: int | None
    later_min: int | None
    what: str


@dataclass(frozen=True)
class Totals:
    """What a plan comes to."""

    state: str
    late_orders: int
    late_min: int
    cost_first: int
    cost_second: int
    setup_min: int
    charges_pence: int  # of the plan, and what the changes cost once
    hours_after_min: int  # from the plan start to the end of the last step


@dataclass(frozen=True)
class Comparison:
    """The answer to a question about what if. ``verdict``: it in plain sentences.

    ``planned`` is the plan as it was handed in, ``before`` the same planned again with the effort of ``after``. ``short``:
    why nothing is claimed order by order, and what to ask for instead; empty where the searches were long enough.
    """

    changes: tuple[str, ...]
    same_data: bool  # the changes change nothing that is planned
    verdict: tuple[str, ...]
    orders: tuple[OrderChange, ...]
    planned: Totals
    before: Totals
    after: Totals
    noise: Noise
    short: str
    extra: tuple[ExtraHours, ...]
    cautions: tuple[str, ...]
    seconds: float
    trials: int  # of each search
    stopped: bool
