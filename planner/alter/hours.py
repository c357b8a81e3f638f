"""More or fewer hours: extra shifts, machines that are down, people who are away."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from planner import worktime
from planner.alter.base import Alteration, from_moment, until_moment, with_one
from planner.alter.fields import AlterFault, Window, said, written
from planner.alter.look import machines_named, skills_on, with_calendars
from planner.answers.caution_words import EXTRA_HOURS
from planner.answers.wording import day_text, local_text
from planner.counted import listed
from planner.explode.clock import Clock, clock_of
from planner.shop import Absence, ExtraShift, Machine, Person, Shop
from planner.work import Span

LONGEST_MIN = 16 * 60  # of a shift over midnight: what is longer is two times exchanged


@dataclass(frozen=True)
class Shift(Alteration):
    """Machines are attended, and people there, in a window on some days, as well as their usual hours."""

    kind = "shift"
    title = "Extra shift or Saturday"

    machines: tuple[str, ...] = said("", "names", "machines or groups", "machine", "group")
    days: tuple[date, ...] = said("on", "dates", "the days it begins on")
    hours: Window = said("at", "window", "from when to when")
    people: tuple[str, ...] = said("by", "names", "who comes in for it", "person", default=())

    @property
    def text(self) -> str:
        days = listed([day_text(day) for day in self.days], 4)
        who = f"with {listed(self.people)} there" if self.people else "with whoever is there by their usual hours"
        return f"Extra hours on {listed(self.machines)}: {days}, {written('window', self.hours)}, {who}."

    @property
    def caution(self) -> str:
        return EXTRA_HOURS

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        clock = clock_of(shop)
        machines = [shop.machines[name] for name in machines_named(shop, self.machines)]
        people = [shop.people[name] for name in self.people]
        yield from self._days(shop, clock, machines, people)
        if self.hours.over_midnight_min > LONGEST_MIN:
            mend = "Exchange the two times, or end sooner: an end that is not after the start is on the next day."
            yield self.fault("hours", f"an end after the start, or at most {LONGEST_MIN // 60} h over midnight", mend)
            return
        after = self.changed(shop)
        more = {m.name: _more(shop, after, clock, m, after.machines[m.name]) for m in machines}
        if not any(more.values()) and not any(_more(shop, after, clock, p, after.people[p.name]) for p in people):
            yield self.fault(
                "hours", "hours that are not there already, from the plan start on", "Name other hours or other days."
            )
        alone = [m.name for m in machines if not self._somebody(after, clock, m, more[m.name])]
        if alone:
            skills = {s for name in alone for s in skills_on(shop, name)}
            expected = f"somebody there for {listed(alone)} with the skill {listed(sorted(skills), 4, 'or')}"
            mend = "Name them with 'by', or choose hours in which they are there."
            yield self.fault("people", expected, mend, listed(self.people) or "nobody named")

    def _days(self, shop: Shop, clock: Clock, machines: list[Machine], people: list[Person]) -> Iterator[AlterFault]:
        names = {*(m.calendar for m in machines), *(p.calendar for p in people)}
        known_to = min(shop.calendars[name].known_to for name in names)
        for day in self.days:
            if day < clock.today:
                yield self.fault(
                    "days", f"a day not before the plan start ({clock.today})", "Name a later day.", str(day)
                )
            elif day > known_to:
                mend = "Name an earlier day, or move 'known_to' of the calendar on."
                yield self.fault("days", f"a day the calendars are known to ({known_to})", mend, str(day))

    def _somebody(self, shop: Shop, clock: Clock, machine: Machine, more: Sequence[Span]) -> bool:
        """Is there, at some time of the machine's further hours (of all the hours named, where it has none further),
        somebody who can do what it needs?"""
        skills = skills_on(shop, machine.name)
        able = [p for p in shop.people.values() if skills & set(p.skills)]
        asked = (worktime.window_on(day, *self.hours, clock.zone, clock.plan_start) for day in self.days)
        extra = more or worktime.united(span for span in asked if span is not None)
        return not skills or any(worktime.common(_hours(shop, clock, p), extra) for p in able)

    def changed(self, shop: Shop) -> Shop:
        extra = tuple(ExtraShift(day, *self.hours, True) for day in self.days)
        machines = machines_named(shop, self.machines)
        return with_calendars(
            shop, machines, self.people, "extra hours", lambda old: replace(old, extra=(*old.extra, *extra))
        )


def _hours(shop: Shop, clock: Clock, one: Machine | Person) -> tuple[Span, ...]:
    away = one.downtime if isinstance(one, Machine) else one.leave
    return worktime.hours_of(shop.calendars[one.calendar], clock.zone, clock.plan_start, away).attended


def _more(shop: Shop, after: Shop, clock: Clock, was: Machine | Person, now: Machine | Person) -> list[Span]:
    """Hours from the plan start on that a machine or person has only after a change."""
    return worktime.from_minute(worktime.without(_hours(after, clock, now), _hours(shop, clock, was)), 0)


@dataclass(frozen=True)
class Away(Alteration):
    """A person is not there for a while."""

    kind = "away"
    title = "Person away"

    person: str = said("", "name", "who is away", "person")
    start: date | datetime = said("from", "due", "first day or moment")
    end: date | datetime = said("to", "due", "last day (included) or moment")

    @property
    def text(self) -> str:
        return f"{self.person} away from {shown(self.start)} to {shown(self.end)}."

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        yield from _span_faults(self, shop, self.start, self.end)

    def changed(self, shop: Shop) -> Shop:
        person = shop.people[self.person]
        leave = (*person.leave, Absence(from_moment(self.start), until_moment(self.end), "what if"))
        return replace(shop, people=with_one(shop.people, self.person, replace(person, leave=leave)))


@dataclass(frozen=True)
class Down(Alteration):
    """A machine cannot be used for a while."""

    kind = "down"
    title = "Machine down"

    machine: str = said("", "name", "which machine", "machine")
    start: date | datetime = said("from", "due", "first day or moment")
    end: date | datetime = said("to", "due", "last day (included) or moment")

    @property
    def text(self) -> str:
        return f"{self.machine} down from {shown(self.start)} to {shown(self.end)}."

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        yield from _span_faults(self, shop, self.start, self.end)

    def changed(self, shop: Shop) -> Shop:
        machine = shop.machines[self.machine]
        downtime = (*machine.downtime, Absence(from_moment(self.start), until_moment(self.end), "what if"))
        return replace(shop, machines=with_one(shop.machines, self.machine, replace(machine, downtime=downtime)))


def shown(when: date | datetime) -> str:
    """A day, or a moment, in words."""
    return local_text(when) if isinstance(when, datetime) else day_text(when)


def _span_faults(change: Alteration, shop: Shop, start: date | datetime, end: date | datetime) -> Iterator[AlterFault]:
    now = clock_of(shop).now
    if until_moment(end) <= from_moment(start):
        yield change.fault("end", f"a time after {written('due', start)}", "Exchange the two, or mend one.")
    elif until_moment(end) <= now:
        yield change.fault("end", f"a time after the plan start ({now:%Y-%m-%d %H:%M})", "Name a later time.")
