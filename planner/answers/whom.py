"""What waits for whom: every step that waits in a stretch of time, by what it waits for, with the order that it holds up.

A step's wait begins when what it had to have before (the step before it, its last component) is there, and its parts are
those of ``planner.answers.why``: machine, person, equipment, van. Waits for components and bought parts begin when the step before is done.
A wait *binds* an order that is late, or nearly, where it is on the order's binding chain: there every minute less counts.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Set
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

from planner.answers.feeds import Feeds
from planner.answers.orders import OrderRow
from planner.answers.why import sound_chains
from planner.answers.why.facts import Facts
from planner.answers.why.hands import approver
from planner.answers.why.queue import waits
from planner.answers.why.walk import came
from planner.answers.wording import DAY_MIN, late_text, short_moment_text, step_name
from planner.chain import FOR_MACHINE, Part, PartKind
from planner.plan import Plan, Step
from planner.work import Kind, Operation, Order, Work

SOON_MIN = DAY_MIN  # ready less than a day before it is due: about to be late
PLAN_START = "plan start"  # what waited then may have waited before


class Whom(StrEnum):
    """What can be waited for, in the order in which it is shown."""

    MACHINE = "machine"
    PERSON = "person"
    APPROVAL = "first-off approval"
    EQUIPMENT = "equipment"
    COMPONENT = "component"
    BOUGHT = "bought part"
    MATERIAL = "material"
    VAN = "van"
    FIRM = "outside firm"
    DECISION = "decision"


COMING = (Whom.COMPONENT, Whom.BOUGHT, Whom.MATERIAL, Whom.DECISION)
"""Dates, told where they are soon, or where a late order waits for them."""


@dataclass(frozen=True)
class Wait:
    """One step that waits. ``order`` is the one that it holds up most, empty where it feeds none; ``late_min`` is that order's, negative
    where it is early, None where it is not planned."""

    batch: str
    operation: int
    description: str
    part: str
    since: str
    until: str
    since_min: int
    until_min: int
    behind: str  # what it waits behind: 'B-1 op 10', 'Ada at B-1 op 10'
    order: str
    late_min: int | None
    late: str
    binds: bool


@dataclass(frozen=True)
class WaitedFor:
    """A machine, a person's skill, a firm ... and what waits for it, what binds an order first."""

    kind: Whom
    name: str
    waits: tuple[Wait, ...]


@dataclass(frozen=True)
class _Found:
    """``on`` is the operation whose minutes on a chain say that the wait binds: the one waited for where that is a step, else the one
    that waits."""

    kind: Whom
    name: str
    op: Operation
    since: int
    until: int
    on: int
    behind: str = ""


class Waits:
    """Looks up who waits in one plan; ``rows`` are its orders (``planner.answers.orders``).

    All that waits before some moment is found once, and kept until another moment is asked for.
    """

    def __init__(self, work: Work, plan: Plan, rows: Iterable[OrderRow]) -> None:
        self._work, self._plan = work, plan
        self._late = {row.order: row.late_min for row in rows}
        self._facts, self._feeds = Facts(work, plan), Feeds(work)
        self._next = {before.index: work.operations[op] for op, before in self._facts.before.items()}
        self._kept: tuple[int, list[_Found]] = (-1, [])

    @cached_property
    def _binding(self) -> dict[int, set[int]]:
        """By order that is late or nearly, the operations in whose way its chain lies."""
        tight = [o for o in self._work.orders if (late := self._late.get(o.number)) is not None and late > -SOON_MIN]
        chains = sound_chains(self._work, self._plan, tight)
        return {order: {p.operation for p in chain.parts if p.operation is not None} for order, chain in chains.items()}

    def between(
        self, now: int, until: int, begun: Set[int] = frozenset(), done: Set[int] = frozenset()
    ) -> tuple[WaitedFor, ...]:
        """What waits at some minute of ``[now, until)``.

        Parameters
        ----------
        begun, done
            Operations booked since the plan was made: those begun wait for nothing in front of them, those done are not
            waited for.
        """
        if self._kept[0] != until:
            self._kept = until, [w for step in self._plan.steps for w in self._of(step, until) if w.since < until]
        last: dict[int, _Found] = {}
        found: list[_Found] = []
        for wait in self._kept[1]:
            over = wait.until <= now or wait.on in done or wait.op.index in done
            if over or (wait.op.index in begun and wait.kind not in (Whom.APPROVAL, Whom.FIRM)):
                continue
            if wait.kind in (Whom.COMPONENT, Whom.BOUGHT):  # the one that comes last
                if wait.op.index not in last or last[wait.op.index].until < wait.until:
                    last[wait.op.index] = wait
            elif wait.kind is not Whom.FIRM or wait.since <= now or wait.until < until:
                found.append(wait)
        return self._by_whom([*found, *last.values()], until)

    def _by_whom(self, found: list[_Found], until: int) -> tuple[WaitedFor, ...]:
        rows: dict[tuple[Whom, str], list[Wait]] = {}
        for wait in found:
            told = self._told(wait)
            if wait.kind not in COMING or wait.until < until or (told.binds and (told.late_min or 0) > 0):
                rows.setdefault((wait.kind, wait.name), []).append(told)
        kinds = list(Whom)
        ordered = sorted(rows.items(), key=lambda item: (kinds.index(item[0][0]), item[0][1]))
        return tuple(WaitedFor(kind, name, tuple(sorted(some, key=_urgency))) for (kind, name), some in ordered)

    # --- one step ------------------------------------------------------------------------------

    def _of(self, step: Step, until: int) -> Iterator[_Found]:
        """All that it waits for from some moment before ``until`` on."""
        op = self._work.operations[step.operation]
        if op.kind is Kind.OUTSIDE and step.run_start < until:
            yield _Found(
                Whom.FIRM, self._firm(op), self._next.get(op.index, op), step.run_start, step.run_end, op.index
            )
        if step.first_off is not None and step.first_off.cycle_end < until:
            yield from self._approval(step, op)
        before = self._facts.before.get(op.index)
        if self._facts.under_way(op) or (before is not None and self._facts.steps[before.index].start >= until):
            return
        since = came(self._facts, step).there
        if since < until:
            yield from self._queues(op, waits(self._facts, step, since))
        yield from self._coming(step, op, before, until)

    def _queues(self, op: Operation, parts: list[Part]) -> Iterator[_Found]:
        """For machines, people, equipment, dates: the parts of one kind as one wait."""
        gathered: dict[tuple[Whom, str], list[Part]] = {}
        for part in parts:
            key = self._whom(part)
            if key is not None:
                gathered.setdefault(key, []).append(part)
        for (kind, name), some in gathered.items():
            yield _Found(kind, name, op, some[0].start, some[-1].end, op.index, self._behind(some))

    def _whom(self, part: Part) -> tuple[Whom, str] | None:
        """Whom a part of a wait is for; None where it is for nobody: closed, held back on purpose, its place in the list."""
        work = self._work
        if part.kind in FOR_MACHINE and part.machine is not None:
            return Whom.MACHINE, work.machines[part.machine].name
        if part.kind is PartKind.PERSON and part.skill is not None:
            only = None if part.operation is None else self._facts.only(work.operations[part.operation])
            return Whom.PERSON, work.skills[part.skill] if only is None else work.people[only].name
        if part.kind is PartKind.EQUIPMENT and part.equipment is not None:
            return Whom.EQUIPMENT, work.equipment[part.equipment].name
        if part.kind is PartKind.VAN and part.operation is not None:
            return Whom.VAN, self._firm(work.operations[part.operation])
        if part.kind is PartKind.RELEASE:
            return Whom.MATERIAL, ""
        return (Whom.DECISION, "") if part.kind is PartKind.DECISION else None

    def _behind(self, parts: list[Part]) -> str:
        """What most of the time is in the way."""
        some = [p for p in parts if p.behind is not None]
        if not some:
            return ""
        part = max(some, key=lambda p: (p.minutes, -p.start))
        name = step_name(self._work, self._work.operations[part.behind or 0])
        return name if part.person is None else f"{self._work.people[part.person].name} at {name}"

    def _firm(self, op: Operation) -> str:
        return "the outside firm" if op.service is None else self._work.services[op.service].supplier

    def _approval(self, step: Step, op: Operation) -> Iterator[_Found]:
        """The machine waits, first piece finished, for whoever approves it."""
        assert step.first_off is not None
        since, until = step.first_off.cycle_end, step.first_off.start
        if since < until:
            skill = self._work.skills[op.first_off_skill or 0]
            waited = list(approver(self._facts, step, since, until))
            yield _Found(Whom.APPROVAL, skill, op, since, until, op.index, self._behind(waited))

    def _coming(self, step: Step, op: Operation, before: Operation | None, until: int) -> Iterator[_Found]:
        """Components and bought parts that come after the step before is done."""
        here = max(0, self._work.batches[op.batch].release_min)
        if before is not None:
            here = max(here, self._facts.openings.moved(before, step.machine, self._facts.steps[before.index].end))
        for _, need in self._facts.needs.get(op.index, ()):
            there = self._facts.there(need)
            if not here < there or here >= until:
                continue
            ends = None if need.batch is None else self._facts.last_of(need.batch)
            if need.batch is None:
                yield _Found(Whom.BOUGHT, need.part, op, here, there, op.index, need.receipt)
            elif ends is not None:
                name = self._work.batches[need.batch].name
                yield _Found(Whom.COMPONENT, need.part, op, here, there, ends.operation, name)

    # --- what it holds up ----------------------------------------------------------------------

    def _told(self, wait: _Found) -> Wait:
        order, binds = self._holds_up(wait)
        late = None if order is None else self._late.get(order.number)
        batch = self._work.batches[wait.op.batch]
        return Wait(
            batch.name, wait.op.number, wait.op.description, batch.part, self._moment(wait.since), self._moment(wait.until),
            wait.since, wait.until, wait.behind, "" if order is None else order.number, late,
            "" if order is None else "not planned" if late is None else late_text(late), binds,
        )  # fmt: skip

    def _moment(self, minute: int) -> str:
        return PLAN_START if minute <= 0 else short_moment_text(self._work, minute)

    def _holds_up(self, wait: _Found) -> tuple[Order | None, bool]:
        """The order that it holds up most, and whether it binds that."""
        orders = self._feeds.orders(wait.op.batch)
        rated = [(wait.on in self._binding.get(o.index, ()), self._late.get(o.number), o) for o in orders]
        found = max(rated, key=lambda r: (r[0], r[1] is not None, r[1] or 0), default=None)
        return (None, False) if found is None else (found[2], found[0])


def _urgency(wait: Wait) -> tuple[object, ...]:
    late = wait.late_min if wait.late_min is not None else -1
    return not wait.binds, wait.until_min, -late, wait.batch, wait.operation
