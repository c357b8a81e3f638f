"""What each machine and each person does next, in running order, to print or to open as CSV."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

from planner.answers.feeds import Feeds
from planner.answers.leeway import Room, Rooms
from planner.answers.rows import csv_text
from planner.answers.wording import moment_iso, moment_text, short_moment_text, step_name
from planner.plan import Plan, Step, Stint
from planner.work import Begun, Kind, Operation, Span, Work
from planner.worktime import midnight

MACHINE_COLUMNS = (
    "machine", "place", "no_need_before", "start", "at_the_latest", "batch", "operation", "part", "description", "pieces", "setup_min", "setup_by",
    "family", "changeover_min", "first_off", "equipment", "people", "run_start", "run_end", "next_step", "orders", "due",
)  # fmt: skip
PERSON_COLUMNS = ("person", "start", "end", "task", "machine", "batch", "operation", "part", "description", "pieces")


@dataclass(frozen=True)
class MachineTask:
    """One line of a machine's list. ``place`` counts over the whole plan, also when only a day is shown."""

    machine: str
    place: int
    batch: str
    operation: int
    description: str
    part: str
    pieces: int  # still to run
    start: str
    start_at: str | None
    setup_min: int
    setup_by: tuple[str, ...]
    family: str
    changeover_min: int
    first_off: str
    equipment: tuple[str, ...]
    people: tuple[str, ...]  # who does it, for work by hand
    run_start: str
    run_end: str
    run_end_at: str | None
    next_step: str
    orders: tuple[str, ...]
    due: str  # of the earliest order it feeds
    no_need_before: str  # this and the next are empty for what is under way
    at_the_latest: str
    start_min: int
    run_start_min: int
    run_end_min: int
    no_need_before_min: int | None
    at_the_latest_min: int | None


@dataclass(frozen=True)
class PersonTask:
    """One task of one person without a break for other work."""

    person: str
    task: str  # 'set', 'set (takes over)', 'first-off' or 'work'
    machine: str
    batch: str
    operation: int
    description: str
    part: str
    pieces: int
    start: str
    start_at: str | None
    end: str
    end_at: str | None
    start_min: int
    end_min: int


def machine_lists(
    work: Work, plan: Plan, machine: str | None = None, day: date | None = None, rooms: Rooms | None = None
) -> list[MachineTask]:
    """Every machine's operations in running order.

    Parameters
    ----------
    work, plan
        What was planned, and the plan.
    machine
        Only this machine.
    day
        Only operations that hold the machine at some time of this local day.
    rooms
        How long operations can wait, where that has been looked up before.

    Raises
    ------
    KeyError
        When there is no machine of that name.
    """
    if machine is not None and all(m.name != machine for m in work.machines):
        raise KeyError(machine)
    span = None if day is None else day_span(work, day)
    follows = _follows(work, plan)
    feeds = Feeds(work)
    found: list[tuple[int, Step]] = []
    for index, record in enumerate(work.machines):
        if machine not in (None, record.name):
            continue
        held = sorted((s for s in plan.steps if s.machine == index), key=lambda s: (s.start, s.run_end, s.operation))
        for place, step in enumerate(held, 1):
            if span is None or (step.start < span[1] and max(step.run_end, step.start + 1) > span[0]):
                found.append((place, step))
    room = (rooms or Rooms(work, plan)).of([step.operation for _, step in found])
    return [_task(work, step, place, follows, feeds, room.get(step.operation)) for place, step in found]


def person_lists(work: Work, plan: Plan, person: str | None = None, day: date | None = None) -> list[PersonTask]:
    """Every person's tasks in order of time; ``person`` and ``day`` as in :func:`machine_lists`.

    Raises
    ------
    KeyError
        When there is nobody of that name.
    """
    if person is not None and all(p.name != person for p in work.people):
        raise KeyError(person)
    span = None if day is None else day_span(work, day)
    tasks = [
        _person_task(work, step, what, stint)
        for step in plan.steps
        for what, stint in _stints(step)
        if stint.person >= 0
    ]
    wanted = [
        t for t in tasks
        if person in (None, t.person) and (span is None or (t.start_min < span[1] and t.end_min > span[0]))
    ]  # fmt: skip
    order = {p.name: i for i, p in enumerate(work.people)}
    return sorted(wanted, key=lambda t: (order[t.person], t.start_min, t.end_min, t.batch, t.operation))


def machine_csv(tasks: Sequence[MachineTask]) -> str:
    """Machine lists as CSV; see :func:`planner.answers.rows.csv_text` for what is escaped."""
    return csv_text(tasks, MACHINE_COLUMNS)


def person_csv(tasks: Sequence[PersonTask]) -> str:
    """People's lists as CSV."""
    return csv_text(tasks, PERSON_COLUMNS)


def day_span(work: Work, day: date) -> Span:
    """Minutes of a local day; 23 or 25 hours when the clocks change."""
    first = midnight(day, work.zone, work.plan_start)
    return first, midnight(day + timedelta(days=1), work.zone, work.plan_start)


# --- one line --------------------------------------------------------------------------------


def _task(
    work: Work, step: Step, place: int, follows: Callable[[Step], str], feeds: Feeds, room: Room | None
) -> MachineTask:
    op = work.operations[step.operation]
    batch = work.batches[op.batch]
    orders = feeds.orders(op.batch)
    assert step.machine is not None
    return MachineTask(
        machine=work.machines[step.machine].name, place=place, batch=batch.name, operation=op.number,
        description=op.description, part=batch.part, pieces=op.pieces_left,
        start=moment_text(work, step.start), start_at=moment_iso(work, step.start),
        setup_min=step.setup_min, setup_by=_names(work, step.setup), family=op.family,
        changeover_min=step.changeover_min, first_off=_first_off(work, step),
        equipment=tuple(f"{work.equipment[e].name} x {n}" if n > 1 else work.equipment[e].name for e, n in op.equipment),
        people=_names(work, step.stints), run_start=moment_text(work, step.run_start),
        run_end=moment_text(work, step.run_end), run_end_at=moment_iso(work, step.run_end),
        next_step=follows(step), orders=tuple(o.number for o in orders),
        due=moment_text(work, orders[0].due_min) if orders else "",
        no_need_before="" if room is None else moment_text(work, room.no_need_before),
        at_the_latest="" if room is None else moment_text(work, room.latest),
        start_min=step.start, run_start_min=step.run_start, run_end_min=step.run_end,
        no_need_before_min=None if room is None else room.no_need_before,
        at_the_latest_min=None if room is None else room.latest,
    )  # fmt: skip


def _names(work: Work, stints: Sequence[Stint]) -> tuple[str, ...]:
    """Each person once, in order of first turn."""
    return tuple(dict.fromkeys(work.people[s.person].name for s in stints if s.person >= 0))


def _first_off(work: Work, step: Step) -> str:
    if step.first_off is None:
        return ""
    check = step.first_off
    return f"{work.people[check.approver].name}, {short_moment_text(work, check.start)}"


def _follows(work: Work, plan: Plan) -> Callable[[Step], str]:
    """Words for where a batch goes after a step."""
    steps = plan.step_of()
    after = {a: b for batch in work.batches for a, b in pairwise(batch.operations)}
    parents: dict[int, list[Operation]] = {}
    for need in work.needs:
        if need.batch is not None:
            parents.setdefault(need.batch, []).append(work.operations[need.operation])

    def words(step: Step) -> str:
        op = work.operations[step.operation]
        if op.index in after:
            return _next_words(work, work.operations[after[op.index]], steps.get(after[op.index]))
        into = dict.fromkeys(step_name(work, p) for p in parents.get(op.batch, ()))
        sold = [o.number for o in work.orders if any(s.batch == op.batch for s in o.sources)]
        goals = [*(f"order {number}" for number in sold), *into]
        return f"for {', '.join(goals)}" if goals else "to stock"

    return words


def _next_words(work: Work, op: Operation, step: Step | None) -> str:
    name = f"op {op.number} {op.description}".strip()
    if step is None:
        return name
    if op.kind is Kind.OUTSIDE and op.service is not None and op.begun is not Begun.OUT:
        return f"{name}: {work.services[op.service].supplier}, collected {short_moment_text(work, step.run_start)}"
    if step.machine is None:
        return f"{name}, {short_moment_text(work, step.start)}"
    return f"{name}: {work.machines[step.machine].name}, {short_moment_text(work, step.start)}"


def _stints(step: Step) -> Iterator[tuple[str, Stint]]:
    for n, stint in enumerate(step.setup):
        yield "set" if n == 0 else "set (takes over)", stint
    if step.first_off is not None:
        yield "first-off", Stint(step.first_off.approver, step.first_off.start, step.first_off.end)
    for stint in step.stints:
        yield "work", stint


def _person_task(work: Work, step: Step, what: str, stint: Stint) -> PersonTask:
    op = work.operations[step.operation]
    batch = work.batches[op.batch]
    return PersonTask(
        person=work.people[stint.person].name, task=what,
        machine="" if step.machine is None else work.machines[step.machine].name,
        batch=batch.name, operation=op.number, description=op.description, part=batch.part, pieces=op.pieces_left,
        start=moment_text(work, stint.start), start_at=moment_iso(work, stint.start),
        end=moment_text(work, stint.end), end_at=moment_iso(work, stint.end),
        start_min=stint.start, end_min=stint.end,
    )  # fmt: skip
