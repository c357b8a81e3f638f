"""Events of machines, people, vans and methods. Each changes a few rows and says what it did."""

from __future__ import annotations

from datetime import datetime, timedelta

from planner.counted import counted
from planner.day.board import Board, typed
from planner.day.happening import Event
from planner.day.holding import hold_step
from planner.day.refusal import Refused
from planner.day.release import planned_work
from planner.intake import shop_of
from planner.main_job import job_of, plan_source
from planner.store.records import MINUTE
from planner.store.sheets import StoredRow
from planner.work import Begun, Kind

NEW_METHOD = (
    "Another machine or method may need a new first-off or the customer's consent: the people responsible decide."
)


def machine_down(board: Board, event: Event) -> str:
    """A machine cannot be used for a time; what runs on it goes on afterwards."""
    board.known("machines", event.subject)
    begin, end = _absent(board, "downtime", "machine", event)
    busy = [r for r in board.running() if r["machine"] == event.subject]
    more = (
        f" Batch {busy[0]['batch']} operation {busy[0]['operation']} stays on it; book it torn down to move it."
        if busy
        else ""
    )
    return f"{event.subject} is down from {begin:{MINUTE}} to {end:{MINUTE}}.{more}"


def machine_up(board: Board, event: Event) -> str:
    return _here_again(board, "downtime", "machine", event, "is not down", "runs again")


def person_away(board: Board, event: Event) -> str:
    board.known("people", event.subject)
    begin, end = _absent(board, "leave", "person", event)
    return f"{event.subject} is away from {begin:{MINUTE}} to {end:{MINUTE}}."


def person_back(board: Board, event: Event) -> str:
    return _here_again(board, "leave", "person", event, "is not away", "is back")


def _absent(board: Board, table: str, column: str, event: Event) -> tuple[datetime, datetime]:
    begin, end = event.since or event.at, event.until
    if end is None:
        is_what = "down" if table == "downtime" else "away"
        raise Refused(f"Say until when {event.subject} is {is_what}; as well as you know, it can be changed later.")
    if end <= begin:
        raise Refused(f"{end:{MINUTE}} is not after {begin:{MINUTE}}.")
    cells = {column: event.subject, "from": f"{begin:{MINUTE}}", "to": f"{end:{MINUTE}}", "reason": event.reason}
    for row in board.draft.rows(table):  # one that begins just then is put right
        if row[column] == event.subject and typed(row)["from"] == begin:
            board.draft.put(row, cells)
            return begin, end
    board.draft.add(table, cells)
    return begin, end


def _here_again(board: Board, table: str, column: str, event: Event, not_words: str, words: str) -> str:
    """What is away now ends now."""
    key = {"machine": "machines", "person": "people"}[column]
    board.known(key, event.subject)
    now = [r for r in board.draft.rows(table) if r[column] == event.subject and _covers(r, event.at)]
    if not now:
        raise Refused(f"{event.subject} {not_words} at {event.at:{MINUTE}}.")
    for row in now:
        if typed(row)["from"] == event.at:
            board.draft.drop(row)
        else:
            board.draft.put(row, {"to": f"{event.at:{MINUTE}}"})
    return f"{event.subject} {words} from {event.at:{MINUTE}}."


def _covers(row: StoredRow, moment: datetime) -> bool:
    values = typed(row)
    return values["from"] <= moment < values["to"]


# --- vans ---------------------------------------------------------------------------------------------


def van_missed(board: Board, event: Event) -> str:
    """What was to go with a van waits for the next one: held until after its cut-off."""
    board.known("suppliers", event.subject)
    day = event.day or event.at.date()
    vans = [typed(r) for r in board.draft.rows("collections") if r["supplier"] == event.subject]
    cutoffs = [datetime.combine(day, v["cutoff"]) for v in vans if v["weekday"] == day.weekday()]
    if not cutoffs:
        raise Refused(f"{event.subject} does not collect on {day}.")
    until = max(cutoffs) + timedelta(minutes=1)
    held = [name for name in _for_the_van(board, event.subject, day) if hold_step(board, *name, until, "van missed")]
    names = ", ".join(f"{batch} op {number}" for batch, number in held)
    told = (
        f"{counted(len(held), 'batch waits', 'batches wait')} for the next: {names}."
        if held
        else "Nothing was to go with it."
    )
    return f"The van of {event.subject} on {day} is missed. {told}"


def _for_the_van(board: Board, supplier: str, day: object) -> list[tuple[str, int]]:
    """Steps that the accepted plan puts on a supplier's vans of a day and that are not out; without a plan, those that are ready."""
    plan = board.writing.accepted()
    if plan is None:
        return _ready_for(board, supplier)
    job = job_of(shop_of(board.writing.sheets(plan.entry).reading()), plan_source(plan))
    found = []
    for step in job.plan.steps:
        op = job.work.operations[step.operation]
        if op.kind is Kind.OUTSIDE and op.service is not None and op.begun is not Begun.OUT:
            same = job.work.services[op.service].supplier == supplier and job.work.local(step.run_start).date() == day
            name = (job.work.batches[op.batch].name, op.number)
            row = board.row(*name)
            if same and (row is None or typed(row)["state"] not in ("out", "done")):
                found.append(name)
    return found


def _ready_for(board: Board, supplier: str) -> list[tuple[str, int]]:
    work = planned_work(board, board.draft.shop())
    found = []
    for batch in work.batches:
        left = [work.operations[i] for i in batch.operations if work.operations[i].begun is not Begun.DONE]
        ready = left and left[0].kind is Kind.OUTSIDE and left[0].begun is Begun.NO
        if ready and left[0].service is not None and work.services[left[0].service].supplier == supplier:
            found.append((batch.name, left[0].number))
    return found


# --- methods --------------------------------------------------------------------------------------------


def other_routing(board: Board, event: Event) -> str:
    """A step can be done on another machine as well; or, of another group, on that machine in its place."""
    board.known("parts", event.subject)
    board.known("machines", event.machine)
    step = board.draft.find("routings", part=event.subject, operation=event.operation or 0)
    if step is None:
        raise Refused(f"{event.subject} has no operation {event.operation}.")
    if typed(step)["kind"] not in ("machine", "manual"):
        raise Refused(f"{event.subject} operation {event.operation} is not done on a machine.")
    group = board.known("machines", event.machine)["group"]
    listed = [r for r in board.draft.rows("routing_machines") if _same_step(r, event)]
    if any(r["machine"] == event.machine for r in listed):
        raise Refused(f"{event.machine} does {event.subject} operation {event.operation} already.")
    if group != step["group"]:
        for row in listed:
            board.draft.drop(row)
        board.draft.put(step, {"group": group})
        _list(board, event, event.machine, event.setup_min, event.cycle_sec)
        return f"{event.subject} operation {event.operation} is done on {event.machine} from now on. {NEW_METHOD}"
    if not listed:
        for machine in [r["machine"] for r in board.draft.rows("machines") if r["group"] == group]:
            times = (event.setup_min, event.cycle_sec) if machine == event.machine else (None, None)
            _list(board, event, machine, *times)
    else:
        _list(board, event, event.machine, event.setup_min, event.cycle_sec)
    return f"{event.subject} operation {event.operation} can be done on {event.machine} too. {NEW_METHOD}"


def _same_step(row: StoredRow, event: Event) -> bool:
    return (row["part"], row["operation"]) == (event.subject, str(event.operation))


def _list(board: Board, event: Event, machine: str, setup_min: int | None, cycle_sec: int | None) -> None:
    board.draft.add(
        "routing_machines",
        {
            "part": event.subject,
            "operation": event.operation,
            "machine": machine,
            "setup_min": setup_min,
            "cycle_sec": cycle_sec,
        },
    )
