"""Decisions about single steps: on that machine, by that person, not before, not there, right after another, exchanged.

They stand in the pins table, so planning keeps them and says which it cannot. A machine, a person and a time are kept whatever
they cost. "Right after another step" has a price a hundred times that of other changes (``planner/explode/decisions.py``).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from planner.day.board import Board
from planner.day.clock import move_on
from planner.day.holding import Name, hold_step, let_go, pin
from planner.day.refusal import Refused
from planner.explode import explode
from planner.intake import shop_of
from planner.main_job import Job, job_of, plan_source
from planner.plan import Step
from planner.planfile import proposals_again
from planner.store import Entry, Note, Store, Writing
from planner.store.records import MINUTE
from planner.work import Begun, Operation, Work

DECISION = "decision"


@dataclass(frozen=True)
class Decision:
    """Something decided about the step ``name``. Which of the fields count depends on ``what``."""

    what: str
    name: Name
    at: datetime
    machine: str = ""
    person: str = ""
    until: datetime | None = None
    other: Name | None = None
    reason: str = ""


def pinned(board: Board, work: Work, decision: Decision) -> str:
    """On that machine, by that person."""
    if not (decision.machine or decision.person):
        raise Refused("Say which machine or person.")
    cells = {"machine": decision.machine, "person": decision.person, "reason": decision.reason}
    said = {column: cell for column, cell in cells.items() if cell}
    if decision.machine:
        said |= {"after_batch": "", "after_operation": ""}
    pin(board, decision.name, said)
    return f"on {decision.machine}" if decision.machine else f"by {decision.person}"


def held(board: Board, work: Work, decision: Decision) -> str:
    """Not before a moment."""
    if decision.until is None:
        raise Refused("Say until when.")
    if not hold_step(board, *decision.name, decision.until, decision.reason):
        raise Refused(f"{_shown(decision.name)} is held that long already.")
    return f"not before {decision.until:{MINUTE}}"


def not_there(board: Board, work: Work, decision: Decision) -> str:
    """On any machine but that one."""
    if not decision.machine:
        raise Refused("Say which machine.")
    row = board.draft.find("pins", batch=decision.name[0], operation=decision.name[1])
    barred = [m for m in (row["not_machines"] if row else "").split(";") if m]
    if decision.machine in barred:
        raise Refused(f"{_shown(decision.name)} is barred from {decision.machine} already.")
    pin(board, decision.name, {"not_machines": ";".join([*barred, decision.machine])})
    return f"not on {decision.machine}"


def after(board: Board, work: Work, decision: Decision) -> str:
    """Right after another step on the same machine; keeps two together."""
    if decision.other is None:
        raise Refused("Say after which batch and operation.")
    machine = decision.machine or _machine_of(board, decision.other)
    _follow(board, decision.name, decision.other, machine, decision.reason)
    _stay(board, work, decision.other, machine)
    return f"on {machine} right after {_shown(decision.other)}"


def swapped(board: Board, work: Work, decision: Decision) -> str:
    """Two steps change places: each goes right after what the other one is after in the accepted plan."""
    if decision.other is None:
        raise Refused("Say with which batch and operation.")
    places = _places(board)
    for name in (decision.name, decision.other):
        if name not in places:
            raise Refused(f"{_shown(name)} has no place on a machine in the accepted plan.")
    (machine, before), (machine_2, before_2) = places[decision.name], places[decision.other]
    if before_2 is not None and before_2[0] == decision.name[0]:  # itself, or a step that has to come after it
        before_2 = decision.other
    if before is not None and before[0] == decision.other[0]:
        before = decision.name
    for name, place, on in ((decision.name, before_2, machine_2), (decision.other, before, machine)):
        if place is None:
            pin(board, name, {"machine": on})
        else:
            _follow(board, name, place, on, decision.reason)
    return f"changes places with {_shown(decision.other)}"


def moved(board: Board, work: Work, decision: Decision) -> str:
    """To a machine and a time: right after what is planned there before that time, and not sooner than it."""
    if decision.until is None:
        raise Refused("Say to which moment.")
    machine = decision.machine or _machine_of(board, decision.name)
    cells = {
        "machine": machine, "not_before": f"{decision.until:{MINUTE}}", "reason": decision.reason,
        "after_batch": "", "after_operation": "",
    }  # fmt: skip
    pin(board, decision.name, cells)
    ahead = _planned_before(board, machine, decision.until, decision.name)
    if ahead is not None:
        _follow(board, decision.name, ahead, machine, decision.reason)
    return f"to {machine} at {decision.until:{MINUTE}}" + (f", right after {_shown(ahead)}" if ahead else "")


def lifted(board: Board, work: Work, decision: Decision) -> str:
    """Nothing is decided any more."""
    if not let_go(board, *decision.name):
        raise Refused(f"Nothing is decided about {_shown(decision.name)}.")
    return "is free to be planned again"


HANDLERS: dict[str, Callable[[Board, Work, Decision], str]] = {
    "pin": pinned, "hold": held, "not on": not_there, "after": after, "swap": swapped, "move": moved, "lift": lifted,
}  # fmt: skip


def decide(store: Store, who: str, decision: Decision) -> Entry:
    """Enter a decision.

    Raises
    ------
    Refused
        When it does not fit the step or could not be kept, with the reason; nothing is written.
    """
    handler = HANDLERS[decision.what]

    def change(writing: Writing) -> Note:
        board = Board(writing, decision.at)
        work = _work(board)
        _free(work, decision.name)
        _known(board, decision)
        words = handler(board, work, decision)
        move_on(board.draft, decision.at)
        board.check()
        not_kept = [
            line for line in _work(board).left_out if _is_about(line, decision.name) and decision.what != "lift"
        ]
        if not_kept:
            raise Refused(" ".join(not_kept))
        why = f" ({decision.reason})" if decision.reason else ""
        data = {"batch": decision.name[0], "operation": decision.name[1], "other": decision.other}
        return Note(f"B{_shown(decision.name)[1:]}: {words}{why}.", data)

    return store.write(who, decision.at, DECISION, decision.what, change)


def _shown(name: Name) -> str:
    return f"batch {name[0]} operation {name[1]}"


def _is_about(line: str, name: Name) -> bool:
    """Does a line of what is left out speak of the pin of just this step?"""
    pin = f"Pin of batch {name[0]} operation {name[1]}"
    return line.startswith(pin) and not line[len(pin) :][:1].isdigit()


def _work(board: Board) -> Work:
    plan = board.writing.accepted()
    return explode(board.draft.shop(), (), proposals_again(plan_source(plan)) if plan else ())


def _free(work: Work, name: Name) -> Operation:
    """The step, which must be planned and not begun."""
    if name not in work.places:
        raise Refused(f"There is no {_shown(name)} among what is planned.")
    op = work.operations[work.places[name]]
    if op.begun not in (Begun.NO, Begun.PART):
        raise Refused(f"{_shown(name)} has begun: nothing can be decided about it but by booking.")
    return op


def _known(board: Board, decision: Decision) -> None:
    """Refuses names of machines and people that the shop does not have."""
    for table, name in (("machines", decision.machine), ("people", decision.person)):
        if name:
            board.known(table, name)


def _follow(board: Board, name: Name, other: Name, machine: str, reason: str) -> None:
    if name == other:
        raise Refused(f"{_shown(name)} cannot be right after itself.")
    cells = {"machine": machine, "after_batch": other[0], "after_operation": other[1]}
    pin(board, name, {**cells, **({"reason": reason} if reason else {})})


def _stay(board: Board, work: Work, name: Name, machine: str) -> None:
    """What something else is right after is pinned to the machine too, unless it is begun."""
    at = work.places.get(name)
    if at is not None and work.operations[at].begun is Begun.NO:
        pin(board, name, {"machine": machine})


# --- the accepted plan --------------------------------------------------------------------------------


def _accepted(board: Board) -> Job:
    plan = board.writing.accepted()
    if plan is None:
        raise Refused("No plan is accepted now: say on which machine, or plan and accept first.")
    return job_of(shop_of(board.writing.sheets(plan.entry).reading()), plan_source(plan))


def _name(work: Work, operation: int) -> Name:
    op = work.operations[operation]
    return work.batches[op.batch].name, op.number


def _machine_of(board: Board, name: Name) -> str:
    row = board.row(*name)
    if row is not None and row["machine"]:
        return row["machine"]
    place = _places(board).get(name)
    if place is None:
        raise Refused(f"{_shown(name)} has no machine in the accepted plan: say which.")
    return place[0]


def _places(board: Board) -> dict[Name, tuple[str, Name | None]]:
    """By step of the accepted plan: its machine and what is before it there."""
    job = _accepted(board)
    queues: dict[int, list[Step]] = {}
    for step in job.plan.steps:
        if step.machine is not None:
            queues.setdefault(step.machine, []).append(step)
    found: dict[Name, tuple[str, Name | None]] = {}
    for machine, queue in queues.items():
        before: Name | None = None
        for step in sorted(queue, key=lambda s: (s.start, s.run_end)):
            name = _name(job.work, step.operation)
            found[name] = (job.work.machines[machine].name, before)
            before = name
    return found


def _planned_before(board: Board, machine: str, moment: datetime, name: Name) -> Name | None:
    """What the accepted plan has on a machine just before a moment."""
    plan = board.writing.accepted()
    if plan is None:
        return None
    job = _accepted(board)
    there = [
        s for s in job.plan.steps
        if s.machine is not None and job.work.machines[s.machine].name == machine and _name(job.work, s.operation) != name
        and job.work.local(s.start).replace(tzinfo=None) < moment
    ]  # fmt: skip
    return _name(job.work, max(there, key=lambda s: s.start).operation) if there else None
