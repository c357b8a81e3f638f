"""What the longer view says, as records."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class MonthLoad:
    """A group or skill in one month; minutes. ``percent`` is of ``counted_min``, never cut off at 100."""

    kind: str  # 'group' or 'skill'
    name: str
    month: str  # '2027-07'
    core_min: int
    own_min: int
    attended_min: int
    counted_min: int  # after availability and performance, with usable unattended time
    percent: float | None
    known: bool  # are all calendars known to the end of the month?

    @property
    def needed_min(self) -> int:
        return self.core_min + self.own_min


@dataclass(frozen=True)
class Extra:
    """Minutes of overtime, or of work sent out, of one group."""

    group: str
    minutes: int


@dataclass(frozen=True)
class Worth:
    """What one hour more of a group would be worth in a month: pence, or pieces where no contribution is known."""

    group: str
    an_hour: float


@dataclass(frozen=True)
class MonthMade:
    """How many of the product fit into one month."""

    month: str
    wanted: int  # by orders and forecast
    in_own_hours: float
    with_more: float  # with overtime and work sent out, as far as they pay
    limited_by: tuple[Worth, ...]  # in own hours; the most worth first
    overtime: tuple[Extra, ...]
    outside: tuple[Extra, ...]
    cost_pence: int  # of overtime and work sent out
    worth: tuple[Worth, ...]  # with them
    short: tuple[Extra, ...]  # minutes that other work alone lacks even then


@dataclass(frozen=True)
class Mixed:
    """One product: its share of the pieces counted, and what one piece brings in (None: not known)."""

    part: str
    description: str
    share: float
    contribution_pence: int | None


@dataclass(frozen=True)
class LongView:
    """``steady_*`` are pieces every month alike, what is made before being kept for later."""

    months: tuple[str, ...]
    loads: tuple[MonthLoad, ...]
    products: tuple[Mixed, ...]
    worth_in: str  # 'pence' or 'pieces'
    made: tuple[MonthMade, ...]
    steady_in_own_hours: float | None
    steady_with_more: float | None
    assumptions: tuple[str, ...]
