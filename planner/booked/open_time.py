"""Open hours of machines and people in the past, as the tables have them now: leave and downtime are out."""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import cache

from planner import worktime
from planner.shop import Shop
from planner.work import Hours, Span


class PastHours:
    """Minutes are counted from the midnight that begins the day before ``since`` (local)."""

    def __init__(self, shop: Shop, since: datetime) -> None:
        self._shop, self.zone = shop, shop.settings.zone
        self.start = worktime.to_utc(since.replace(hour=0, minute=0) - timedelta(days=1), self.zone)
        self.machine = cache(self._machine)
        self.attended = cache(self._attended)
        self.run = cache(self._run)
        self.person = cache(self._person)
        self.of_one = cache(self._of_one)
        self.of_any = cache(self._of_any)

    def minute(self, local: datetime) -> int:
        return worktime.minute_of(local, self.zone, self.start)

    def _machine(self, name: str) -> Hours:
        machine = self._shop.machines[name]
        return worktime.hours_of(self._shop.calendars[machine.calendar], self.zone, self.start, machine.downtime)

    def _attended(self, machine: str) -> worktime.OpenTime:
        return worktime.OpenTime(self.machine(machine).attended)

    def _run(self, machine: str, unattended_limit_min: int) -> worktime.OpenTime:
        """Hours in which a run goes on."""
        return worktime.OpenTime(tuple(worktime.run_hours(self.machine(machine), unattended_limit_min)))

    def _person(self, name: str) -> tuple[Span, ...]:
        person = self._shop.people[name]
        calendar = self._shop.calendars[person.calendar]
        return worktime.hours_of(calendar, self.zone, self.start, person.leave).attended

    def _of_one(self, machine: str, person: str) -> worktime.OpenTime:
        """Attended hours of a machine in which a person is there."""
        return worktime.open_together(self.machine(machine).attended, self.person(person))

    def _of_any(self, machine: str, skill: str) -> worktime.OpenTime:
        """The same of anybody who has the skill."""
        able = [self.person(p.name) for p in self._shop.people.values() if skill in p.skills]
        there = worktime.united(span for windows in able for span in windows)
        return worktime.OpenTime(tuple(worktime.common(self.machine(machine).attended, there)))
