"""Rows of a store: to look at, to change one, and what was changed by whom."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from planner.cli.arguments import AsJson, At, StoreDb, Who
from planner.cli.output import plain_faults, say, say_json, show_table
from planner.day.clock import moment_in
from planner.store import Change, Entry, Store
from planner.store.edit import add_row, change_row, remove_row
from planner.store.records import MINUTE
from planner.store.sheets import TABLE


def table_of(text: str) -> str:
    """A table's name, for an argument's ``parser``."""
    name = text.removesuffix(".csv").casefold()
    if name not in TABLE:
        raise typer.BadParameter(f"there is no table '{text}'; the tables are {', '.join(TABLE)}")
    return name


def cells_of(words: list[str]) -> dict[str, str]:
    """``column=text`` words by column."""
    found = {}
    for word in words:
        column, mark, text = word.partition("=")
        if not mark:
            raise typer.BadParameter(f"'{word}' is not of the form column=text")
        found[column.strip()] = text.strip()
    return found


TableName = Annotated[str, typer.Argument(metavar="TABLE", parser=table_of, help="A table, such as orders.")]


def rows(
    db: StoreDb,
    table: TableName,
    find: Annotated[str, typer.Option(metavar="TEXT", help="Only rows with this text in them.")] = "",
    as_json: AsJson = False,
) -> None:
    """Rows of a table with their numbers and versions."""
    with plain_faults(as_json), Store(db) as store:
        sheet = store.sheets()[table]
    shown = [row for row in sheet.rows if any(find.casefold() in cell.casefold() for cell in row.cells.values())]
    if as_json:
        say_json([{"row": r.id, "version": r.version, "cells": r.cells} for r in shown])
        return
    columns = [c for c in sheet.columns if any(r[c] for r in shown)]
    show_table(table, ["row", "version", *columns], [[r.id, r.version, *(r[c] for c in columns)] for r in shown], "rr")


def change(
    db: StoreDb,
    table: TableName,
    cells: Annotated[list[str] | None, typer.Argument(metavar="COLUMN=TEXT...", help="New cells.")] = None,
    row: Annotated[int | None, typer.Option(help="Which row, by its number; without: a new row.")] = None,
    version: Annotated[int | None, typer.Option(help="The row's version when you looked at it.")] = None,
    remove: Annotated[bool, typer.Option("--remove", help="Remove the row.")] = False,
    who: Who = "",
    at: At = None,
    as_json: AsJson = False,
) -> None:
    """Change, add or remove one row of a table; refused where somebody else was quicker."""
    given = cells_of(cells or [])
    if row is not None and version is None:
        raise typer.BadParameter(
            "say which version of the row you saw ('batchwright rows' shows it)", param_hint="--version"
        )
    if remove and (row is None or given):
        raise typer.BadParameter("to remove a row give its number and version, and no cells", param_hint="--remove")
    if not remove and not given:
        raise typer.BadParameter("give the new cells as column=text", param_hint="COLUMN=TEXT")
    with plain_faults(as_json), Store(db) as store:
        moment = moment_in(store, at)
        if row is None:
            entry = add_row(store, who, moment, table, given)
        elif remove:
            entry = remove_row(store, who, moment, table, row, version or 0)
        else:
            entry = change_row(store, who, moment, table, row, version or 0, given)
    tell_entry(entry, as_json)


def history(
    db: StoreDb,
    last: Annotated[int, typer.Option(min=1, help="So many of the last entries.")] = 20,
    row: Annotated[int | None, typer.Option(help="Only this row, with what it was before and after.")] = None,
    as_json: AsJson = False,
) -> None:
    """What was entered, when and by whom, and what it changed."""
    with plain_faults(as_json), Store(db) as store:
        found: list[tuple[Entry, Change | None]] = []
        if row is not None:
            found += store.history(row)
        else:
            for entry in store.entries(last=last):
                found += [(entry, change) for change in store.changes(entry.id)] or [(entry, None)]
    data = [
        {
            **entry_row(entry),
            "table": c and c.sheet,
            "row": c and c.row,
            "before": c and c.before,
            "after": c and c.after,
        }
        for entry, c in found
        if row is not None or entry.what != "taken in"
    ]
    if as_json:
        say_json(data)
        return
    lines = [
        [
            d["entry"],
            d["at"],
            d["who"],
            d["words"] + (" (undone)" if d["undone_by"] else ""),
            d["table"],
            _difference(d),
        ]
        for d in data
    ]
    show_table("history", ["entry", "at", "who", "what", "table", "change"], lines, "r")


def _difference(data: dict[str, Any]) -> str:
    before, after = data["before"], data["after"]
    if before is None or after is None:
        return "" if before is after else "removed" if after is None else "added"
    columns = [c for c in {**before, **after} if before.get(c, "") != after.get(c, "")]
    return ", ".join(f"{c} {before.get(c) or 'empty'} to {after.get(c) or 'empty'}" for c in columns)


def entry_row(entry: Entry) -> dict[str, Any]:
    """An entry for JSON."""
    return {
        "entry": entry.id, "at": f"{entry.at:{MINUTE}}", "recorded": entry.recorded, "who": entry.who,
        "kind": entry.kind, "what": entry.what, "words": entry.words, "data": entry.data,
        "undoes": entry.undoes, "undone_by": entry.undone_by,
    }  # fmt: skip


def tell_entry(entry: Entry, as_json: bool) -> None:
    """Say what was entered."""
    if as_json:
        say_json({"good": True, **entry_row(entry)})
    else:
        say(f"Entry {entry.id}: {entry.words}")
