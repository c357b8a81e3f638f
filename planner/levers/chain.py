"""The chain that binds an order, step by step, with what suggests ways to shorten it looked up once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property
from itertools import groupby
from typing import NamedTuple

from planner import shop, worktime
from planner.alter.base import Alteration, from_moment, until_moment
from planner.alter.records import Side
from planner.answers.feeds import Feeds, ready_times
from planner.answers.why.facts import Facts
from planner.answers.why.walk import order_chain
from planner.answers.wording import DAY_MIN
from planner.chain import FIXED, QUEUES, Part, PartKind
from planner.explode.clock import clock_of
from planner.plan import Step
from planner.work import Batch, Operation, Order

PERSON = (PartKind.PERSON, PartKind.APPROVER)


class Idea(NamedTuple):
    """Changes worth planning with, and the minutes of the chain that they could take away."""

    minutes: int
    changes: tuple[Alteration, ...]


@dataclass(frozen=True)
class Link:
    """One step of the chain, with its parts: where its minutes go, from when the chain comes to it."""

    op: Operation
    batch: Batch
    step: Step
    parts: tuple[Part, ...]

    @property
    def ready_min(self) -> int:
        return self.parts[0].start

    @property
    def free_min(self) -> int:
        """From when on more hours could help: not before its material, bought pieces or a decision."""
        return max([self.ready_min, *(p.end for p in self.parts if p.kind in FIXED)])

    @property
    def takes_min(self) -> int:
        """Elapsed, from its start to its end."""
        return self.step.end - self.step.start

    def minutes(self, *kinds: PartKind) -> int:
        """Minutes of the chain at this step that go into any of these."""
        return sum(p.minutes for p in self.parts if p.kind in kinds)

    @property
    def behind(self) -> int | None:
        """The operation that it waits behind longest, whatever for."""
        found: Counter[int] = Counter()
        for part in self.parts:
            if part.kind in QUEUES and part.behind is not None:
                found[part.behind] += part.minutes
        return found.most_common(1)[0][0] if found else None


class Binding:
    """The chain of one order in a plan, from the plan start to its end."""

    def __init__(self, shop_: shop.Shop, side: Side, order: str, by_min: int) -> None:
        self.shop, self.side, self.number, self.by_min = shop_, side, order, by_min
        self.work, self.clock = side.work, clock_of(shop_)
        self.feeds, self.steps = Feeds(side.work), side.plan.step_of()
        self.ready = ready_times(side.work, side.plan)

    @property
    def order(self) -> Order:
        return next(o for o in self.work.orders if o.number == self.number)

    @property
    def gap_min(self) -> int:
        """How much sooner it is wanted, at least a day."""
        return max(DAY_MIN, self.ready[self.number] - self.by_min)

    @cached_property
    def links(self) -> list[Link]:
        """The last step first; none where the order waits for no step."""
        chain = order_chain(Facts(self.work, self.side.plan), self.order)
        found = []
        for i, parts in groupby(chain.parts if chain else (), key=lambda p: p.operation):
            if i is not None and i in self.steps:
                op = self.work.operations[i]
                found.append(Link(op, self.work.batches[op.batch], self.steps[i], tuple(parts)))
        return found[::-1]

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
    """Is any of their leave on one of these days? Leave that ends at midnight is not on the day after."""
    return any(a.start < until_moment(day) and from_moment(day) < a.end for a in person.leave for day in days)
