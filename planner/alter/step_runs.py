"""How a step runs: pieces moved on early, with nobody there, at another cycle time."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace

from planner import worktime
from planner.alter.fields import AlterFault, Window, said, written
from planner.alter.look import step_after, with_calendars
from planner.alter.step import ON_MACHINE, OfStep
from planner.answers.caution_words import NOBODY_THERE
from planner.counted import counted, listed
from planner.explode.clock import clock_of
from planner.intake.checks.transfer import why_not
from planner.shop import Hours, Shop

NIGHTS = range(5)  # weekdays on which hours with nobody there begin


@dataclass(frozen=True)
class Transfer(OfStep):
    """Pieces are moved on to the next step before the batch is finished."""

    kind = "transfer"
    title = "Transfer quantity"

    pieces: int = said("of", "positive", "pieces moved on at a time")

    @property
    def text(self) -> str:
        return f"{self.where} moves on {counted(self.pieces, 'piece')} at a time, before the batch is finished."

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        yield from self._kind_fault(shop, "machine")
        following = step_after(shop, self.part, self.operation)
        giving = {**asdict(self.step(shop)), "transfer_pieces": self.pieces}
        reason = why_not(giving, {**asdict(following), "operation": following.number} if following else None)
        if reason:
            yield self.fault("operation", "a step whose next step can take a part of the batch", reason)

    def changed(self, shop: Shop) -> Shop:
        return self.with_step(shop, transfer_pieces=self.pieces)


@dataclass(frozen=True)
class Unattended(OfStep):
    """A run may go on with nobody there, so many minutes in each unattended stretch."""

    kind = "unattended"
    title = "Running with nobody there"

    limit_min: int = said("up-to", "positive", "running minutes in each stretch with nobody there")
    hours: Window | None = said(
        "at", "window", "hours with nobody there, where its machines have none yet", default=None
    )

    @property
    def text(self) -> str:
        hours = f", {written('window', self.hours)} from Monday to Friday" if self.hours else ""
        return f"{self.where} may run up to {self.limit_min} min a stretch with nobody there{hours}."

    @property
    def caution(self) -> str:
        return NOBODY_THERE

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        yield from self._kind_fault(shop, "machine")
        after, clock = self.changed(shop), clock_of(shop)
        machines = [a.machine for a in self.step(shop).alternatives]
        calendars = (after.calendars[after.machines[name].calendar] for name in machines)
        if not any(worktime.hours_of(c, clock.zone, clock.plan_start).unattended for c in calendars):
            expected = f"hours in which {listed(machines)} may run with nobody there"
            yield self.fault("hours", expected, "Say them, for example 'at 22:00-06:00', outside the attended hours.")

    def changed(self, shop: Shop) -> Shop:
        if self.hours is not None:
            shop = self._open(shop, self.hours)
        return self.with_step(shop, unattended_limit_min=self.limit_min)

    def _open(self, shop: Shop, window: Window) -> Shop:
        """Its machines get hours with nobody there; where they are attended then, they stay so."""
        nights = tuple(Hours(day, *window, False) for day in NIGHTS)
        machines = [a.machine for a in self.step(shop).alternatives]
        return with_calendars(shop, machines, (), self.where, lambda old: replace(old, hours=(*old.hours, *nights)))


@dataclass(frozen=True)
class Cycle(OfStep):
    """A step has another cycle time."""

    kind = "cycle"
    title = "Another cycle time"

    seconds: int = said("to", "positive", "seconds a cycle, on every machine that can do it")

    @property
    def text(self) -> str:
        return f"{self.where} takes {self.seconds} s a cycle."

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        yield from self._kind_fault(shop, *ON_MACHINE)

    def changed(self, shop: Shop) -> Shop:
        return self.with_step(
            shop, alternatives=tuple(replace(a, cycle_sec=self.seconds) for a in self.step(shop).alternatives)
        )
