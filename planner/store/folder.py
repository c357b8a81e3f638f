"""A folder of tables into a store, and a store out into a folder."""

from __future__ import annotations

import json
from pathlib import Path

from planner.intake import read_shop
from planner.store.place import ShopPlace
from planner.store.sheets import TABLE, Cells, Sheet, sheet_of
from planner.store.store import Store
from planner.store.trouble import StoreFault
from planner.whole_file import write_whole

MARK = ".batchwright.json"  # as of which entry a folder was written; begins with a dot, so that intake passes it over


def take_in(folder: Path, place: ShopPlace, who: str) -> Store:
    """A new store with the tables of a folder.

    Parameters
    ----------
    folder
        A shop's tables. Other files in it are not taken in.
    place
        A file that is not there yet, or an empty database on a server.
    who
        Whose doing it is.

    Raises
    ------
    DataFaults
        When the tables have faults: a store begins with tables that can be planned.
    StoreFault
        When no store can be made there.
    """
    shop = read_shop(folder)
    if isinstance(place, Path) and place.exists():
        raise StoreFault(f"{place}: there is a file of that name already; name another one.")
    return Store.make(place, sheets_of(folder), who, shop.settings.plan_start)


def sheets_of(folder: Path) -> list[tuple[Sheet, list[Cells]]]:
    """The tables of a folder that intake has found to be good: sheets without rows, and their rows' cells."""
    names = {path.name.casefold(): path for path in folder.iterdir()}
    found = ((table, names[f"{name}.csv"]) for name, table in TABLE.items() if f"{name}.csv" in names)
    return [sheet_of(table, path.name, path.read_bytes()) for table, path in found]


def write_out(store: Store, folder: Path) -> list[str]:
    """Write the tables of a store as CSV files; the names of the files.

    The folder is made where it is not there; one that holds anything is refused, so that nothing in it is mixed up or
    lost. Each table is byte for byte the file that was taken in, or where rows were changed the same cells in the same order.

    Raises
    ------
    StoreFault
        When the folder holds something, or cannot be written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if any(folder.iterdir()):
            raise StoreFault(f"{folder}: the folder is not empty; name a new one.")
    except OSError as fault:
        raise _not_written(folder, fault) from fault
    return write_over(store, folder)


def write_over(store: Store, folder: Path) -> list[str]:
    """As :func:`write_out`, over a folder that is there; notes in it as of which entry it was written."""
    sheets = store.sheets()
    # a table that has lost all its rows since the folder was written is emptied there too, else they would come back with it
    written = [s for s in sheets.sheets.values() if s.original or s.rows or (folder / s.file).exists()]
    try:
        for sheet in written:
            write_whole(folder / sheet.file, sheet.to_bytes())
        write_whole(folder / MARK, json.dumps({"entry": sheets.entry, "recorded": store.recorded(sheets.entry)}) + "\n")
    except OSError as fault:
        raise _not_written(folder, fault) from fault
    return [sheet.file for sheet in written]


def _not_written(folder: Path, fault: OSError) -> StoreFault:
    return StoreFault(f"{folder}: the tables cannot be written there ({fault.strerror or fault}).")
