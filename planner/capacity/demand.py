"""What each operation asks of machines, people, equipment and vans, and when: as the plan has it.

``planner/capacity/latest.py`` says the same with every operation at its latest dates.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from planner.answers.spent import CHECK, RUN, Minutes, Spent
from planner.plan import Plan
from planner.work import Begun, Kind, Operation, Work


@dataclass(frozen=True)
class Demand:
    """Minutes from the plan start; they may lie before it where the dates are the latest.

    ``start`` .. ``run_end`` holds the machine, ``equipment_from`` .. ``run_end`` the equipment, closed time included;
    ``spent`` are the minutes in which somebody or the machine really works. ``run`` is a collection (index into
    ``Work.runs``).
    """

    operation: int
    machine: int | None
    start: int
    run_end: int
    equipment_from: int
    spent: tuple[Spent, ...] = ()
    run: int | None = None


def as_planned(work: Work, plan: Plan) -> Iterator[Demand]:
    """Demands of all steps of a plan, in order of operation."""
    minutes = Minutes(work)
    for step in plan.steps:
        op = work.operations[step.operation]
        run = None if step.trip is None or op.service is None else work.services[op.service].trips[step.trip].run
        yield Demand(
            op.index, step.machine, step.start, step.run_end, step.equipment_from, tuple(minutes.of(step)),
            None if op.begun is Begun.OUT else run,
        )  # fmt: skip


def skill_of(op: Operation, span: Spent) -> int | None:
    """The skill that these minutes of an operation ask for; None where they need nobody in particular."""
    if span.what == CHECK:
        return op.first_off_skill
    return None if span.what == RUN and op.kind is Kind.MACHINE else op.skill
