"""A folder that was written out of a store and then edited comes back: what was edited is changed, nothing else.

The folder says as of which entry it was written. What differs from the tables as they were then is what somebody
edited; where somebody else has changed the same row in the store since, nothing is taken in.
"""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from planner.counted import counted
from planner.intake import read_shop
from planner.store.draft import Draft, Stale
from planner.store.folder import MARK, sheets_of, write_over
from planner.store.records import Entry, Note
from planner.store.sheets import Cells, Sheets, StoredRow
from planner.store.store import Store, Writing
from planner.store.trouble import StoreFault


@dataclass(frozen=True)
class Edit:
    """A row changed, added (``row`` None) or removed (``cells`` None)."""

    sheet: str
    row: StoredRow | None
    cells: Cells | None


def update(store: Store, folder: Path, who: str, at: datetime) -> Entry:
    """Take what was edited in a folder into the store that wrote it; the folder then has what others have changed too.

    Raises
    ------
    DataFaults
        When the folder has faults, or the store would have some afterwards.
    Stale
        When a row that was edited was changed in the store since.
    StoreFault
        When the folder was not written by this store: nothing is changed, as with every error but one. Where what was edited
        is in the store but the folder cannot be written over, the message says so.
    """
    read_shop(folder)
    base = store.sheets(_entry(store, folder))
    edits = _edits(base, folder)

    def change(writing: Writing) -> Note:
        for edit in _not_there(writing.draft, base, edits):
            _apply(writing.draft, edit)
        writing.draft.shop()
        tables = ", ".join(f"{name} ({n})" for name, n in sorted(Counter(e.sheet for e in edits).items()))
        return Note(f"{counted(len(edits), 'row')} taken in from the folder{': ' + tables if tables else ''}.")

    entry = store.write(who, at, "edit", "folder", change)
    try:
        write_over(store, folder)
    except StoreFault as fault:
        raise StoreFault(
            f"What was edited is in the store now (entry {entry.id}). {fault} Unload a new folder."
        ) from fault
    return entry


def _entry(store: Store, folder: Path) -> int:
    try:
        mark = json.loads((folder / MARK).read_text(encoding="utf-8"))
        number, recorded = int(mark["entry"]), mark["recorded"]
    except (OSError, ValueError, KeyError, TypeError) as fault:
        raise StoreFault(
            f"{folder}: this folder was not written by a store, so there is no telling what was edited. "
            "Write one with 'batchwright unload DB FOLDER' and edit that."
        ) from fault
    if store.recorded(number) != recorded:
        raise StoreFault(
            f"{folder}: this folder was written by another store, or before this one was put back to an older state. "
            "Write one with 'batchwright unload DB FOLDER' and edit that."
        )
    return number


def _edits(base: Sheets, folder: Path) -> list[Edit]:
    found: list[Edit] = []
    there = {sheet.table.name: rows for sheet, rows in sheets_of(folder)}
    for name, sheet in base.sheets.items():
        found += _by_key(name, sheet.rows, there.get(name, []), sheet.table.key)
    return found


def _by_key(name: str, old: tuple[StoredRow, ...], new: list[Cells], key: tuple[str, ...]) -> list[Edit]:
    """Rows of a table with a key are the same where the key is; of one without, where all cells are."""
    columns = key or tuple(sorted({c for row in old for c in row.cells} | {c for cells in new for c in cells}))

    def key_of(cells: Cells) -> tuple[str, ...]:
        return tuple(cells.get(column, "") for column in columns)

    left: dict[tuple[str, ...], list[StoredRow]] = {}
    for row in old:
        left.setdefault(key_of(row.cells), []).append(row)
    found = []
    for cells in new:
        same = left.get(key_of(cells))
        if not same:
            found.append(Edit(name, None, cells))
        elif filled((row := same.pop(0)).cells) != filled(cells):
            found.append(Edit(name, row, cells))
    return [*found, *(Edit(name, row, None) for rows in left.values() for row in rows)]


def filled(cells: Cells) -> Cells:
    """Cells with something in them."""
    return {column: cell for column, cell in cells.items() if cell}


def _not_there(draft: Draft, base: Sheets, edits: list[Edit]) -> list[Edit]:
    """Edits that the store does not have yet: a folder that could not be written over may come a second time."""
    added: Counter[tuple[str, frozenset[tuple[str, str]]]] = Counter()
    for name, sheet in base.sheets.items():
        for rows, sign in ((draft.rows(name), 1), (sheet.rows, -1)):
            for row in rows:
                added[name, _content(row.cells)] += sign
    left = []
    for edit in edits:
        now = draft.by_id(edit.row.id) if edit.row else None
        what = (edit.sheet, _content(edit.cells or {}))
        if edit.row is None and added[what] > 0:
            added[what] -= 1
        elif edit.row is None or _content(now.cells if now else {}) != what[1]:
            left.append(edit)
    return left


def _content(cells: Cells) -> frozenset[tuple[str, str]]:
    return frozenset(filled(cells).items())


def _apply(draft: Draft, edit: Edit) -> None:
    if edit.row is None:
        draft.add(edit.sheet, edit.cells or {})
        return
    now = draft.by_id(edit.row.id)
    if now is None or filled(now.cells) != filled(edit.row.cells):
        raise Stale(now, edit.sheet, edit.row.version, "")
    if edit.cells is None:
        draft.drop(now)
    else:
        draft.put(now, {column: "" for column in now.cells} | dict(edit.cells))
