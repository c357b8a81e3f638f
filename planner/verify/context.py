"""What all rules look at: the work, the steps that can be read, hours, and names for messages."""

from __future__ import annotations

from collections import defaultdict
from functools import cached_property
from itertools import pairwise

from planner.plan import Plan, Step
from planner.verify import holdings, shape
from planner.verify.hours import OpenTime
from planner.verify.shop_hours import of_shop
from planner.work import Alternative, Begun, Kept, Need, Operation, Work


class Context:
    """One plan against one work. ``steps`` holds the readable steps, the first of each operation."""

    def __init__(self, work: Work, plan: Plan) -> None:
        self.work = work
        self.plan = plan
        self.steps: dict[int, Step] = {}
        for step in plan.steps:
            if not shape.faults(work, step):
                self.steps.setdefault(step.operation, step)
        self._hours = of_shop(tuple(m.hours for m in work.machines), tuple(p.hours for p in work.people))

    # ---- hours -----------------------------------------------------------------

    def attended(self, machine: int) -> OpenTime:
        return self._hours.attended[machine]

    def person_hours(self, person: int) -> OpenTime:
        return self._hours.people[person]

    def run_hours(self, machine: int, unattended_limit_min: int) -> OpenTime:
        return self._hours.run_hours(machine, unattended_limit_min)

    def common(self, machine: int, person: int) -> OpenTime:
        return self._hours.common(machine, person)

    @cached_property
    def move_calendars(self) -> tuple[OpenTime, ...]:
        return tuple(OpenTime(spans) for spans in self.work.move_calendars)

    # ---- what belongs to what ----------------------------------------------------

    def operation(self, step: Step) -> Operation:
        return self.work.operations[step.operation]

    def alternative(self, step: Step) -> Alternative | None:
        """The times of the step's machine; None where it has no machine or not one of its own."""
        choices = self.operation(step).alternatives
        return next((a for a in choices if a.machine == step.machine), None)

    @cached_property
    def lines(self) -> dict[int, list[Step]]:
        """Steps on each machine in running order."""
        lines: dict[int, list[Step]] = defaultdict(list)
        for step in self.steps.values():
            if step.machine is not None:
                lines[step.machine].append(step)
        for line in lines.values():
            line.sort(key=lambda s: (s.start, s.run_end, s.operation))
        return lines

    @cached_property
    def _before_on_machine(self) -> dict[int, Step]:
        pairs = (pair for line in self.lines.values() for pair in pairwise(line))
        return {after.operation: before for before, after in pairs}

    def before_on_machine(self, step: Step) -> Step | None:
        """The step just before on the same machine; None if it is the first there."""
        return self._before_on_machine.get(step.operation)

    @cached_property
    def _place(self) -> dict[int, int]:
        return {o: place for batch in self.work.batches for place, o in enumerate(batch.operations)}

    def before_in_batch(self, operation: Operation) -> Operation | None:
        place = self._place.get(operation.index, 0)
        if place == 0:
            return None
        return self.work.operations[self.work.batches[operation.batch].operations[place - 1]]

    def batch_end(self, batch: int) -> int | None:
        """End of a batch's last operation, at least 0; None where its step is missing."""
        operations = self.work.batches[batch].operations
        if not operations or self.work.operations[operations[-1]].begun == Begun.DONE:
            return 0
        last = self.steps.get(operations[-1])
        return None if last is None else max(0, last.end)

    @cached_property
    def kept(self) -> dict[int, Kept]:
        """The place at which each operation is kept, of those that have one."""
        return {k.operation: k for k in self.work.kept}

    @cached_property
    def needs(self) -> dict[int, list[Need]]:
        """Needs of each consuming operation."""
        needs: dict[int, list[Need]] = defaultdict(list)
        for need in self.work.needs:
            needs[need.operation].append(need)
        return needs

    @cached_property
    def stretched_skills(self) -> frozenset[int]:
        """Skills that approve first pieces: their batch work is lengthened and may be interrupted."""
        return frozenset(o.first_off_skill for o in self.work.operations if o.first_off_skill is not None)

    @cached_property
    def holders(self) -> dict[int, list[tuple[Step, int]]]:
        """For each piece of equipment the steps that hold it, with how many units."""
        holders: dict[int, list[tuple[Step, int]]] = defaultdict(list)
        for step in self.steps.values():
            for equipment, units in self.operation(step).equipment:
                holders[equipment].append((step, units))
        return holders

    @cached_property
    def held(self) -> dict[int, list[holdings.Level]]:
        """For each piece of equipment how many units are held from which minute on."""
        return {
            equipment: holdings.levels((step.equipment_from, step.run_end, units) for step, units in holders)
            for equipment, holders in self.holders.items()
        }

    # ---- words ---------------------------------------------------------------------

    def name(self, item: Step | Operation | int) -> str:
        """'batch B7 operation 20' for a step, an operation or its index."""
        index = item if isinstance(item, int) else item.operation if isinstance(item, Step) else item.index
        operation = self.work.operations[index]
        return f"batch {self.work.batches[operation.batch].name} operation {operation.number}"

    def on(self, step: Step) -> str:
        """'batch B7 operation 20 on L1'."""
        return f"{self.name(step)} on {self.machine(step.machine)}"

    def machine(self, machine: int | None) -> str:
        return "no machine" if machine is None else self.work.machines[machine].name

    def person(self, person: int) -> str:
        return "nobody in particular" if person == -1 else self.work.people[person].name

    def skill(self, skill: int | None) -> str:
        return "no skill" if skill is None else self.work.skills[skill]

    def when(self, minute: int | None) -> str:
        """Local time and minute: 'Mon 23 Mar 2026 08:30 (minute 30)'."""
        if minute is None:
            return "never within the known hours"
        try:
            return f"{self.work.local(minute):%a %d %b %Y %H:%M} (minute {minute})"
        except OverflowError:
            return f"minute {minute}, beyond all calendars"

    def span(self, start: int, end: int) -> str:
        return f"{self.when(start)} to {self.when(end)}"
