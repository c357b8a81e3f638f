"""One row of a table changed, added or removed by hand."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from planner.faults import DataFaults, Fault
from planner.intake.nearest import did_you_mean
from planner.store.records import Entry, Note
from planner.store.sheets import TABLE, StoredRow
from planner.store.store import Store, Writing


def change_row(
    store: Store, who: str, at: datetime, sheet: str, row: int, version: int, cells: Mapping[str, str]
) -> Entry:
    """Change cells of a row.

    Parameters
    ----------
    row, version
        The row's number, and its version when it was read.
    cells
        New texts by column; an empty one empties the cell.

    Raises
    ------
    Stale
        When somebody else has changed the row since.
    DataFaults
        When the shop would have faults afterwards. Nothing is written, as with every error.
    """

    def change(writing: Writing) -> Note:
        found = writing.fresh(sheet, row, version)
        _known_columns(found.sheet, cells)
        writing.draft.put(found, cells)
        writing.draft.shop()
        told = ", ".join(f"{column} {found[column] or 'empty'} to {cell or 'empty'}" for column, cell in cells.items())
        return Note(f"{found.sheet}, {name_of(found)}: {told}.", {"table": found.sheet, "row": row})

    return store.write(who, at, "edit", "row changed", change)


def add_row(store: Store, who: str, at: datetime, sheet: str, cells: Mapping[str, str]) -> Entry:
    """Add a row; raises ``DataFaults`` when the shop would have faults afterwards."""

    def change(writing: Writing) -> Note:
        _known_columns(sheet, cells)
        row = writing.draft.add(sheet, cells)
        writing.draft.shop()
        return Note(f"{sheet}: {name_of(row)} added.", {"table": sheet})

    return store.write(who, at, "edit", "row added", change)


def remove_row(store: Store, who: str, at: datetime, sheet: str, row: int, version: int) -> Entry:
    """Remove a row; raises as :func:`change_row`."""

    def change(writing: Writing) -> Note:
        found = writing.fresh(sheet, row, version)
        writing.draft.drop(found)
        writing.draft.shop()
        return Note(f"{found.sheet}: {name_of(found)} removed.", {"table": found.sheet, "row": row})

    return store.write(who, at, "edit", "row removed", change)


def name_of(row: StoredRow) -> str:
    """A row by its key, or by all that is in it: 'order O-1', 'batch B-1 operation 20'."""
    columns = TABLE[row.sheet].key or tuple(row.cells)
    return " ".join(f"{column} {row[column]}" for column in columns if row[column])


def _known_columns(sheet: str, cells: Mapping[str, str]) -> None:
    known = [column.name for column in TABLE[sheet].columns]
    faults = [
        Fault(f"{sheet}.csv", None, column, cell, f"one of {', '.join(known)}",
              did_you_mean(column, known, "leave it out."))
        for column, cell in cells.items() if column not in known
    ]  # fmt: skip
    if faults:
        raise DataFaults(faults)
