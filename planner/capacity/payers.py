"""The orders that pay for a limit: those late, by what the chain that binds them waits for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from planner.answers.why import late_chains
from planner.capacity.adding import EQUIPMENT, GROUP, SKILL, Resource
from planner.capacity.figures import Figures
from planner.capacity.more import OUTSIDE
from planner.chain import FOR_MACHINE, Part, PartKind
from planner.plan import Plan, Step
from planner.work import Work


@dataclass(frozen=True)
class Payer:
    """A late order, and the minutes, as time goes by, that its binding chain waits for one resource."""

    order: str
    late_min: int
    weight: int
    waited_min: int


def payers(work: Work, plan: Plan, figures: Figures | None = None) -> dict[Resource, tuple[Payer, ...]]:
    """By resource (kind, name), the late orders whose chain waits there, the longest waits first.

    An outside firm is waited for only where an earlier collection had no room: the days between collections are no limit that more
    room would ease.
    """
    found: dict[Resource, list[Payer]] = {}
    ready, steps = (figures or Figures(work, plan)).ready, plan.step_of()
    for order, chain in late_chains(work, plan):
        waited: Counter[Resource] = Counter()
        for part in chain.parts:
            for key, minutes in _waited_for(work, part, steps, ready):
                waited[key] += minutes
        for key, minutes in waited.items():
            if minutes:
                late = Payer(order.number, chain.finish - order.due_min, order.weight, minutes)
                found.setdefault(key, []).append(late)
    return {key: tuple(sorted(rows, key=lambda p: (-p.waited_min * p.weight, p.order))) for key, rows in found.items()}


def _waited_for(
    work: Work, part: Part, steps: dict[int, Step], ready: dict[int, int]
) -> Iterator[tuple[Resource, int]]:
    """What a part of a chain waits for, and how long; for a van what was lost for want of room, at its first part."""
    if part.kind in FOR_MACHINE and part.machine is not None:
        yield (GROUP, work.groups[work.machines[part.machine].group].name), part.minutes
    elif part.kind in (PartKind.PERSON, PartKind.APPROVER) and part.skill is not None:
        yield (SKILL, work.skills[part.skill]), part.minutes
    elif part.kind is PartKind.EQUIPMENT and part.equipment is not None:
        yield (EQUIPMENT, work.equipment[part.equipment].name), part.minutes
    elif part.kind is PartKind.OUTSIDE and part.operation is not None:
        op, step = work.operations[part.operation], steps[part.operation]
        if op.service is not None and step.trip is not None and part.start <= step.run_start:
            trips = work.services[op.service].trips
            first = next(t for t in trips if t.cutoff_min >= ready[op.index])
            yield (OUTSIDE, work.services[op.service].supplier), trips[step.trip].collect_min - first.collect_min
