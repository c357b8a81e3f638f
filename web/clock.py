"""Planning minutes as the shop's clock shows them. The browser's own time zone is never used."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from planner.answers.wording import short_day_text, short_moment_text
from planner.work import Work
from planner.worktime import days, iso_week, midnight


@dataclass(frozen=True)
class Day:
    """A local calendar day; ``start`` is the planning minute of its midnight."""

    start: int
    label: str
    iso: str
    week: str


@dataclass(frozen=True)
class HourMark:
    """A whole hour of the local clock at planning minute ``at``. On clock-change days one is missing or doubled."""

    at: int
    hour: int


class Clock:
    """Local-time text for the minutes of one ``Work``."""

    def __init__(self, work: Work) -> None:
        self._work = work

    def day(self, minute: int) -> date:
        """The local day on which the minute falls."""
        return self._work.local(minute).date()

    def text(self, minute: int) -> str:
        """'Mon 23 Mar 08:00'; the second of two equal times on a clock-change night says so."""
        return short_moment_text(self._work, minute)

    def day_label(self, iso: str) -> str:
        """'Mon 23 Mar' for an ISO date."""
        return short_day_text(date.fromisoformat(iso))

    def minute_of(self, day: date) -> int:
        """The planning minute of a day's local midnight; may be negative."""
        return midnight(day, self._work.zone, self._work.plan_start)

    def minute_of_next_day(self, minute: int) -> int:
        """The planning minute at which the local day of ``minute`` ends."""
        return self.minute_of(self.day(minute) + timedelta(days=1))

    def days(self, until: int) -> tuple[Day, ...]:
        """Every day from the plan start's own to the one in which ``until`` falls."""
        found = days(self.day(0), self.day(until))
        return tuple(Day(self.minute_of(d), short_day_text(d), d.isoformat(), iso_week(d)) for d in found)

    def hours(self, until: int) -> tuple[HourMark, ...]:
        """Every whole hour from the first day's midnight to ``until``, exact over clock changes."""
        first = self.minute_of(self.day(0))
        found = ((at, self._work.local(at)) for at in range(first, until + 1, 30))
        return tuple(HourMark(at, local.hour) for at, local in found if local.minute == 0)
