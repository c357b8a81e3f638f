"""Ways to spoil a plan, each harmful by an argument that needs no verifier.

The plan to be spoilt comes from the timetable, appended in list order, so every step is as early as its machine's last step,
its people and its pieces allow: a minute earlier must break something. All other changes make stated times disagree with
the work's own minutes, hours, skills, room or dates.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import pairwise

from planner.plan import Burst, Plan, State, Step, Stint
from planner.work import Begun, Kind, Work

Mutants = Iterator[Plan]


def _with(plan: Plan, old: Step, *new: Step) -> Plan:
    return replace(plan, steps=tuple(s for step in plan.steps for s in (new if step is old else (step,))))


def _moved(step: Step, by: int) -> Step:
    """All moments of a step, ``by`` minutes later."""
    first = step.first_off
    return replace(
        step, start=step.start + by, run_start=step.run_start + by, run_end=step.run_end + by, end=step.end + by,
        equipment_from=step.equipment_from + by,
        setup=tuple(Stint(s.person, s.start + by, s.end + by) for s in step.setup),
        stints=tuple(Stint(s.person, s.start + by, s.end + by) for s in step.stints),
        bursts=tuple(Burst(b.start + by, b.run_min_before) for b in step.bursts),
        first_off=None if first is None else replace(
            first, cycle_end=first.cycle_end + by, start=first.start + by, end=first.end + by
        ),
    )  # fmt: skip


def a_minute_earlier(work: Work, plan: Plan) -> Mutants:
    for step in plan.steps:
        yield _with(plan, step, _moved(step, -1))


def one_moment_off(work: Work, plan: Plan) -> Mutants:
    """Each stated moment follows from the others and the work's minutes."""
    for step in plan.steps:
        for field in ("start", "run_start", "run_end", "end", "equipment_from"):
            for by in (-1, 1):
                yield _with(plan, step, replace(step, **{field: getattr(step, field) + by}))


def minutes_off(work: Work, plan: Plan) -> Mutants:
    """Setting takes its minutes; stints, bursts and approvals last as long as their work."""
    for step in plan.steps:
        for by in (-1, 1):
            yield _with(plan, step, replace(step, setup_min=step.setup_min + by))
            if step.setup:
                last = replace(step.setup[-1], end=step.setup[-1].end + by)
                yield _with(plan, step, replace(step, setup=(*step.setup[:-1], last)))
            if step.stints:
                last = replace(step.stints[-1], end=step.stints[-1].end + by)
                yield _with(plan, step, replace(step, stints=(*step.stints[:-1], last)))
            if step.bursts:
                last_burst = replace(step.bursts[-1], run_min_before=step.bursts[-1].run_min_before + by)
                yield _with(plan, step, replace(step, bursts=(*step.bursts[:-1], last_burst)))
            if step.first_off is not None:
                for field in ("cycle_end", "end"):
                    check = replace(step.first_off, **{field: getattr(step.first_off, field) + by})
                    yield _with(plan, step, replace(step, first_off=check))


def a_part_missing(work: Work, plan: Plan) -> Mutants:
    for step in plan.steps:
        yield _with(plan, step)
        for field in ("setup", "stints", "bursts"):
            if getattr(step, field):
                yield _with(plan, step, replace(step, **{field: getattr(step, field)[:-1]}))
        if step.first_off is not None:
            yield _with(plan, step, replace(step, first_off=None))


def twice(work: Work, plan: Plan) -> Mutants:
    for step in plan.steps:
        yield _with(plan, step, step, step)


def wrong_machine(work: Work, plan: Plan) -> Mutants:
    """A machine that cannot do the operation, or none for one that takes time."""
    for step in plan.steps:
        can = {a.machine for a in work.operations[step.operation].alternatives}
        if step.machine is not None:
            wrong = [m for m in range(len(work.machines)) if m not in can]
            yield from (_with(plan, step, replace(step, machine=m)) for m in wrong)
            yield _with(plan, step, replace(step, machine=None))


def wrong_person(work: Work, plan: Plan) -> Mutants:
    """Somebody without the skill, and the setter as the approver where that is not allowed."""
    for step in plan.steps:
        op = work.operations[step.operation]
        without = [i for i, p in enumerate(work.people) if op.skill is not None and op.skill not in p.skills]
        for who in without:
            for field in ("setup", "stints"):
                if getattr(step, field):
                    first = replace(getattr(step, field)[0], person=who)
                    yield _with(plan, step, replace(step, **{field: (first, *getattr(step, field)[1:])}))
        if step.first_off is not None:
            wrong = [i for i, p in enumerate(work.people) if op.first_off_skill not in p.skills]
            if step.setup and not work.setter_may_approve and step.setup[0].person >= 0:
                wrong.append(step.setup[0].person)
            for who in wrong:
                yield _with(plan, step, replace(step, first_off=replace(step.first_off, approver=who)))


def two_places_at_once(work: Work, plan: Plan) -> Mutants:
    """A setter is given the setting of another machine at the same time."""
    held = [s for s in plan.steps if s.setup and s.setup[0].person >= 0 and s.setup[0].end > s.setup[0].start]
    for a in held:
        for b in held:
            if a is not b and a.setup[0].person != b.setup[0].person and _overlap(a.setup[0], b.setup[0]):
                both = replace(b.setup[0], person=a.setup[0].person)
                yield _with(plan, b, replace(b, setup=(both, *b.setup[1:])))


def _overlap(a: Stint, b: Stint) -> bool:
    return a.start < b.end and b.start < a.end


def neighbours_swapped(work: Work, plan: Plan) -> Mutants:
    """The second of two on a machine begins where the first began, and the first when the second is through: they are of
    different lengths of time, so one of them stands on the other or on closed time, or leaves its minutes undone."""
    for machine in range(len(work.machines)):
        line = sorted((s for s in plan.steps if s.machine == machine), key=lambda s: (s.start, s.run_end))
        for a, b in pairwise(line):
            if b.run_end > b.start and a.run_end > a.start:
                earlier = _moved(b, a.start - b.start)
                yield _with(_with(plan, b, earlier), a, a)


def another_collection(work: Work, plan: Plan) -> Mutants:
    """The dates stay, the collection is another; or the collection stays and its dates move."""
    for step in plan.steps:
        if step.trip is not None:
            for by in (-1, 1):
                yield _with(plan, step, replace(step, trip=step.trip + by))
                yield _with(plan, step, replace(step, run_start=step.run_start + by))
                yield _with(plan, step, replace(step, run_end=step.run_end + by, end=step.end + by))


def missed_collection(work: Work, plan: Plan) -> Mutants:
    """On the collection before the first whose cut-off it makes, with all that collection's dates."""
    for step in plan.steps:
        op = work.operations[step.operation]
        if step.trip and op.service is not None and _first_it_makes(work, plan, step) == step.trip:
            trip = work.services[op.service].trips[step.trip - 1]
            yield _with(plan, step, replace(
                step, trip=step.trip - 1, start=trip.collect_min, equipment_from=trip.collect_min,
                run_start=trip.collect_min, run_end=trip.back_min, end=trip.back_min + op.wait_min,
            ))  # fmt: skip


def _first_it_makes(work: Work, plan: Plan, step: Step) -> int:
    op = work.operations[step.operation]
    own = work.batches[op.batch].operations
    place = own.index(op.index)
    ends = [s.end for s in plan.steps if place and s.operation == own[place - 1]]
    assert op.service is not None
    ready = max([0, op.not_before_min, work.batches[op.batch].release_min, *ends])
    return next(i for i, t in enumerate(work.services[op.service].trips) if t.cutoff_min >= ready)


def overloaded_van(work: Work, plan: Plan) -> Mutants:
    """Everything of one supplier on the last of its vans, where that is more than fits."""
    out = [s for s in plan.steps if s.trip is not None]
    by_run: dict[int, int] = {}
    for step in out:
        service = work.operations[step.operation].service
        assert service is not None
        latest = max(s.trip or 0 for s in out)
        run = work.services[service].trips[latest].run
        by_run[run] = by_run.get(run, 0) + work.operations[step.operation].pieces
    if not any(n > (work.runs[r].room_pieces or 1 << 60) for r, n in by_run.items()):
        return
    spoilt = plan
    for step in out:
        op = work.operations[step.operation]
        assert op.service is not None
        trip = work.services[op.service].trips[latest]
        spoilt = _with(spoilt, step, replace(
            step, trip=latest, start=trip.collect_min, run_start=trip.collect_min, equipment_from=trip.collect_min,
            run_end=trip.back_min, end=trip.back_min + op.wait_min,
        ))  # fmt: skip
    yield spoilt


def begun_work_moved(work: Work, plan: Plan) -> Mutants:
    """What is running at the plan start is first on its machine, from 0."""
    for step in plan.steps:
        if work.operations[step.operation].begun is Begun.RUNNING and step.machine is not None:
            yield _with(plan, step, _moved(step, 1))


def waits_cut_short(work: Work, plan: Plan) -> Mutants:
    for step in plan.steps:
        op = work.operations[step.operation]
        if op.wait_min:
            yield _with(plan, step, replace(step, end=step.end - op.wait_min))
        if op.kind is Kind.WAIT:
            yield _with(plan, step, replace(step, start=step.start + 5))


def waits_for_what_comes_later(work: Work, plan: Plan) -> Mutants:
    """A batch waits for itself; a machine is waited for behind the step itself; the step before is another batch's."""
    for step in plan.steps:
        own = work.operations[step.operation].batch
        yield _with(plan, step, replace(step, waited_for="component", waited_on=own))
        yield _with(plan, step, replace(step, waited_for="machine", waited_on=step.operation))
        others = (o.index for o in work.operations if o.batch != own)
        yield from (_with(plan, step, replace(step, waited_for="step before", waited_on=o)) for o in others)
        yield _with(plan, step, replace(step, waited_for="van", waited_on=step.operation))


def held_wrongly(work: Work, plan: Plan) -> Mutants:
    """Held to after its start; begun work held; held back, it says, where nothing holds it or its turn was before."""
    for step in plan.steps:
        if step.machine is not None or work.operations[step.operation].kind is Kind.WAIT:
            yield _with(plan, step, replace(step, held_until=step.start + 1))
        if work.operations[step.operation].begun is not Begun.NO:
            yield _with(plan, step, replace(step, held_until=0))
        if step.held_until is None:
            yield _with(plan, step, replace(step, waited_for="held back", waited_on=None))
        elif step.waited_for == "held back":
            yield _with(plan, step, replace(step, held_until=None))
            if step.start == step.held_until and step.machine is not None and _open(work, step, step.start - 1):
                yield _with(plan, step, replace(step, held_until=step.start - 1))


def _open(work: Work, step: Step, minute: int) -> bool:
    """Is the machine there at that minute, for work that would begin then?"""
    assert step.machine is not None
    op = work.operations[step.operation]
    return (
        op.may_pause
        and not op.setup_ahead
        and any(a <= minute < b for a, b in work.machines[step.machine].hours.attended)
    )


def wrong_cost(work: Work, plan: Plan) -> Mutants:
    for term in ("late", "change", "wip", "setup", "charges"):
        for by in (-1, 1):
            yield replace(plan, cost=replace(plan.cost, **{term: getattr(plan.cost, term) + by}))


def claimed_best(work: Work, plan: Plan) -> Mutants:
    if plan.cost.first > 0:
        bound = replace(plan.bound, value=plan.cost.first - 1)
        yield replace(plan, state=State.BEST, bound=bound)
    yield replace(plan, bound=replace(plan.bound, value=plan.cost.first + 1))


def other_data(work: Work, plan: Plan) -> Mutants:
    yield replace(plan, fingerprint="0" * 64)


RULE_KINDS: tuple[Callable[[Work, Plan], Mutants], ...] = (
    a_minute_earlier, one_moment_off, minutes_off, a_part_missing, twice, wrong_machine, wrong_person, two_places_at_once,
    neighbours_swapped, another_collection, missed_collection, overloaded_van, begun_work_moved, waits_cut_short,
    waits_for_what_comes_later, held_wrongly,
)  # fmt: skip
CLAIM_KINDS: tuple[Callable[[Work, Plan], Mutants], ...] = (wrong_cost, claimed_best, other_data)
