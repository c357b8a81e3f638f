"""What is in the database as records, and records into the database. All within a transaction of the caller."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy import Connection

from planner.store import schema
from planner.store.draft import Change, Draft
from planner.store.sheets import TABLE, Cells, Sheet, Sheets, StoredRow, with_rows

MINUTE = "%Y-%m-%d %H:%M"  # how a moment stands in a table
LARGEST = 2**31 - 1  # of the numbers of entries, rows and plans: what every kind of database can be asked for


@dataclass(frozen=True)
class Entry:
    """Something that was entered. ``at``: local moment in the shop; ``recorded``: UTC, when it was written."""

    id: int
    recorded: str
    at: datetime
    who: str
    kind: str
    what: str
    words: str
    data: dict[str, Any]
    undoes: int | None = None
    undone_by: int | None = None


@dataclass
class Note:
    """What ``change`` says about an entry: a sentence, and what it was about by name."""

    words: str
    data: dict[str, Any] = field(default_factory=dict)
    undoes: int | None = None
    decides: tuple[int, str] | None = None  # a plan that this entry accepts or refuses


@dataclass(frozen=True)
class PlanLine:
    """What is said of a plan. ``entry``: the last entry in the tables that it was made for.

    ``state``: 'waiting', 'accepted' or 'refused'; ``decided``: the entry that accepted or refused it.
    """

    id: int
    entry: int
    made: str
    who: str
    state: str
    decided: int | None


@dataclass(frozen=True)
class StoredPlan(PlanLine):
    """A plan with its document, which may be large."""

    document: str


def utc_now() -> str:
    return datetime.now(UTC).isoformat(timespec="milliseconds")


# --- reading the database ---------------------------------------------------------------------


def sheets_in(connection: Connection, entry: int | None) -> Sheets:
    last = connection.scalar(sa.select(sa.func.max(schema.entries.c.id))) or 0
    rows = {
        r.id: StoredRow(r.id, r.sheet, r.place, r.cells, r.version) for r in connection.execute(sa.select(schema.rows))
    }
    if entry is not None and entry < last:
        _back_to(connection, rows, entry)
    sheets = [
        Sheet(TABLE[r.name], r.file, tuple(r.heading), r.line_end, r.original)
        for r in connection.execute(sa.select(schema.sheets))
        if r.name in TABLE
    ]
    return with_rows(sheets, rows.values(), last if entry is None else min(entry, last))


def _back_to(connection: Connection, rows: dict[int, StoredRow], entry: int) -> None:
    """Take back every change that came after an entry, the last first."""
    for change in reversed(changes_in(connection, schema.changes.c.entry > entry)):
        if change.before is None:
            rows.pop(change.row, None)
        else:
            rows[change.row] = StoredRow(change.row, change.sheet, change.place, change.before, change.version - 1)


def entries_in(
    connection: Connection, kind: str | None, *, last: int | None = None, number: int | None = None
) -> list[Entry]:
    query = sa.select(schema.entries).order_by(schema.entries.c.id.desc())
    if kind is not None:
        query = query.where(schema.entries.c.kind == kind)
    if number is not None:
        query = query.where(schema.entries.c.id == _asked(number))
    if last is not None:
        query = query.limit(last)
    return [entry_of(row._mapping) for row in connection.execute(query)][::-1]


def _asked(number: int) -> int:
    """A number of an entry, a row or a plan that a database can be asked for; nothing has the ones beyond."""
    return max(0, min(number, LARGEST))


def entry_of(row: Any) -> Entry:
    return Entry(**{**row, "at": datetime.fromisoformat(row["at"])})


def changes_in(connection: Connection, condition: sa.ColumnElement[bool]) -> list[Change]:
    c = schema.changes.c
    query = sa.select(c.row, c.sheet, c.place, c.version, c.before, c.after, c.lasting).where(condition).order_by(c.id)
    return [Change(**row._mapping) for row in connection.execute(query)]


def history_of(connection: Connection, row: int) -> list[tuple[Entry, Change]]:
    row = _asked(row)
    query = sa.select(schema.changes.c.entry).where(schema.changes.c.row == row).order_by(schema.changes.c.id)
    numbers = connection.scalars(query).all()
    entries = {n: entries_in(connection, None, number=n)[0] for n in set(numbers)}
    return list(zip([entries[n] for n in numbers], changes_in(connection, schema.changes.c.row == row), strict=True))


def plans_in(connection: Connection) -> list[PlanLine]:
    """Every plan without its document, the first first."""
    p = schema.plans.c
    query = sa.select(p.id, p.entry, p.made, p.who, p.state, p.decided).order_by(p.id)
    return [PlanLine(**r._mapping) for r in connection.execute(query)]


def plan_in(connection: Connection, number: int) -> StoredPlan | None:
    """A plan by its number."""
    return _first_plan(connection, sa.select(schema.plans).where(schema.plans.c.id == _asked(number)))


def accepted_plan_in(connection: Connection) -> StoredPlan | None:
    """The plan that was accepted last, without reading the documents of all others."""
    return _first_plan(connection, _in_state("accepted"))


def waiting_plan_in(connection: Connection) -> StoredPlan | None:
    """The last plan that waits for a decision; not one that was made before another one was accepted, as that cannot be accepted."""
    p = schema.plans.c
    decided = sa.select(sa.func.max(p.decided)).where(p.state == "accepted").scalar_subquery()
    return _first_plan(connection, _in_state("waiting").where(p.entry >= sa.func.coalesce(decided, 0)))


def _in_state(state: str) -> sa.Select[Any]:
    p = schema.plans.c
    return sa.select(schema.plans).where(p.state == state).order_by(p.decided.desc(), p.id.desc()).limit(1)


def _first_plan(connection: Connection, query: sa.Select[Any]) -> StoredPlan | None:
    row = connection.execute(query).first()
    return None if row is None else StoredPlan(**row._mapping)


# --- writing the database ---------------------------------------------------------------------


def taken_in(connection: Connection, filled: Iterable[tuple[Sheet, list[Cells]]]) -> Draft:
    draft = Draft(with_rows([], [], 0))
    for sheet, rows in filled:
        connection.execute(
            sa.insert(schema.sheets).values(
                name=sheet.table.name, file=sheet.file, heading=list(sheet.heading), line_end=sheet.line_end,
                original=sheet.original,
            )
        )  # fmt: skip
        for cells in rows:
            draft.add(sheet.table.name, cells)
    return draft


def save(connection: Connection, draft: Draft, who: str, at: datetime, kind: str, what: str, note: Note) -> Entry:
    """Write an entry with what it did to the rows."""
    values: dict[str, Any] = {
        "recorded": utc_now(), "at": f"{at:{MINUTE}}", "who": who, "kind": kind, "what": what, "words": note.words,
        "data": note.data, "undoes": note.undoes, "undone_by": None,
    }  # fmt: skip
    number = connection.execute(sa.insert(schema.entries).values(**values)).inserted_primary_key[0]  # type: ignore[index]
    if note.undoes is not None:
        _take_back(connection, note.undoes, number)
    if note.decides is not None:
        decide(connection, *note.decides, number)
    for change in draft.changes():
        _save_change(connection, number, change)
    return entry_of({"id": number, **values})


def _take_back(connection: Connection, entry: int, by: int) -> None:
    """An entry does not stand any more; what it had taken back itself stands again, and so on alternately."""
    e = schema.entries.c
    taken: int | None = entry
    undone_by: int | None = by
    while taken is not None:
        connection.execute(sa.update(schema.entries).where(e.id == taken).values(undone_by=undone_by))
        undone_by = taken if undone_by is None else None
        taken = connection.scalar(sa.select(e.undoes).where(e.id == taken))


def decide(connection: Connection, plan: int, state: str, decided: int | None) -> None:
    connection.execute(sa.update(schema.plans).where(schema.plans.c.id == plan).values(state=state, decided=decided))


def _save_change(connection: Connection, entry: int, change: Change) -> None:
    t, row = schema.rows, change.row
    if change.after is None:
        done = connection.execute(sa.delete(t).where(t.c.id == row, t.c.version == change.version - 1))
        assert done.rowcount == 1, "rows are written by one writer at a time"
    elif change.before is not None:
        done = connection.execute(
            sa.update(t)
            .where(t.c.id == row, t.c.version == change.version - 1)
            .values(cells=change.after, version=change.version)
        )
        assert done.rowcount == 1, "rows are written by one writer at a time"
    else:
        values: dict[str, Any] = {
            "sheet": change.sheet, "place": change.place, "cells": change.after, "version": change.version
        }  # fmt: skip
        if row > 0:
            values["id"] = row  # put back under its own number
        row = connection.execute(sa.insert(t).values(**values)).inserted_primary_key[0]  # type: ignore[index]
    connection.execute(
        sa.insert(schema.changes).values(
            entry=entry, row=row, sheet=change.sheet, place=change.place, version=change.version,
            before=change.before, after=change.after, lasting=change.lasting,
        )
    )  # fmt: skip
