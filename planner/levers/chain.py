"""The chain that binds an order, link by link, with what suggests ways to shorten it looked up once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import NamedTuple

from planner import shop, worktime
from planner.alter.base import Alteration
from planner.alter.compare import Side
from planner.answers.feeds import Feeds
from planner.answers.way import Ways
from planner.answers.wording import DAY_MIN
from planner.explode.clock import clock_of
from planner.levers.aim import ready_times
from planner.plan import Step
from planner.work import Batch, Operation, Order


class Idea(NamedTuple):
    """Changes worth planning with, and the minutes of the chain that they could take away."""

    minutes: int
    changes: tuple[Alteration, ...]


@dataclass(frozen=True)
class Link:
    """One step of the chain. ``ready_min``: when it could have begun by what comes before it; ``held_min``: to its release."""

    op: Operation
    batch: Batch
    step: Step
    ready_min: int
    wait_min: int
    held_min: int

    @property
    def takes_min(self) -> int:
        """Elapsed, from its start to its end."""
        return self.step.end - self.step.start


class Chain:
    """Links from the order's end back to the plan start, in a plan."""

    def __init__(self, shop_: shop.Shop, side: Side, order: str, by_min: int) -> None:
        self.shop, self.side, self.number, self.by_min = shop_, side, order, by_min
        self.work, self.clock = side.work, clock_of(shop_)
        self.ways, self.feeds = Ways(side.work, side.plan), Feeds(side.work)
        self.ready = ready_times(side)

    @property
    def order(self) -> Order:
        return next(o for o in self.work.orders if o.number == self.number)

    @property
    def gap_min(self) -> int:
        """How much sooner it is wanted, at least a day."""
        return max(DAY_MIN, self.ready[self.number] - self.by_min)

    @cached_property
    def links(self) -> list[Link]:
        """None where the order waits for no batch."""
        batch = self.ways.last_batch(self.order)
        found = []
        for wait in self.ways.back(batch) if batch is not None else ():
            op = self.work.operations[wait.step.operation]
            ready = wait.step.start - wait.minutes
            found.append(Link(op, self.work.batches[op.batch], wait.step, ready, wait.minutes, wait.held_min))
        return found

    # --- days -------------------------------------------------------------------------------

    def day(self, minute: int) -> date:
        return self.clock.day_of(max(0, minute))

    def sooner(self, day: date) -> date:
        """The day by which something has to be sooner to make up the gap, not before the plan start."""
        return max(self.clock.today, day - timedelta(days=-(-self.gap_min // DAY_MIN)))

    def days(self, from_min: int, to_min: int) -> list[date]:
        return list(worktime.days(self.day(from_min), self.day(to_min)))

    def local(self, minute: int) -> datetime:
        """Naive local time."""
        return self.work.local(minute).replace(tzinfo=None)

    def calendar_of(self, machine: int) -> shop.Calendar:
        return self.shop.calendars[self.shop.machines[self.work.machines[machine].name].calendar]

    # --- people -----------------------------------------------------------------------------

    def able(self, skills: Sequence[str], days: Sequence[date]) -> tuple[str, ...] | None:
        """People who together have the skills and are on no leave on these days; None where there are none."""
        found: dict[str, None] = {}
        for skill in dict.fromkeys(skills):
            with_it = [p for p in self.shop.people.values() if skill in p.skills and not _on_leave(p, days)]
            if not with_it:
                return None
            found[min(with_it, key=lambda p: (p.name not in found, len(p.skills), p.name)).name] = None
        return tuple(found)

    def skills(self, op: Operation) -> list[str]:
        """Who sets or does a step, then who approves its first piece."""
        return [self.work.skills[s] for s in (op.skill, op.first_off_skill) if s is not None]

    @cached_property
    def booked(self) -> dict[int, int]:
        """Minutes each machine is held until the order is wanted or ready, whichever is later."""
        until = max(self.by_min, self.ready[self.number])
        found = dict.fromkeys(range(len(self.work.machines)), 0)
        for step in self.side.plan.steps:
            if step.machine is not None and step.start < until:
                found[step.machine] += step.run_end - step.start
        return found


def _on_leave(person: shop.Person, days: Sequence[date]) -> bool:
    return any(a.start.date() <= day <= a.end.date() for a in person.leave for day in days)
