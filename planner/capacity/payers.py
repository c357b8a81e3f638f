"""The orders that pay for a limit: those late, by what the way that binds them waits for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from planner.answers.feeds import order_finish
from planner.answers.load import EQUIPMENT, GROUP, SKILL
from planner.answers.way import Wait, Ways
from planner.capacity.more import OUTSIDE
from planner.capacity.ready import ready_moments
from planner.plan import Plan
from planner.work import Kind, Work


@dataclass(frozen=True)
class Payer:
    """A late order, and the minutes, as time goes by, that its binding way waits for one resource."""

    order: str
    late_min: int
    weight: int
    waited_min: int


def payers(work: Work, plan: Plan) -> dict[tuple[str, str], tuple[Payer, ...]]:
    """By resource (kind, name), the late orders that wait for it on their way, the longest waits first.

    An outside firm is waited for only where an earlier collection had no room: the days between collections are no limit that more
    room would ease.
    """
    ways, found = Ways(work, plan), dict[tuple[str, str], list[Payer]]()
    ready = ready_moments(work, plan)
    for order in work.orders:
        finish, batch = order_finish(work, ways.steps, order), ways.last_batch(order)
        if finish is None or batch is None or finish <= order.due_min:
            continue
        waited: dict[tuple[str, str], int] = {}
        for wait in ways.back(batch):
            for key, minutes in _waited_for(work, wait, ready):
                waited[key] = waited.get(key, 0) + minutes
        for key, minutes in waited.items():
            if minutes:
                late = Payer(order.number, finish - order.due_min, order.weight, minutes)
                found.setdefault(key, []).append(late)
    return {key: tuple(sorted(rows, key=lambda p: (-p.waited_min * p.weight, p.order))) for key, rows in found.items()}


def _waited_for(work: Work, wait: Wait, ready: dict[int, int]) -> Iterator[tuple[tuple[str, str], int]]:
    step, op = wait.step, work.operations[wait.step.operation]
    if not wait.minutes:
        return
    if step.waited_for == "machine" and step.machine is not None:
        yield (GROUP, work.groups[work.machines[step.machine].group].name), wait.minutes
    elif step.waited_for == "person" and op.skill is not None:
        yield (SKILL, work.skills[op.skill]), wait.minutes
    elif step.waited_for == "equipment":
        yield from (((EQUIPMENT, work.equipment[e].name), wait.minutes) for e, _ in op.equipment)
    elif op.kind is Kind.OUTSIDE and op.service is not None and step.trip is not None:
        trips = work.services[op.service].trips
        first = next(t for t in trips if t.cutoff_min >= ready[op.index])
        yield (OUTSIDE, work.services[op.service].supplier), trips[step.trip].collect_min - first.collect_min
