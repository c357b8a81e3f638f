"""What a store's bookings say of times, beside what the tables plan: a shop's ``history``.

Planned minutes are those of the tables as they are now: a time that was put right counts as right at once.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from typing import TypeVar

from planner import worktime
from planner.booked.open_time import PastHours
from planner.booked.reading import Bookings, Step
from planner.booked.steps import Held, RunDone, Seen, SetupDone, Stint, TurnDone, steps_of
from planner.intake import shop_of
from planner.shop import Alternative, BookedBatch, BookedGroup, BookedTime, BookedTurn, History, Operation, Shop
from planner.store import ShopPlace, Store, is_store
from planner.work import Span
from planner.worktime import OpenTime

BESIDE_MIN = 30  # so far beside the hours of a machine a booking counts as in them
NIGHT_SEEN_MIN = 60  # attended minutes after a night's run, before which nobody can say when it ended
LEAST_WEEKS = 4  # with bookings, before they say how full the machines are
MANY_TIMES = 5  # beyond so many times its plan a hold counts as planned: its end was forgotten

Done = TypeVar("Done")
Told = TypeVar("Told")

GONE = "of a step, machine or person that the tables no longer have"
BACKWARDS = "ended before it began"
OUTSIDE_HOURS = f"begun or ended more than {BESIDE_MIN} min outside the machine's hours"
AT_NIGHT = "ended while nobody was there"
PIECES_COMING = "begun before the step before it was done"


def with_history(place: ShopPlace | None, shop: Shop) -> Shop:
    """The shop with what was booked in its store up to now, besides what its tables say; as it is where it has no store."""
    if place is None or not is_store(place):
        return shop
    with Store(place) as store:
        bookings, now = Bookings(store), shop_of(store.sheets().reading())
    found = _History(now, bookings).all if bookings.all else History()
    tables = now.history
    return replace(shop, history=replace(found, times=tables.times + found.times, turns=tables.turns + found.turns))


class Unclear(Exception):
    """A booking from which no time can be read, and why."""


@dataclass(frozen=True)
class _Method:
    """How a step is done by the tables."""

    part: str
    step: Operation
    before: Step | None  # the step before it, in its batch


class _History:
    def __init__(self, shop: Shop, bookings: Bookings) -> None:
        self.shop, self.bookings = shop, bookings
        self.hours = PastHours(shop, min(b.at for b in bookings.all))
        self.unclear: Counter[str] = Counter()

    @cached_property
    def methods(self) -> dict[Step, _Method]:
        """Of the steps with bookings; without those that the tables no longer have."""
        found = {}
        for booking in self.bookings.all:
            batch, number = booking.step
            part = self.bookings.row("batches", batch, booking.entry).get("part", "")
            steps = self.shop.routings[part].operations if part in self.shop.routings else ()
            for i, step in enumerate(steps):
                if step.number == number:
                    found[booking.step] = _Method(part, step, (batch, steps[i - 1].number) if i else None)
        return found

    @cached_property
    def seen(self) -> Seen:
        first_off = {step: m.step.first_off_skill is not None for step, m in self.methods.items()}
        return steps_of(self.bookings.all, first_off)

    @cached_property
    def all(self) -> History:
        seen = self.seen
        times = [*self._told(self._setup, seen.setups), *self._told(self._run, seen.runs)]
        turns = self._told(self._turn, seen.turns)
        unclear = self.unclear + Counter(seen.unclear)
        return History(
            tuple(times), tuple(turns), self._groups(), self._batches(), unclear=tuple(sorted(unclear.items()))
        )

    def _told(self, tell: Callable[[Done], Told | None], done: Iterable[Done]) -> list[Told]:
        found: list[Told] = []
        for one in done:
            try:
                told = tell(one)
            except Unclear as reason:
                self.unclear[str(reason)] += 1
            else:
                if told is not None:
                    found.append(told)
        return found

    # --- setups and runs ----------------------------------------------------------------------------

    def _setup(self, done: SetupDone) -> BookedTime | None:
        method, on = self._on(done.step, done.machine)
        group = self.shop.machines[done.machine].group
        more = self.shop.changeovers.get((group, done.family_before, method.step.family or ""), 0)
        hours = self.hours.attended(done.machine)
        spans = self._spans(hours, [done.stint])
        minutes = self._setter_min(method.step, done, *spans[0]) or _minutes(hours, spans)
        return self._time(done, "setup", method, on.setup_min + more, minutes)

    def _setter_min(self, step: Operation, done: SetupDone, begin: int, end: int) -> int:
        """Minutes in which whoever set was there: where that may be handed over, anybody able to after the end of a shift, less
        what handing over takes, which every plan adds by itself."""
        skill = self._skill(step, done.machine)
        anybody = self.hours.of_any(done.machine, skill) if skill else self.hours.attended(done.machine)
        if done.person not in self.shop.people:
            return anybody.open_between(begin, end)
        own = self.hours.of_one(done.machine, done.person)
        handover_min = self.shop.settings.handover_min
        if handover_min is None:
            return own.open_between(begin, end)
        shift = worktime.stretches(worktime.from_minute(own.windows, begin), self.shop.settings.break_max_min)
        over = min(end, shift[0][1] if shift else begin)
        return own.open_between(begin, over) + max(0, anybody.open_between(over, end) - handover_min)

    def _skill(self, step: Operation, machine: str) -> str | None:
        """Who does a manual step, or sets a machine."""
        return step.skill or self.shop.groups[self.shop.machines[machine].group].setup_skill

    def _run(self, done: RunDone) -> BookedTime | None:
        method, on = self._on(done.step, done.machine)
        begun, ended = done.stints[0][0], done.stints[-1][1]
        before = self.seen.done.get(method.before) if method.before else None
        if before is not None and before.at > begun:
            raise Unclear(PIECES_COMING)
        hours = self.hours.run(done.machine, method.step.unattended_limit_min)
        spans = self._spans(hours, done.stints)
        by_hand = method.step.kind == "manual" and self._skill(method.step, done.machine)
        actual = _minutes(self.hours.of_any(done.machine, by_hand), spans) if by_hand else 0
        actual = actual or _minutes(hours, spans)
        self._end_was_seen(done.machine, hours, begun, ended)
        return self._time(done, "run", method, self._run_min(method.step, on, done.pieces), actual)

    def _time(
        self, done: SetupDone | RunDone, what: str, method: _Method, planned_min: int, actual_min: int
    ) -> BookedTime | None:
        if not planned_min:
            return None
        (batch, number), end = done.step, done.stint[1] if isinstance(done, SetupDone) else done.stints[-1][1]
        first_time = self.bookings.row("parts", method.part, done.entry).get("first_time", "").casefold() == "yes"
        group = self.shop.machines[done.machine].group
        name = f"batch {batch} operation {number}"
        return BookedTime(end.date(), what, group, planned_min, actual_min, first_time, name)

    def _on(self, step: Step, machine: str) -> tuple[_Method, Alternative]:
        method = self.methods.get(step)
        on = next((a for a in method.step.alternatives if a.machine == machine), None) if method else None
        if method is None or on is None or machine not in self.shop.machines:
            raise Unclear(GONE)
        return method, on

    def _run_min(self, step: Operation, on: Alternative, pieces: int) -> int:
        cycles = -(-pieces // step.pieces_per_cycle)
        minutes = -(-cycles * on.cycle_sec // 60)
        if step.kind == "manual" and step.skill in self._approve:
            return -(-minutes * self.shop.settings.inspection_stretch_percent // 100)
        return minutes

    @cached_property
    def _approve(self) -> set[str | None]:
        """Skills that approve first-offs: batch work of theirs is lengthened."""
        return {s.first_off_skill for r in self.shop.routings.values() for s in r.operations} - {None}

    # --- open minutes -------------------------------------------------------------------------------

    def _spans(self, hours: OpenTime, stints: Sequence[Stint]) -> list[Span]:
        """Stints in minutes; what cannot be measured in those hours of the machine is unclear."""
        spans = [(self.hours.minute(a), self.hours.minute(b)) for a, b in stints]
        if any(a > b for a, b in spans):
            raise Unclear(BACKWARDS)
        if not all(_near(hours, moment) for span in spans for moment in span) or not _minutes(hours, spans):
            raise Unclear(OUTSIDE_HOURS)
        return spans

    def _end_was_seen(self, machine: str, hours: OpenTime, begun: datetime, ended: datetime) -> None:
        """A run that went on with nobody there has ended at night where it is booked soon after."""
        begin, end = self.hours.minute(begun), self.hours.minute(ended)
        attended = self.hours.attended(machine)
        nights = worktime.without(hours.windows, attended.windows)
        last = max((min(b, end) for a, b in nights if max(a, begin) < min(b, end)), default=None)
        if last is not None and attended.open_between(last, end) < NIGHT_SEEN_MIN:
            raise Unclear(AT_NIGHT)

    # --- outside --------------------------------------------------------------------------------------

    def _turn(self, done: TurnDone) -> BookedTurn:
        method = self.methods.get(done.step)
        if method is None or method.step.supplier not in self.shop.suppliers:
            raise Unclear(GONE)
        if done.back < done.out:
            raise Unclear(BACKWARDS)
        supplier = self.shop.suppliers[method.step.supplier]
        process = next(p for p in supplier.processes if p.name == method.step.process)
        working = worktime.working_days(self.shop.calendars[supplier.calendar], done.out.date(), done.back.date())

        def ready_by(moment: datetime) -> int:
            """Most working days after which it was ready by then, each at the time of day at which it was collected."""
            return sum(done.out.date() < day and datetime.combine(day, done.out.time()) <= moment for day in working)

        most = ready_by(done.back)
        missed = [
            moment
            for day in working
            for d in supplier.deliveries
            if d.weekday == day.weekday()
            and done.out < (moment := datetime.combine(day, d.at))
            and day < done.back.date()
        ]  # deliveries with which it did not come: it was not ready then
        least = min(most, ready_by(max(missed)) + 1) if missed else 0
        days = min(max(process.turn_days, least), most)
        return BookedTurn(done.back.date(), supplier.name, process.name, days, f"batch {done.step[0]}")

    # --- how full machines are, and what was lost -------------------------------------------------------

    def _groups(self) -> tuple[BookedGroup, ...]:
        """How long steps held machines since the first start; weeks in which nothing was booked at all do not count."""
        held = [h for h in self.seen.held if h.machine in self.shop.machines and h.stint[0] <= h.stint[1]]
        moments = [self.hours.minute(b.at) for b in self.bookings.all]
        if not held:
            return ()
        first, last = min(self.hours.minute(h.stint[0]) for h in held), max(moments)
        weeks = [
            (max(a, first), min(b, last))
            for _, (a, b) in worktime.week_spans(first, last + 1, self.hours.zone, self.hours.start)
            if any(a <= m < b for m in moments)
        ]
        if len(weeks) < LEAST_WEEKS:
            return ()
        found = []
        for group in self.shop.groups:
            machines = [m.name for m in self.shop.machines.values() if m.group == group]
            open_min = sum(self.hours.attended(m).open_between(*week) for m in machines for week in weeks)
            minutes = [self._held_min(h) for h in held if h.machine in machines]
            if minutes:
                found.append(BookedGroup(group, len(machines), open_min, tuple(minutes)))
        return tuple(found)

    def _held_min(self, held: Held) -> int:
        """Attended minutes; as planned where somebody forgot to say that the machine is free."""
        minutes = self.hours.attended(held.machine).open_between(*(self.hours.minute(moment) for moment in held.stint))
        try:
            method, on = self._on(held.step, held.machine)
        except Unclear:
            return minutes
        pieces = self.bookings.pieces(held.step[0], held.entry)
        planned = on.setup_min + self._run_min(method.step, on, pieces)
        return planned if minutes > MANY_TIMES * planned > 0 else minutes

    def _batches(self) -> tuple[BookedBatch, ...]:
        """Batches that were booked from their first step to their last."""
        begun = {b.step for b in self.bookings.all if b.what in ("start", "sent out")}
        found = []
        for (batch, number), booking in self.seen.done.items():
            method = self.methods.get((batch, number))
            if method is None:
                continue
            numbers = self._numbers(method.part)
            if number != numbers[-1] or (batch, numbers[0]) not in begun:
                continue
            pieces, scrap = self.bookings.pieces(batch, booking.entry), self.bookings.scrap(batch, booking.entry)
            if 0 <= scrap <= pieces > 0:
                found.append(BookedBatch(method.part, pieces, scrap))
        return tuple(found)

    def _numbers(self, part: str) -> tuple[int, ...]:
        """Steps of a part that are booked."""
        return tuple(s.number for s in self.shop.routings[part].operations if s.kind != "wait")


def _minutes(hours: OpenTime, spans: Iterable[Span]) -> int:
    """Open minutes of the spans."""
    return sum(hours.open_between(a, b) for a, b in spans)


def _near(hours: OpenTime, minute: int) -> bool:
    """Is a minute in the hours, or hardly beside them?"""
    return hours.first_open(minute - BESIDE_MIN - 1) <= minute + BESIDE_MIN  # a window's end is closed already
