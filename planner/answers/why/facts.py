"""What the makers of chains look up in one plan: who had what when, and what came from where."""

from __future__ import annotations

from bisect import bisect_left, insort
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import pairwise

from planner.answers.feeds import batch_end
from planner.answers.spent import RUN, Minutes, Spent, cut
from planner.capacity.openings import Openings
from planner.chain import Part, PartKind
from planner.plan import Plan, Step
from planner.search.bound import earliest_end
from planner.timetable import Timetable
from planner.work import Begun, Kept, Kind, Need, Operation, Span, Work
from planner.worktime import OpenTime


@dataclass(frozen=True, order=True)
class Held:
    """A machine, a person or a piece of equipment is taken up by a step in ``[start, end)``."""

    start: int
    end: int
    operation: int
    units: int = 1


class Facts:
    """Looks up one plan; everything is laid out once."""

    def __init__(self, work: Work, plan: Plan) -> None:
        self.work, self.steps = work, plan.step_of()
        self._minutes = Minutes(work)
        self.spent = lru_cache(maxsize=None)(self._spent)
        self.openings = Openings(work)
        self.before = {
            op: self.work.operations[b.operations[i - 1]]
            for b in work.batches for i, op in enumerate(b.operations) if i and b.operations[i - 1] in self.steps
        }  # fmt: skip

    def _spent(self, operation: int) -> tuple[Spent, ...]:
        return tuple(self._minutes.of(self.steps[operation]))

    # --- who has what -------------------------------------------------------------------------

    @cached_property
    def on_machine(self) -> dict[int, list[Held]]:
        """Steps on each machine in running order."""
        found: dict[int, list[Held]] = defaultdict(list)
        for step in self.steps.values():
            if step.machine is not None:
                insort(found[step.machine], Held(step.start, step.run_end, step.operation))
        return found

    def kept_behind(self, step: Step) -> set[int]:
        """Operations before a step on its machine behind which its place is kept, as something is frozen or was decided."""
        found: set[int] = set()
        at = step.operation
        while (
            at in self._kept
            and self._kept[at].weight > 1
            and (before := self.kept_right_behind(self.steps[at])) is not None
        ):
            found.add(before)
            at = before
        return found

    def kept_right_behind(self, step: Step) -> int | None:
        """The operation that the plan has right before a step as it is kept, at whatever price; not one that runs already."""
        kept = self._kept.get(step.operation)
        if kept is None or kept.after is None or kept.machine != step.machine:
            return None
        here = self._before_on_machine.get(step.operation) == kept.after
        return kept.after if here and self.work.operations[kept.after].begun is not Begun.RUNNING else None

    @cached_property
    def _kept(self) -> dict[int, Kept]:
        return {k.operation: k for k in self.work.kept if k.operation in self.steps}

    @cached_property
    def _before_on_machine(self) -> dict[int, int]:
        lines = self.on_machine.values()
        return {after.operation: before.operation for line in lines for before, after in pairwise(line)}

    @cached_property
    def of_person(self) -> dict[int, list[Held]]:
        """What each person is at: setting, work by hand, first pieces."""
        found: dict[int, list[Held]] = defaultdict(list)
        for step in self.steps.values():
            for stint in (*step.setup, *step.stints):
                insort(found[stint.person], Held(stint.start, stint.end, step.operation))
            if step.first_off is not None:
                check = step.first_off
                insort(found[check.approver], Held(check.start, check.end, step.operation))
        return found

    @cached_property
    def of_equipment(self) -> dict[int, list[Held]]:
        """Who holds each piece of equipment."""
        found: dict[int, list[Held]] = defaultdict(list)
        for step in self.steps.values():
            for what, units in self.work.operations[step.operation].equipment:
                insort(found[what], Held(step.equipment_from, step.run_end, step.operation, units))
        return found

    @cached_property
    def on_run(self) -> Counter[int]:
        """Pieces on each van of each day."""
        found: Counter[int] = Counter()
        for step in self.steps.values():
            op = self.work.operations[step.operation]
            if op.service is not None and step.trip is not None:
                found[self.work.services[op.service].trips[step.trip].run] += op.pieces
        return found

    def interruptible(self, held: Held) -> bool:
        """Work by hand that first pieces may interrupt (rule 3)."""
        op = self.work.operations[held.operation]
        return op.kind is Kind.MANUAL and op.skill in self._checking

    @cached_property
    def _checking(self) -> set[int | None]:
        return {o.first_off_skill for o in self.work.operations} - {None}

    # --- what comes from where ----------------------------------------------------------------

    @cached_property
    def needs(self) -> dict[int, list[tuple[int, Need]]]:
        """Needs of each operation, with their places in ``Work.needs``."""
        found: dict[int, list[tuple[int, Need]]] = defaultdict(list)
        for i, need in enumerate(self.work.needs):
            found[need.operation].append((i, need))
        return found

    def there(self, need: Need) -> int:
        """When what is needed is there."""
        if need.batch is None:
            return need.at_min
        return batch_end(self.work, self.steps, need.batch) or 0

    def last_of(self, batch: int) -> Step | None:
        """The last step of a batch that is still to be done."""
        left = [i for i in self.work.batches[batch].operations if i in self.steps]
        return self.steps[left[-1]] if left else None

    def is_done(self, batch: int) -> bool:
        """Was all of it done before the plan start?"""
        return all(self.work.operations[i].begun is Begun.DONE for i in self.work.batches[batch].operations)

    def under_way(self, op: Operation) -> bool:
        """Has it begun and waits for nothing in front of it?"""
        return op.begun in (Begun.RUNNING, Begun.OUT)

    def alone_end(self, operation: int) -> int:
        """When it would be through with nothing else to be done in the shop, at the soonest: no plan has it sooner."""
        return earliest_end(self._table, operation)

    @cached_property
    def _table(self) -> Timetable:
        return Timetable(self.work)

    # --- hours --------------------------------------------------------------------------------

    def moving(self, hours: OpenTime | None, start: int, end: int, operation: int) -> Iterator[Part]:
        """Parts that cover a move: in its hours, and closed."""
        at = start
        for a, b in [(start, end)] if hours is None else cut(hours.windows, start, end):
            if at < a:
                yield Part(PartKind.CLOSED, at, a, operation)
            yield Part(PartKind.MOVE, a, b, operation)
            at = b
        if at < end:
            yield Part(PartKind.CLOSED, at, end, operation)

    def only(self, op: Operation) -> int | None:
        """The one who is to set or do it: by a pin, or because the plan names them."""
        return self.steps[op.index].named if op.pin_person is None and op.index in self.steps else op.pin_person

    def able(self, op: Operation) -> list[int]:
        """Who is to set or do it: the only one, or all with the skill."""
        only = self.only(op)
        if only is not None:
            return [only]
        return [] if op.skill is None else self._skilled[op.skill]

    def approvers(self, step: Step) -> list[int]:
        """Who may approve its first piece."""
        op = self.work.operations[step.operation]
        barred = set() if self.work.setter_may_approve else {s.person for s in step.setup}
        return [p for p in self._skilled[op.first_off_skill or 0] if p not in barred]

    @cached_property
    def _skilled(self) -> dict[int, list[int]]:
        found: dict[int, list[int]] = defaultdict(list)
        for i, person in enumerate(self.work.people):
            for skill in person.skills:
                found[skill].append(i)
        return found

    # --- runs ---------------------------------------------------------------------------------

    def run_done(self, step: Step, minutes: int) -> int:
        """When that many run minutes of a step are worked off; its run start for none."""
        moment = step.run_start
        for spent in self.spent(step.operation):
            if spent.what == RUN and minutes > 0:
                moment = min(spent.end, spent.start + minutes)
                minutes -= spent.minutes
        return moment

    def cycle_sec(self, step: Step) -> int:
        """Seconds of one cycle on the step's machine."""
        choices = self.work.operations[step.operation].alternatives
        return next(a.cycle_sec for a in choices if a.machine == step.machine)

    def is_machined(self, step: Step) -> bool:
        return step.machine is not None and self.work.operations[step.operation].kind is Kind.MACHINE


def within(held: Sequence[Held], start: int, end: int) -> Iterator[Held]:
    """Those that overlap ``[start, end)``, of a sorted sequence."""
    last = bisect_left(held, Held(end, end, -1))
    return (h for h in held[:last] if h.end > start)


def is_open(windows: Sequence[Span], minute: int) -> bool:
    """Is the minute in one of the sorted windows?"""
    at = bisect_left(windows, (minute + 1, minute + 1)) - 1
    return at >= 0 and minute < windows[at][1]
