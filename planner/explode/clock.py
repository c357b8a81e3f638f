"""Dates and wall times of the shop as planning minutes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from planner import shop, worktime


@dataclass(frozen=True)
class Clock:
    """Zone, plan start (aware, UTC) and the shop calendar, if the shop names one."""

    zone: str
    plan_start: datetime
    dispatch_cutoff: time
    calendar: shop.Calendar | None
    open_time: worktime.OpenTime | None  # attended hours of the shop calendar

    @property
    def now(self) -> datetime:
        """Local wall time of the plan start."""
        return self.plan_start.astimezone(ZoneInfo(self.zone)).replace(tzinfo=None)

    @property
    def today(self) -> date:
        return self.now.date()

    def minute(self, local: datetime) -> int:
        """Planning minute of a local wall time."""
        return worktime.minute_of(local, self.zone, self.plan_start)

    def day_of(self, minute: int) -> date:
        """Local day of a planning minute."""
        return (self.plan_start + timedelta(minutes=minute)).astimezone(ZoneInfo(self.zone)).date()

    def usable_from(self, day: date) -> int:
        """First open minute of the shop calendar on or after a day's midnight; NEVER beyond it."""
        midnight = worktime.midnight(day, self.zone, self.plan_start)
        return midnight if self.open_time is None else self.open_time.first_open(midnight)

    def due(self, when: datetime | date) -> int:
        """A moment as it is; a date at that day's dispatch cut-off. Negative when already past."""
        if isinstance(when, datetime):
            return self.minute(when)
        return self.minute(datetime.combine(when, self.dispatch_cutoff))

    def open_on(self, day: date) -> bool:
        """Does a window of the shop calendar begin that day? Always, without a shop calendar."""
        return self.calendar is None or worktime.works_on(self.calendar, day)


def clock_of(shop_: shop.Shop) -> Clock:
    """The clock of a shop, with minute 0 at its plan start."""
    settings = shop_.settings
    plan_start = worktime.to_utc(settings.plan_start, settings.zone)
    calendar = shop_.calendars[settings.shop_calendar] if settings.shop_calendar else None
    open_time = None
    if calendar is not None:
        open_time = worktime.OpenTime(worktime.hours_of(calendar, settings.zone, plan_start).attended)
    return Clock(settings.zone, plan_start, settings.dispatch_cutoff, calendar, open_time)
