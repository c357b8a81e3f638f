"""How long a resource is busy without a break, and how much work waits for it meanwhile.

A group is busy while all its attended machines are held, a skill while everybody there who has it is at work, equipment
while all of it is held. Only open time counts: closed time neither ends a stretch nor lengthens it. What is waiting for a group is
the setting and running of every step that could begin there, for whatever reason it does not; for a skill or equipment, of the steps that
wait for that and nothing else.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from planner.answers.minding import together
from planner.answers.spent import cut
from planner.capacity.adding import EQUIPMENT, GROUP, SKILL, Resource, equipment_hours
from planner.capacity.demand import Demand, skill_of
from planner.capacity.figures import Figures
from planner.plan import Plan
from planner.work import Span, Work
from planner.worktime import united

Queue = list[tuple[int, int, int]]  # from, to, minutes of work


@dataclass(frozen=True)
class Busy:
    """A stretch without a break: from ``start`` to ``end``, ``minutes`` of them open time."""

    start: int
    end: int
    minutes: int


class Occupied:
    """Busy stretches and waiting work of each group, skill and piece of equipment of one plan."""

    def __init__(self, work: Work, plan: Plan, figures: Figures | None = None) -> None:
        figures = figures or Figures(work, plan)
        self._work = work
        self._there: dict[Resource, list[Span]] = {}
        self._used: dict[Resource, list[Span]] = {}
        self._queues: dict[Resource, Queue] = {}
        self._hours()
        self._uses(figures.demands)
        self._waits(plan, figures)
        self.stretches = {key: list(_stretches(there, self._used[key])) for key, there in self._there.items()}

    @property
    def resources(self) -> list[Resource]:
        return list(self._there)

    def longest(self, key: Resource, start: int, end: int) -> Busy | None:
        """The longest stretch that touches ``[start, end)``, with its whole length; the first where equal."""
        touching = [b for b in self.stretches[key] if b.start < end and b.end > start]
        return max(touching, key=lambda b: (b.minutes, -b.start), default=None)

    def waiting(self, key: Resource, start: int, end: int) -> int:
        """The most minutes of work that wait at one moment of ``[start, end)``."""
        changes: list[tuple[int, int]] = []
        for a, b, minutes in self._queues[key]:
            a, b = max(a, start), min(b, end)
            if a < b:
                changes += [(a, minutes), (b, -minutes)]
        most = now = 0
        for _, change in sorted(changes):
            now += change
            most = max(most, now)
        return most

    # --- what is there, and what is used --------------------------------------------------------------

    def _hours(self) -> None:
        work = self._work
        for group in work.groups:
            self._open((GROUP, group.name), (w for m in group.machines for w in work.machines[m].hours.attended))
        for s, name in enumerate(work.skills):
            self._open((SKILL, name), (w for p in work.people if s in p.skills for w in p.hours))
        used = equipment_hours(work)
        for e, equipment in enumerate(work.equipment):
            self._open((EQUIPMENT, equipment.name), [w for w in used.get(e, ()) for _ in range(equipment.count)])

    def _open(self, key: Resource, spans: Iterable[Span]) -> None:
        self._there[key] = [(max(a, 0), b) for a, b in spans if b > 0]
        self._used[key], self._queues[key] = [], []

    def _uses(self, demands: Iterable[Demand]) -> None:
        work = self._work
        at_work: list[list[Span]] = [[] for _ in work.people]  # a first-off may interrupt a person's own work
        for demand in demands:
            if demand.machine is None:
                continue
            machine, op = work.machines[demand.machine], work.operations[demand.operation]
            held = cut(machine.hours.attended, demand.start, demand.run_end)
            self._used[GROUP, work.groups[machine.group].name] += held
            for span in demand.spent:
                if span.person is not None:
                    at_work[span.person].append((span.start, span.end))
            for e, units in op.equipment:
                self._used[EQUIPMENT, work.equipment[e].name] += [(demand.equipment_from, demand.run_end)] * units
        for person, spans in zip(work.people, at_work, strict=True):
            for skill in person.skills:
                self._used[SKILL, work.skills[skill]] += united(spans)

    def _waits(self, plan: Plan, figures: Figures) -> None:
        work, ready = self._work, figures.ready
        for demand, step in zip(figures.demands, plan.steps, strict=True):
            if demand.machine is None or ready[demand.operation] >= demand.start:
                continue
            op = work.operations[demand.operation]
            from_to = ready[demand.operation], demand.start
            minutes = sum(s.minutes for s in demand.spent if s.machine is not None)
            self._queues[GROUP, work.groups[work.machines[demand.machine].group].name].append((*from_to, minutes))
            if step.waited_for == "person" and op.skill is not None:
                asked = sum(s.minutes for s in demand.spent if skill_of(op, s) == op.skill)
                self._queues[SKILL, work.skills[op.skill]].append((*from_to, asked))
            if step.waited_for == "equipment":
                for e, _ in op.equipment:
                    self._queues[EQUIPMENT, work.equipment[e].name].append((*from_to, minutes))


def _stretches(there: list[Span], used: list[Span]) -> Iterator[Busy]:
    """Stretches in which as many are used as are there."""
    start = end = minutes = 0
    for a, b, of, busy in together(there, used):
        if busy >= of:
            start = start if minutes else a
            end, minutes = b, minutes + b - a
        elif minutes:
            yield Busy(start, end, minutes)
            minutes = 0
    if minutes:
        yield Busy(start, end, minutes)
