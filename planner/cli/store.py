"""A folder of tables into a store, and a store out into a folder."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from planner.cli.arguments import AsJson, StoreDb, Who, moment_of, store_place
from planner.cli.output import plain_faults, say, say_json
from planner.cli.rows import tell_entry
from planner.counted import counted
from planner.day.clock import moment_in
from planner.store import Store
from planner.store.folder import take_in, write_out
from planner.store.update import update as update_from


def store(
    folder: Annotated[
        Path, typer.Argument(metavar="SHOP", exists=True, file_okay=False, help="Folder with the shop's tables.")
    ],
    db: Annotated[str, typer.Argument(metavar="DB", help="A file to make, or postgresql://user@host/name.")],
    update: Annotated[
        bool, typer.Option("--update", help="Into a store that is there: what was edited in a folder that it wrote.")
    ] = False,
    who: Who = "",
    at: Annotated[
        datetime | None,
        typer.Option(parser=moment_of, metavar="MOMENT", help="With --update: when, local: '2027-07-06 14:30' [now]."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Take a shop's tables into a new store, where they live through the day."""
    if update:
        with plain_faults(as_json), Store(store_place(db)) as kept:
            entry = update_from(kept, folder, who, moment_in(kept, at))
        tell_entry(entry, as_json)
        return
    if at is not None:
        raise typer.BadParameter(
            "a new store begins at the plan start of its tables; only --update has a moment", param_hint="--at"
        )
    with plain_faults(as_json), take_in(folder, db if "://" in db else Path(db), who) as made:
        rows = sum(len(sheet.rows) for sheet in made.sheets().written)
        tables = len(list(made.sheets().written))
    if as_json:
        say_json({"good": True, "store": db, "tables": tables, "rows": rows})
    else:
        say(f"{counted(tables, 'table')} with {counted(rows, 'row')} taken into {db}.")


def unload(
    db: StoreDb,
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", file_okay=False, help="A folder to make.")],
    as_json: AsJson = False,
) -> None:
    """Write a store's tables into a new folder, as CSV files."""
    with plain_faults(as_json), Store(db) as kept:
        files = write_out(kept, folder)
    if as_json:
        say_json({"good": True, "folder": str(folder), "files": files})
    else:
        say(f"{counted(len(files), 'table')} written to {folder}.")
