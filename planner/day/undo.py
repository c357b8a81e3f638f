"""An entry taken back: its rows as they were, as an entry of its own."""

from __future__ import annotations

from datetime import datetime

from planner.day.board import BOOKING, Board
from planner.day.refusal import Refused
from planner.store import Change, Entry, Note, Store, StoredRow, Writing
from planner.store.records import MINUTE
from planner.store.sheets import Cells

UNDO = "undo"
UNDOABLE = (BOOKING, "event", "decision", "edit", UNDO)


def undo(store: Store, who: str, at: datetime, number: int | None = None) -> Entry:
    """Take an entry back.

    Parameters
    ----------
    who, at
        Who takes it back, and when (local).
    number
        Which entry; without, the last one of this person that has not been taken back.

    Raises
    ------
    Refused
        When there is none, it is of another day (bookings), or what it changed was changed again since.
    """

    def change(writing: Writing) -> Note:
        entry = _entry(writing, number, who)
        if entry.kind == BOOKING and entry.at.date() != at.date():
            raise Refused(
                f"Entry {entry.id} is of {entry.at:%Y-%m-%d}: a booking is undone on its own day, later by a booking "
                "that puts it right."
            )
        board = Board(writing, at)
        for row_change in reversed(writing.changes(entry.id)):
            if not row_change.lasting:
                _take_back(writing, entry, row_change)
        board.check()
        return Note(f"Undone: {entry.words}", {"entry": entry.id}, undoes=entry.id)

    return store.write(who, at, UNDO, UNDO, change)


def _entry(writing: Writing, number: int | None, who: str) -> Entry:
    if number is None:
        own = [e for e in writing.entries() if e.who == who and e.kind in UNDOABLE and e.kind != UNDO]
        left = [e for e in own if e.undone_by is None]
        if not left:
            raise Refused(f"There is nothing of {who} to undo.")
        return left[-1]
    entry = writing.entry(number)
    if entry is None or entry.kind not in UNDOABLE:
        raise Refused(f"There is no entry {number} that can be undone here; see 'batchwright history'.")
    if entry.undone_by is not None:
        raise Refused(f"Entry {number} is undone already, by entry {entry.undone_by}.")
    return entry


def _take_back(writing: Writing, entry: Entry, change: Change) -> None:
    draft = writing.draft
    now = draft.by_id(change.row)
    if now is not None and change.before and change.after and _is_count(change.sheet, change.before, change.after):
        _recount(writing, entry, now, change.before, change.after)
    elif _content(change.sheet, None if now is None else now.cells) != _content(change.sheet, change.after):
        raise Refused(
            f"Entry {entry.id} cannot be undone: what it changed was changed again by {_later(writing, change)}. "
            "Undo that first."
        )
    elif now is None:
        assert change.before is not None
        draft.put_back(StoredRow(change.row, change.sheet, change.place, change.before, change.version))
    elif change.before is None:
        draft.drop(now)
    else:
        passing = _passing(change.sheet)
        stays = passing if change.before.get(passing, "") == (change.after or {}).get(passing, "") else ""
        emptied = {column: "" for column in now.cells if column not in change.before and column != stays}
        draft.put(now, {**emptied, **{column: cell for column, cell in change.before.items() if column != stays}})


def _is_count(sheet: str, before: Cells, after: Cells) -> bool:
    """Did nothing but the pieces in stock change?"""
    columns = {*before, *after} - {"quantity"}
    return sheet == "stock" and all(before.get(column, "") == after.get(column, "") for column in columns)


def _recount(writing: Writing, entry: Entry, now: StoredRow, before: Cells, after: Cells) -> None:
    """Pieces go back into stock, or out of it, whatever was taken since."""
    quantity = int(now["quantity"]) + int(before["quantity"]) - int(after["quantity"])
    if quantity < 0:
        raise Refused(
            f"Entry {entry.id} cannot be undone: what it put into stock of {now['part']} has been used since."
        )
    writing.draft.put(now, {"quantity": quantity})


def _content(sheet: str, cells: Cells | None) -> Cells | None:
    """What somebody has entered in a row: without what time alone changes."""
    passing = _passing(sheet)
    return None if cells is None else {column: cell for column, cell in cells.items() if cell and column != passing}


def _passing(sheet: str) -> str:
    """The column of a table that time alone changes."""
    return "setup_left_min" if sheet == "progress" else ""


def _later(writing: Writing, change: Change) -> str:
    """The last entry that changed the row since and still stands, in words."""
    later = [e for e in writing.changed_since(change) if e.undone_by is None and e.kind != UNDO]
    if not later:
        return "a later entry"
    return f"entry {later[-1].id} by {later[-1].who} at {later[-1].at:{MINUTE}} ({later[-1].words})"
