"""Events of drawings and batches. Each changes a few rows and says what it did."""

from __future__ import annotations

from datetime import datetime

from planner.counted import counted
from planner.day.board import Board, typed
from planner.day.happening import Event
from planner.day.holding import hold_step
from planner.day.refusal import Refused
from planner.work import Begun


def drawing(board: Board, event: Event) -> str:
    """A part has a new revision: nothing that is set counts for it, and begun batches are for somebody to decide about."""
    part = board.known("parts", event.subject)
    if not event.revision or event.revision == part["revision"]:
        raise Refused(f"Say which revision of {event.subject} is valid now; it has been '{part['revision']}'.")
    board.draft.put(part, {"revision": event.revision})
    for row in board.draft.rows("machines"):
        if row["on_part"] == event.subject:
            board.draft.put(row, {"on_part": "", "on_operation": ""})
    begun = [r["batch"] for r in board.draft.rows("batches") if r["part"] == event.subject]
    held = [name for name in begun if event.until and _hold_next(board, name, event.until, f"drawing {event.revision}")]
    told = f" Released under the old drawing, to finish, rework or scrap: {', '.join(begun)}." if begun else ""
    told += f" Held until {event.until:%Y-%m-%d %H:%M}: {', '.join(held)}." if held and event.until else ""
    return f"{event.subject} is at revision {event.revision} now, not {part['revision'] or 'none'}.{told}"


def _hold_next(board: Board, name: str, until: datetime, reason: str) -> bool:
    batch = board.batch(name)
    free = [s.number for s, state in zip(board.steps(batch.part), board.states(batch), strict=True)
            if state.begun in (Begun.NO, Begun.PART)]  # fmt: skip
    return bool(free) and hold_step(board, name, free[0], until, reason)


def top_up(board: Board, event: Event) -> str:
    """A small batch for what another one lost, on its machine right after it, so that nothing is set twice."""
    batch = board.batch(event.subject)
    if not event.quantity:
        raise Refused("Say how many pieces to start.")
    number = 1
    while board.draft.find("batches", batch=f"{batch.number}/T{number}") is not None:
        number += 1
    name = f"{batch.number}/T{number}"
    board.draft.add(
        "batches", {"batch": name, "part": batch.part, "quantity": event.quantity, "order": batch.order or ""}
    )
    first = board.steps(batch.part)[0]
    row = board.row(batch.number, first.number)
    state = typed(row)["state"] if row else ""
    if row is None or state not in ("running", "done") or not row["machine"]:
        return f"Batch {name} with {counted(event.quantity, 'piece')} is released."
    still_set = state == "running" or _still_set(board, row["machine"], batch.part, first.number)
    if not still_set:
        return f"Batch {name} with {counted(event.quantity, 'piece')} is released; {row['machine']} is set for something else."
    cells = {"machine": row["machine"], "reason": "while it is still set"}
    if state == "running":
        cells |= {"after_batch": batch.number, "after_operation": str(first.number)}
    board.draft.add("pins", {"batch": name, "operation": first.number, **cells})
    return (
        f"Batch {name} with {counted(event.quantity, 'piece')} is released, on {row['machine']} while it is still set."
    )


def _still_set(board: Board, machine: str, part: str, operation: int) -> bool:
    on = board.known("machines", machine)
    return (on["on_part"], on["on_operation"]) == (part, str(operation))
