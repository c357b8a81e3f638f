"""An enquiry behind everything: in the gaps of the plan as it stands, and nothing in the plan moves."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from planner import gaps
from planner.answers.feeds import order_finish
from planner.dates.enquiry import Asked
from planner.faults import QuestionFault
from planner.gaps import lists_with, of_enquiries, put, put_with_rest
from planner.main_job import Job
from planner.plan import Listed, Plan, State, Step
from planner.proposals.carry import carried
from planner.search.engine import NO_BOUND
from planner.timetable import Timetable
from planner.work import Work

HALVINGS = 8  # of the time by which an enquiry is let in later or sooner


def behind(job: Job, asked: Asked) -> Plan | None:
    """The plan with the enquiry in its gaps: every step of the plan stays to the minute.

    Each step of the enquiry goes on the machine on which it ends soonest, into the first gap that leaves what follows
    there its start and its changeover; people, equipment and room on the van are those that the plan leaves over.

    Returns
    -------
    Plan
        None where it finds no time within the known calendars.

    Raises
    ------
    QuestionFault
        When the plan's own list does not give its times (it was changed by hand): make the plan again.
    """
    listed = carried(job.work, job.plan, asked.work)
    known = [row for row in listed if asked.work.operations[row.operation].batch not in asked.batches]
    kept = of_enquiries(asked.shop, asked.work)  # it may be in gaps, which its place in the list does not give
    there = {asked.work.places[name]: step.start for name, step in named_steps(job.work, job.plan)}
    moved: list[tuple[str, int]] = []
    for in_gaps in ({}, {row.operation: there[row.operation] for row in known if row.operation in kept}):
        table = Timetable(asked.work)
        put_with_rest(table, known, in_gaps)
        moved = moved_steps(job.work, job.plan, asked.work, table.steps())
        if not moved:
            return None if table.unplaced() else _in_gaps(asked, table, job.plan, known)
    raise QuestionFault(
        [
            f"The plan's list does not give its own times ({len(moved)} steps are otherwise). Make the plan again, with --keep."
        ]
    )


def _in_gaps(asked: Asked, table: Timetable, like: Plan, known: list[Listed]) -> Plan:
    """What was placed, with a list that comes near to it: each step in front of what follows it on its machine."""
    found = _plan(table, like, ())
    own = {i for batch in asked.batches for i in asked.work.batches[batch].operations}
    near = lists_with(known, found.steps, own)[0]
    return replace(found, sequence=tuple(table.repaired(row.operation for row in near).tolist()))


def with_enquiry(job: Job, asked: Asked) -> Job | None:
    """The shop with the enquiry as an order that is planned behind everything; None where it finds no time."""
    plan = behind(job, asked)
    return None if plan is None else Job(asked.shop, asked.work, plan, job.accepted)


def let_in(job: Job, asked: Asked, plan: Plan, later_min: int = 0) -> list[Listed]:
    """The job's running order with the enquiry's steps let in where ``plan`` has them, or so many minutes later.

    Each goes before the first step on its machine that the job's plan starts later than that.
    """
    listed = carried(job.work, job.plan, asked.work)
    places = asked.work.places
    there = {places[name]: step.start for name, step in named_steps(job.work, job.plan) if name in places}
    return gaps.let_in(listed, _own_steps(asked, plan), there, later_min)


def first_of_all(job: Job, asked: Asked, plan: Plan) -> list[Listed]:
    """The job's running order behind the enquiry's steps, on the machines that ``plan`` has them on."""
    own = [Listed(step.operation, step.machine, named=step.named) for step in _own_steps(asked, plan)]
    return [*own, *carried(job.work, job.plan, asked.work)]


def ways_in(job: Job, asked: Asked, plan: Plan, by_min: int) -> list[list[Listed]]:
    """Lists to begin with that have the enquiry ready from as soon as can be, before all else, to about ``by_min``."""
    first = first_of_all(job, asked, plan)
    table = Timetable(asked.work)
    put(table, first)
    if table.unplaced():
        return [first]
    soonest = _plan(table, plan, tuple(table.list.tolist()))
    room = max(0, by_min - finish_of(asked, soonest))
    shares = dict.fromkeys(round(share * room) for share in (0, 0.1, 0.25, 0.5, 0.75, 1))
    return [first, *(let_in(job, asked, soonest, later) for later in shares)]


def soonest_of(job: Job, asked: Asked, plan: Plan) -> int:
    """When the enquiry is ready if it goes before all else; as in ``plan`` where it finds no time so."""
    table = Timetable(asked.work)
    put(table, first_of_all(job, asked, plan))
    return finish_of(asked, plan) if table.unplaced() else table.order_end(asked.order)


def just_in_time(job: Job, asked: Asked, plan: Plan, by_min: int) -> list[list[Listed]]:
    """The job's running order with the enquiry let in as ``plan`` has it, but later, or sooner, until it is ready just by
    ``by_min``: the lists that halving tries on the way there. Where it is early in ``plan`` others may get time back by it."""
    table, found = Timetable(asked.work), []
    room = by_min - finish_of(asked, plan)
    sooner, later = sorted((0, 2 * room))
    for _ in range(HALVINGS):
        middle = (sooner + later) // 2
        found.append(let_in(job, asked, plan, middle))
        put(table, found[-1])
        in_time = not table.unplaced() and table.order_end(asked.order) <= by_min
        sooner, later = (middle, later) if in_time else (sooner, middle)
    return found


def _own_steps(asked: Asked, plan: Plan) -> list[Step]:
    """The enquiry's steps in order of their starts."""
    steps = plan.step_of()
    own = (steps[i] for b in asked.batches for i in asked.work.batches[b].operations if i in steps)
    return sorted(own, key=lambda s: (s.start, s.operation))


def named_steps(work: Work, plan: Plan) -> Iterator[tuple[tuple[str, int], Step]]:
    """Steps of a plan with their batch name and step number."""
    for step in plan.steps:
        op = work.operations[step.operation]
        yield (work.batches[op.batch].name, op.number), step


def as_listed(asked: Asked, plan: Plan) -> Plan | None:
    """The plan that a plan's own list comes to: the same, but for one with the enquiry in its gaps."""
    return retimed(asked.work, plan, asked.work)


def retimed(work: Work, plan: Plan, of: Work) -> Plan | None:
    """A plan for work that differs in dues and weights only, with the cost it has in ``work``."""
    table = Timetable(work)
    put(table, carried(of, plan, work))
    return None if table.unplaced() else _plan(table, plan, tuple(table.list.tolist()))


def _plan(table: Timetable, like: Plan, sequence: tuple[int, ...]) -> Plan:
    cost, steps = table.cost(), table.steps()
    return replace(
        like, fingerprint=table.work.fingerprint, steps=steps, sequence=sequence, cost=cost,
        bound=NO_BOUND, state=State.BEST if cost.first == 0 else State.GOOD, no_time=(),
    )  # fmt: skip


def moved_steps(work: Work, plan: Plan, other: Work, steps: Iterable[Step]) -> list[tuple[str, int]]:
    """Steps of a plan that are elsewhere, or at other times, among ``steps``; by batch name and step number."""
    now, places = {s.operation: s for s in steps}, other.places
    found = []
    for name, step in named_steps(work, plan):
        there = now.get(places.get(name, -1))
        if there is None or (there.machine, there.start, there.end) != (step.machine, step.start, step.end):
            found.append(name)
    return found


def finish_of(asked: Asked, plan: Plan) -> int:
    """When the enquiry is ready in a complete plan."""
    finish = order_finish(asked.work, plan.step_of(), asked.work.orders[asked.order])
    assert finish is not None
    return finish
