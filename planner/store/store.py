"""A store: the tables as they are or were, entries with what they changed, and plans.

store = take_in(folder, place, who)                   a folder's tables taken in (``planner.store.folder``)
store = Store(place)
store.sheets(entry)                                   the tables now, or as of an entry
store.write(who, at, "booking", "good", change)       ``change(writing)`` alters rows and says so in a ``Note``; all of it is
                                                      kept, or nothing
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from datetime import datetime
from typing import Self

import sqlalchemy as sa
from sqlalchemy import Connection

from planner.store import schema
from planner.store.draft import Change, Draft, Stale
from planner.store.engine import Database
from planner.store.place import ShopPlace
from planner.store.records import (
    MINUTE,
    Entry,
    Note,
    PlanLine,
    StoredPlan,
    accepted_plan_in,
    changes_in,
    decide,
    entries_in,
    history_of,
    plan_in,
    plans_in,
    save,
    sheets_in,
    taken_in,
    utc_now,
    waiting_plan_in,
)
from planner.store.sheets import Cells, Sheet, Sheets, StoredRow
from planner.store.trouble import StoreFault

SENT = "sent"  # in an entry's data: the mark of the message that it came by
LOOK_BACK = 1_000  # entries among which one with the same mark is looked for: whoever had no answer sends again soon


class Store:
    """An open store; close it, or use it as a context.

    Parameters
    ----------
    sent
        Mark of a message that makes one entry, and that may come again where its answer was lost: the entry that it made
        the first time is given back then, and nothing is written.
    """

    def __init__(self, place: ShopPlace, sent: str = "") -> None:
        self.place = place
        self._sent = sent
        self._database = Database(place)
        try:
            self._bring_to_form()
        except BaseException:
            self._database.close()
            raise

    def _bring_to_form(self) -> None:
        form = self._database.form()
        if form is None:
            raise StoreFault(f"{self.place}: this is no store. Make one with 'batchwright store SHOP DB'.")
        if form > schema.HEAD:
            raise StoreFault(
                f"{self.place}: a newer version of this program wrote the store ({form}): bring it up to date."
            )
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
                draft = taken_in(connection, filled)
                save(connection, draft, who, at, "store", "taken in", Note("The tables of the folder were taken in."))
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
            return sheets_in(connection, entry)

    def entries(self, kind: str | None = None, *, last: int | None = None) -> list[Entry]:
        """Entries from the first on, of one kind, or only so many of the last."""
        with self._database.reading() as connection:
            return entries_in(connection, kind, last=last)

    def changes(self, entry: int) -> list[Change]:
        """What an entry changed."""
        with self._database.reading() as connection:
            return changes_in(connection, schema.changes.c.entry == entry)

    def changes_of(self, sheets: Collection[str], since: int = 0) -> list[tuple[int, Change]]:
        """Every change of rows of some tables from an entry on, the first first, each with the number of its entry."""
        with self._database.reading() as connection:
            condition = schema.changes.c.sheet.in_(sheets) & (schema.changes.c.entry >= since)
            numbers = connection.scalars(
                sa.select(schema.changes.c.entry).where(condition).order_by(schema.changes.c.id)
            )
            return list(zip(numbers.all(), changes_in(connection, condition), strict=True))

    def history(self, row: int) -> list[tuple[Entry, Change]]:
        """Every change of one row, the first first."""
        with self._database.reading() as connection:
            return history_of(connection, row)

    def plans(self) -> list[PlanLine]:
        """Every plan that was kept, without its document, the first first."""
        with self._database.reading() as connection:
            return plans_in(connection)

    def plan(self, number: int) -> StoredPlan | None:
        """A plan by its number; None where there is none."""
        with self._database.reading() as connection:
            return plan_in(connection, number)

    def recorded(self, entry: int) -> str | None:
        """When an entry was written (UTC), which tells one store from another; None where there is no such entry."""
        with self._database.reading() as connection:
            return connection.scalar(sa.select(schema.entries.c.recorded).where(schema.entries.c.id == entry))

    def accepted(self) -> StoredPlan | None:
        """The plan that was accepted last; None without one."""
        with self._database.reading() as connection:
            return accepted_plan_in(connection)

    def waiting(self) -> StoredPlan | None:
        """The last plan that waits for a decision; None without one."""
        with self._database.reading() as connection:
            return waiting_plan_in(connection)

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
            known = writing.sent_before(self._sent) if self._sent else None
            if known is not None:
                return known
            note = change(writing)
            if self._sent:
                note.data[SENT] = self._sent
            return save(connection, writing.draft, who, at, kind, what, note)


class Writing:
    """What ``change`` of :meth:`Store.write` works on: the tables, and what is in the store besides."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self.draft = Draft(sheets_in(connection, None))

    def sheets(self, entry: int) -> Sheets:
        """The tables as they were when an entry had been written."""
        return sheets_in(self._connection, entry)

    def entries(self, kind: str | None = None) -> list[Entry]:
        return entries_in(self._connection, kind)

    def entry(self, number: int) -> Entry | None:
        return next(iter(entries_in(self._connection, None, number=number)), None)

    def sent_before(self, mark: str) -> Entry | None:
        """The entry that came by a message with this mark."""
        late = entries_in(self._connection, None, last=LOOK_BACK)
        return next((entry for entry in late if entry.data.get(SENT) == mark), None)

    def changes(self, entry: int) -> list[Change]:
        return changes_in(self._connection, schema.changes.c.entry == entry)

    def fresh(self, sheet: str, row: int, version: int) -> StoredRow:
        """A row, which must still be of the version that somebody saw; raises :class:`Stale`."""
        found = self.draft.by_id(row)
        if found is None or found.version != version:
            raise Stale(found, sheet, version, self._since(row, version))
        return found

    def _since(self, row: int, version: int) -> str:
        later = [(e, c) for e, c in history_of(self._connection, row) if c.version > version]
        return "".join(f" {e.who} at {e.at:{MINUTE}}: {e.words}" for e, _ in later)

    def changed_since(self, change: Change) -> list[Entry]:
        """Entries that changed the row again after ``change``."""
        return [e for e, c in history_of(self._connection, change.row) if c.version > change.version]

    def history(self, row: int) -> list[tuple[Entry, Change]]:
        """Every change of one row, the first first."""
        return history_of(self._connection, row)

    def accepted(self) -> StoredPlan | None:
        """The plan that was accepted last; None without one."""
        return accepted_plan_in(self._connection)

    def waiting(self) -> StoredPlan | None:
        """The last plan that waits for a decision; None without one."""
        return waiting_plan_in(self._connection)

    def plan(self, number: int) -> StoredPlan | None:
        """A plan by its number; None where there is none."""
        return plan_in(self._connection, number)

    def keep_plan(self, document: str, who: str, entry: int) -> int:
        """Keep a plan, waiting for a decision, that was made for the tables as of an entry; its number."""
        values = {
            "entry": entry, "made": utc_now(), "who": who, "state": "waiting", "document": document
        }  # fmt: skip
        found = self._connection.execute(sa.insert(schema.plans).values(**values))
        return found.inserted_primary_key[0]  # type: ignore[index]

    def decide(self, plan: int, state: str, decided: int | None = None) -> None:
        """Accept or refuse a plan, or take that back."""
        decide(self._connection, plan, state, decided)
