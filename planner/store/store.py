"""A store: the tables as they are or were, entries with what they changed, and plans.

store = Store.make(place, folder, who)            a folder's tables taken in
store = Store(place)
store.sheets()                                    the tables now, or as of an entry
store.write(who, at, "booking", "good", change)   ``change(draft)`` alters rows; all of it is kept, or nothing
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, Self

import sqlalchemy as sa
from sqlalchemy import Connection

from planner.store import schema
from planner.store.draft import Change, Draft, Stale
from planner.store.engine import Database
from planner.store.place import ShopPlace
from planner.store.sheets import TABLE, Cells, Sheet, Sheets, StoredRow, with_rows
from planner.store.trouble import StoreFault

MINUTE = "%Y-%m-%d %H:%M"  # how a moment stands in a table


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
class StoredPlan:
    """``entry``: the last entry in the tables that it was made for. ``state``: 'waiting', 'accepted' or 'refused'."""

    id: int
    entry: int
    made: str
    who: str
    state: str
    decided: int | None
    document: str


class Store:
    """An open store; close it, or use it as a context."""

    def __init__(self, place: ShopPlace) -> None:
        self.place = place
        self._database = Database(place)
        form = self._database.form()
        if form is None:
            raise StoreFault(f"{place}: this is no store. Make one with 'batchwright store SHOP DB'.")
        if form > schema.HEAD:
            raise StoreFault(f"{place}: a newer version of this program wrote the store ({form}): bring it up to date.")
        if form != schema.HEAD:
            with self._database.migrating():
                pass

    @classmethod
    def make(cls, place: ShopPlace, filled: Iterable[tuple[Sheet, list[Cells]]], who: str, at: datetime) -> Self:
        """A new store with these tables, in one transaction.

        Raises
        ------
        StoreFault
            When there is a store already, or none can be made there.
        """
        database = Database(place)
        try:
            if database.form() is not None:
                raise StoreFault(f"{place}: there is a store already; take the tables into another one.")
            with database.migrating() as connection:
                connection.execute(sa.insert(schema.shop).values(id=1, writes=0))
                draft = _taken_in(connection, filled)
                _save(connection, draft, who, at, "store", "taken in", Note("The tables of the folder were taken in."))
        finally:
            database.close()
        return cls(place)

    def close(self) -> None:
        self._database.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # --- reading ----------------------------------------------------------------------------

    def sheets(self, entry: int | None = None) -> Sheets:
        """The tables now, or as they were when an entry had been written."""
        with self._database.reading() as connection:
            return _sheets(connection, entry)

    def entries(self, kind: str | None = None, *, last: int | None = None) -> list[Entry]:
        """Entries from the first on, of one kind, or only so many of the last."""
        with self._database.reading() as connection:
            return _entries(connection, kind, last=last)

    def changes(self, entry: int) -> list[Change]:
        """What an entry changed."""
        with self._database.reading() as connection:
            return _changes(connection, schema.changes.c.entry == entry)

    def history(self, row: int) -> list[tuple[Entry, Change]]:
        """Every change of one row, the first first."""
        with self._database.reading() as connection:
            return _history(connection, row)

    def plans(self) -> list[StoredPlan]:
        """Every plan that was kept, the first first."""
        with self._database.reading() as connection:
            rows = connection.execute(sa.select(schema.plans).order_by(schema.plans.c.id))
            return [StoredPlan(**row._mapping) for row in rows]

    def accepted(self) -> StoredPlan | None:
        """The plan that was accepted last; None without one."""
        return _accepted(self.plans())

    def followed(self) -> tuple[int, int] | None:
        """Number of the accepted plan and of the entry that accepted it; quicker than the plan itself."""
        p = schema.plans.c
        query = sa.select(p.id, p.decided).where(p.state == "accepted").order_by(p.decided.desc()).limit(1)
        with self._database.reading() as connection:
            row = connection.execute(query).first()
        return None if row is None else (row.id, row.decided)

    # --- writing ----------------------------------------------------------------------------

    def write(self, who: str, at: datetime, kind: str, what: str, change: Callable[[Writing], Note]) -> Entry:
        """Make an entry. When this returns, it is on the disk; when it raises, nothing was written.

        Parameters
        ----------
        who, at
            Whose entry, and the local moment in the shop that it is about.
        kind, what
            'booking', 'event', 'decision', 'plan', 'undo' or 'edit', and which.
        change
            Alters the draft, with no other writer in between, and says what it did. What it raises goes through.
        """
        with self._database.writing() as connection:
            writing = Writing(connection)
            note = change(writing)
            return _save(connection, writing.draft, who, at, kind, what, note)


class Writing:
    """What ``change`` of :meth:`Store.write` works on: the tables, and what is in the store besides."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self.draft = Draft(_sheets(connection, None))

    def sheets(self, entry: int) -> Sheets:
        """The tables as they were when an entry had been written."""
        return _sheets(self._connection, entry)

    def entries(self, kind: str | None = None) -> list[Entry]:
        return _entries(self._connection, kind)

    def entry(self, number: int) -> Entry | None:
        return next(iter(_entries(self._connection, None, number=number)), None)

    def changes(self, entry: int) -> list[Change]:
        return _changes(self._connection, schema.changes.c.entry == entry)

    def fresh(self, sheet: str, row: int, version: int) -> StoredRow:
        """A row, which must still be of the version that somebody saw; raises :class:`Stale`."""
        found = self.draft.by_id(row)
        if found is None or found.version != version:
            raise Stale(found, sheet, version, self._since(row, version))
        return found

    def _since(self, row: int, version: int) -> str:
        later = [(e, c) for e, c in _history(self._connection, row) if c.version > version]
        return "".join(f" {e.who} at {e.at:{MINUTE}}: {e.words}" for e, _ in later)

    def changed_since(self, change: Change) -> list[Entry]:
        """Entries that changed the row again after ``change``."""
        return [e for e, c in _history(self._connection, change.row) if c.version > change.version]

    def plans(self) -> list[StoredPlan]:
        rows = self._connection.execute(sa.select(schema.plans).order_by(schema.plans.c.id))
        return [StoredPlan(**row._mapping) for row in rows]

    def accepted(self) -> StoredPlan | None:
        """The plan that was accepted last; None without one."""
        return _accepted(self.plans())

    def keep_plan(self, document: str, who: str, entry: int) -> int:
        """Keep a plan, waiting for a decision, that was made for the tables as of an entry; its number."""
        values = {
            "entry": entry, "made": _now(), "who": who, "state": "waiting", "document": document
        }  # fmt: skip
        found = self._connection.execute(sa.insert(schema.plans).values(**values))
        return found.inserted_primary_key[0]  # type: ignore[index]

    def decide(self, plan: int, state: str, decided: int | None = None) -> None:
        """Accept or refuse a plan, or take that back."""
        _decide(self._connection, plan, state, decided)


def _accepted(plans: list[StoredPlan]) -> StoredPlan | None:
    """By the entry that accepted it."""
    return max((p for p in plans if p.state == "accepted"), key=lambda p: p.decided or 0, default=None)


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="milliseconds")


# --- reading the database ---------------------------------------------------------------------


def _sheets(connection: Connection, entry: int | None) -> Sheets:
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
    for change in reversed(_changes(connection, schema.changes.c.entry > entry)):
        if change.before is None:
            rows.pop(change.row, None)
        else:
            rows[change.row] = StoredRow(change.row, change.sheet, change.place, change.before, change.version - 1)


def _entries(
    connection: Connection, kind: str | None, *, last: int | None = None, number: int | None = None
) -> list[Entry]:
    query = sa.select(schema.entries).order_by(schema.entries.c.id.desc())
    if kind is not None:
        query = query.where(schema.entries.c.kind == kind)
    if number is not None:
        query = query.where(schema.entries.c.id == number)
    if last is not None:
        query = query.limit(last)
    return [_entry(row._mapping) for row in connection.execute(query)][::-1]


def _entry(row: Any) -> Entry:
    return Entry(**{**row, "at": datetime.strptime(row["at"], MINUTE)})


def _changes(connection: Connection, condition: sa.ColumnElement[bool]) -> list[Change]:
    c = schema.changes.c
    query = sa.select(c.row, c.sheet, c.place, c.version, c.before, c.after, c.lasting).where(condition).order_by(c.id)
    return [Change(**row._mapping) for row in connection.execute(query)]


def _history(connection: Connection, row: int) -> list[tuple[Entry, Change]]:
    query = sa.select(schema.changes.c.entry).where(schema.changes.c.row == row).order_by(schema.changes.c.id)
    numbers = connection.scalars(query).all()
    entries = {n: _entries(connection, None, number=n)[0] for n in set(numbers)}
    return list(zip([entries[n] for n in numbers], _changes(connection, schema.changes.c.row == row), strict=True))


# --- writing the database ---------------------------------------------------------------------


def _taken_in(connection: Connection, filled: Iterable[tuple[Sheet, list[Cells]]]) -> Draft:
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


def _save(connection: Connection, draft: Draft, who: str, at: datetime, kind: str, what: str, note: Note) -> Entry:
    """Write an entry with what it did to the rows."""
    values: dict[str, Any] = {
        "recorded": _now(), "at": f"{at:{MINUTE}}", "who": who, "kind": kind, "what": what, "words": note.words,
        "data": note.data, "undoes": note.undoes, "undone_by": None,
    }  # fmt: skip
    number = connection.execute(sa.insert(schema.entries).values(**values)).inserted_primary_key[0]  # type: ignore[index]
    if note.undoes is not None:
        connection.execute(sa.update(schema.entries).where(schema.entries.c.id == note.undoes).values(undone_by=number))
    if note.decides is not None:
        _decide(connection, *note.decides, number)
    for change in draft.changes():
        _save_change(connection, number, change)
    return _entry({"id": number, **values})


def _decide(connection: Connection, plan: int, state: str, decided: int | None) -> None:
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
