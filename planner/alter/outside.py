"""Outside firms: vans on other days, a collection for once, a shorter turn."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, time

from planner import worktime
from planner.alter.base import Alteration, with_one
from planner.alter.fields import AlterFault, said
from planner.alter.look import with_steps
from planner.answers.wording import WEEKDAYS, day_text, local_text, pounds
from planner.counted import counted
from planner.explode.clock import clock_of
from planner.intake.nearest import did_you_mean
from planner.shop import Collection, Operation, Shop, WeeklyTime


@dataclass(frozen=True)
class Van(Alteration):
    """A weekly collection on another day of the week, at the same times."""

    kind = "van"
    title = "Collection on another day of the week"

    supplier: str = said("", "name", "outside firm", "supplier")
    before: int = said("from", "weekday", "day of the week it is on now")
    after: int = said("to", "weekday", "day of the week it is on then")

    @property
    def text(self) -> str:
        return f"{self.supplier} collects on {WEEKDAYS[self.after]} in place of {WEEKDAYS[self.before]}."

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        there = sorted({c.weekday for c in shop.suppliers[self.supplier].collections if c.day is None})
        if self.before not in there:
            names = ", ".join(WEEKDAYS[d] for d in there)
            yield self.fault("before", f"a day on which {self.supplier} collects", f"It collects on {names}.")
        if self.before == self.after:
            yield self.fault("after", "another day", "Name the day it is to be moved to.")

    def changed(self, shop: Shop) -> Shop:
        firm = shop.suppliers[self.supplier]
        moved = (
            replace(c, weekday=self.after) if c.weekday == self.before and c.day is None else c
            for c in firm.collections
        )
        return replace(shop, suppliers=with_one(shop.suppliers, self.supplier, replace(firm, collections=tuple(moved))))


@dataclass(frozen=True)
class SpecialCollection(Alteration):
    """One collection more, on one day only; it may have a delivery of its own."""

    kind = "collection"
    title = "Special collection"

    supplier: str = said("", "name", "outside firm", "supplier")
    day: date = said("on", "date", "the day of the collection")
    at: time = said("at", "time", "when it leaves; work has to be ready by then")
    back: datetime | None = said("back", "moment", "a delivery of its own, where there is one", default=None)
    charge: int = said("charge", "pounds", "what it costs in pounds", default=0)

    @property
    def text(self) -> str:
        back = f", with a delivery of its own on {local_text(self.back)}" if self.back else ""
        charge = f", for {pounds(self.charge)} pounds" if self.charge else ""
        return f"{self.supplier} collects for once on {day_text(self.day)} at {self.at:%H:%M}{back}{charge}."

    @property
    def pence(self) -> int:
        return self.charge

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        clock = clock_of(shop)
        calendar = shop.calendars[shop.suppliers[self.supplier].calendar]
        if datetime.combine(self.day, self.at) < clock.now:
            yield self.fault(
                "day", f"a time not before the plan start ({clock.now:%Y-%m-%d %H:%M})", "Name a later day."
            )
        for field, day in (("day", self.day), ("back", self.back.date() if self.back else None)):
            if day is not None and not (worktime.works_on(calendar, day) and clock.open_on(day)):
                yield self.fault(
                    field, f"a day on which {self.supplier} and the shop both work", "Name a day on which both work."
                )
        if self.back and self.back <= datetime.combine(self.day, self.at):
            yield self.fault("back", "a time after the collection", "Exchange the two, or mend one.")

    def changed(self, shop: Shop) -> Shop:
        firm = shop.suppliers[self.supplier]
        room = max((c.capacity_pieces for c in firm.collections if c.capacity_pieces is not None), default=None)
        special = Collection(self.day.weekday(), self.at, self.at, room, day=self.day)
        back = (WeeklyTime(self.back.weekday(), self.back.time(), self.back.date()),) if self.back else ()
        firm = replace(firm, collections=(*firm.collections, special), deliveries=(*firm.deliveries, *back))
        return replace(shop, suppliers=with_one(shop.suppliers, self.supplier, firm))


@dataclass(frozen=True)
class Turn(Alteration):
    """An outside firm is quicker, or slower, for all work or for one part; it may ask more for it."""

    kind = "turn"
    title = "Outside turn shorter"

    supplier: str = said("", "name", "outside firm", "supplier")
    process: str = said("process", "name", "which of its processes", "process")
    days: int = said("to", "positive", "its working days after the collection")
    dearer: int = said("dearer", "whole", "percent on its charges", default=0)
    part: str | None = said("for", "name", "only work of this part (all, if not said)", "part", default=None)

    @property
    def text(self) -> str:
        dearer = f", {self.dearer} % dearer" if self.dearer else ""
        what = f" of {self.part}" if self.part else ""
        return f"{self.supplier} takes {counted(self.days, 'working day')} for {self.process}{what}{dearer}."

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        does = [p.name for p in shop.suppliers[self.supplier].processes]
        if self.process not in does:
            mend = did_you_mean(self.process, does, f"it does {', '.join(does)}.")
            yield self.fault("process", f"a process of {self.supplier}", mend)
        elif self.part is not None and not any(
            self._is_meant(self.part, op) for r in shop.routings.values() for op in r.operations if r.part == self.part
        ):
            yield self.fault("part", f"a part that goes to {self.supplier} for {self.process}", "Name another part.")

    def _is_meant(self, part: str, op: Operation) -> bool:
        return (op.supplier, op.process) == (self.supplier, self.process) and self.part in (None, part)

    def changed(self, shop: Shop) -> Shop:
        firm = shop.suppliers[self.supplier]
        old = next(p for p in firm.processes if p.name == self.process)
        name = old.name if self.part is None else f"{old.name}, {self.part} in {counted(self.days, 'day')}"
        new = replace(
            old, name=name, turn_days=self.days, turn_low=None, turn_high=None,
            minimum_pence=self._dearer(old.minimum_pence), line_fee_pence=self._dearer(old.line_fee_pence),
        )  # fmt: skip
        others = (p for p in firm.processes if p.name != name)

        def step(part: str, op: Operation) -> Operation:
            if not self._is_meant(part, op):
                return op
            return replace(op, process=name, piece_price_pence=self._dearer(op.piece_price_pence))

        firm = replace(firm, processes=(*others, new))
        return with_steps(replace(shop, suppliers=with_one(shop.suppliers, self.supplier, firm)), step)

    def _dearer(self, pence: int) -> int:
        return -(-pence * (100 + self.dearer) // 100)
