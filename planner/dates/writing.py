"""Rows for a shop's tables, wherever they are: checked with the whole shop, then written to its folder or its store."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from planner.faults import DataFaults
from planner.intake import read_tables
from planner.intake.adding import Added, Cells, Named, Rows, renamed
from planner.shop import Shop
from planner.store import Note, ShopPlace, Store, Writing, is_store
from planner.store.draft import Draft


def rows_of(place: ShopPlace, table: str, column: str, value: str) -> list[dict[str, str]]:
    """Rows of a table, as text by column, that have a value in a column."""
    if isinstance(place, Path) and not is_store(place):
        tables, _ = read_tables(place)
        return [dict(row.text) for row in tables[table] if row.text.get(column) == value]
    with Store(place) as store:
        return [dict(row.cells) for row in store.sheets().rows(table) if row[column] == value]


def shop_with(place: ShopPlace, rows: Rows, named: Mapping[str, Named]) -> Shop:
    """The shop with more rows; nothing is written. Raises ``DataFaults`` with all that is wrong with it then."""
    if isinstance(place, Path) and not is_store(place):
        return Added(place, rows, named).shop
    with Store(place) as store:
        draft = Draft(store.sheets())
        return _put(draft, rows, {}, named)


def write_rows(
    place: ShopPlace,
    rows: Rows,
    cells: Cells,
    named: Mapping[str, Named],
    who: str,
    at: datetime,
    what: str,
    data: Mapping[str, Any] | None = None,
) -> tuple[Shop, int | None]:
    """Write new rows, and new cells of rows that are there; the shop with them, and the number of the entry in a store.

    Parameters
    ----------
    rows, cells, named
        As for :class:`planner.intake.adding.Added`.
    who, at, what
        Whose entry it is in a store, the local moment it is about, and what was done, for the history.
    data
        What the entry says besides, in a store.

    Raises
    ------
    DataFaults
        When the shop would have faults, or the tables cannot be written. Nothing is written then.
    """
    if isinstance(place, Path) and not is_store(place):
        added = Added(place, rows, named, cells)
        added.write()
        return added.shop, None
    found: list[Shop] = []

    def change(writing: Writing) -> Note:
        found.append(_put(writing.draft, rows, cells, named))
        return Note(what, dict(data or {}))

    with Store(place) as store:
        entry = store.write(who, at, "edit", "enquiry", change)
    return found[0], entry.id


def put_down(place: ShopPlace, document: str, who: str, at: datetime, entry: int) -> int:
    """Keep a plan in a store, waiting to be accepted, that was made for the tables as of an entry; its number."""
    numbers: list[int] = []

    def keep(writing: Writing) -> Note:
        numbers.append(writing.keep_plan(document, who, entry))
        return Note(f"Plan {numbers[0]} waits to be accepted.", {"plan": numbers[0]})

    with Store(place) as store:
        store.write(who, at, "plan", "made", keep)
    return numbers[0]


def _put(draft: Draft, rows: Rows, cells: Cells, named: Mapping[str, Named]) -> Shop:
    """The shop of the draft with them; raises ``DataFaults`` with those of new rows told by what they are called."""
    before = {table: 1 + len(draft.rows(table)) for table in rows}
    for table, more in rows.items():
        for row in more:
            draft.add(table, {column: cell for column, cell in row.items() if cell})
    for (table, key), changed in cells.items():
        (column,) = draft.sheets[table].table.key
        there = draft.find(table, **{column: key})
        assert there is not None, "the row was in the shop that was read"
        draft.put(there, dict(changed))
    try:
        return draft.shop()
    except DataFaults as found:
        raise renamed(found, before, named) from None
