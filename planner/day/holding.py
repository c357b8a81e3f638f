"""Decisions about one step: its row in the pins table."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from planner.day.board import Board, typed
from planner.store import Change
from planner.store.records import MINUTE

Name = tuple[str, int]  # of a step: batch and operation number
DECIDED = ("machine", "person", "not_before", "not_machines", "after_batch")  # columns that decide something


def pin(board: Board, name: Name, cells: Mapping[str, object]) -> None:
    """Decide something about a step besides what is decided already."""
    row = board.draft.find("pins", batch=name[0], operation=name[1])
    if row is None:
        board.draft.add("pins", {"batch": name[0], "operation": name[1], **cells})
    else:
        board.draft.put(row, cells)


def hold_step(board: Board, batch: str, operation: int, until: datetime, reason: str) -> bool:
    """Hold a step back until a moment, unless it is held longer already."""
    row = board.draft.find("pins", batch=batch, operation=operation)
    held = typed(row)["not_before"] if row is not None else None
    if held is not None and held >= until:
        return False
    cells: dict[str, object] = {"not_before": f"{until:{MINUTE}}"}
    if row is None or not row["reason"]:
        cells["reason"] = reason
    pin(board, (batch, operation), cells)
    return True


def let_go(board: Board, batch: str, operation: int) -> bool:
    """Take back all that is decided about a step."""
    row = board.draft.find("pins", batch=batch, operation=operation)
    if row is not None:
        board.draft.drop(row)
    return row is not None


def go_back(board: Board, hold: Change) -> bool:
    """Take back what an entry did to a step that it held, unless that is held otherwise by now; says whether it was.

    What was decided about the step besides, before or since, stays.
    """
    row = board.draft.by_id(hold.row)
    before, after = hold.before or {}, hold.after or {}
    if row is None or not after.get("not_before") or row["not_before"] != after["not_before"]:
        return False
    still = {column: cell for column, cell in after.items() if row[column] == cell != before.get(column, "")}
    changed = board.draft.put(row, {c: before.get(c, "") for c in still if c in (*DECIDED, "reason")})
    if not any(changed[column] for column in DECIDED):
        board.draft.drop(changed)
    return True
