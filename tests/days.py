"""A day in the tiny shop: a store of it, and short words for what is entered."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import databases
import pytest

from planner.day import acceptance
from planner.day.bookings import Booking, book
from planner.day.decisions import Decision, decide
from planner.day.events import happen
from planner.day.happening import Event
from planner.day.refusal import Refused
from planner.day.replan import Candidate, plan_from_now
from planner.day.undo import undo
from planner.intake import shop_of
from planner.main_job import Job, load_plan
from planner.shop import Shop
from planner.store import Entry, ShopPlace, Store, StoredRow


def at(time: str, day: int = 23) -> datetime:
    """A moment in March 2026 (the 32nd is 1 April); the tiny shop's plan starts on Monday the 23rd at 08:00."""
    return datetime.fromisoformat(f"2026-03-01 {time}") + timedelta(days=day - 1)


@dataclass
class Day:
    """A store and who is at it."""

    store: Store
    place: ShopPlace
    who: str = "Ann"

    def book(self, what: str, batch: str, operation: int, time: str = "09:00", day: int = 23, **more: Any) -> Entry:
        return book(self.store, self.who, Booking(what, batch, operation, at(time, day), **more))

    def refused(self, what: str, batch: str, operation: int, time: str = "09:00", day: int = 23, **more: Any) -> str:
        """The reason for which a booking is refused; nothing may be written by it."""
        before = self.store.sheets()
        with pytest.raises(Refused) as caught:
            self.book(what, batch, operation, time, day, **more)
        assert self.store.sheets() == before
        return str(caught.value)

    def undo(self, entry: int | None = None, time: str = "09:30", day: int = 23) -> Entry:
        return undo(self.store, self.who, at(time, day), entry)

    def happen(self, what: str, subject: str, time: str = "09:00", on: int = 23, /, **more: Any) -> Entry:
        return happen(self.store, self.who, Event(what, subject, at(time, on), **more))

    def decide(self, what: str, batch: str, operation: int, time: str = "09:00", on: int = 23, /, **more: Any) -> Entry:
        return decide(self.store, self.who, Decision(what, (batch, operation), at(time, on), **more))

    def plan(self, time: str, day: int = 23, *, accept: bool = False, trials: int = 15) -> Candidate:
        """A plan from a moment on."""
        found = plan_from_now(self.store, self.who, at(time, day), trials=trials)
        if accept:
            acceptance.accept(self.store, self.who, at(time, day), found.number)
        return found

    @property
    def followed(self) -> Job:
        """The accepted plan."""
        return load_plan(self.place)

    def row(self, table: str, **cells: object) -> StoredRow:
        found = self.store.sheets().find(table, **cells)
        assert found is not None, (table, cells)
        return found

    def step(self, batch: str, operation: int) -> dict[str, str]:
        """What the progress row of a step says, without empty cells."""
        row = self.row("progress", batch=batch, operation=operation)
        return {c: v for c, v in row.cells.items() if v and c not in ("batch", "operation")}

    def stock(self, part: str) -> int:
        row = self.store.sheets().find("stock", part=part)
        return int(row["quantity"]) if row else 0

    @property
    def shop(self) -> Shop:
        return shop_of(self.store.sheets().reading())


def copied(kind: str, origin: ShopPlace, folder: Path, reach: str) -> ShopPlace:
    """A copy of a store."""
    if kind == "embedded":
        return Path(shutil.copy(origin, folder / "day.db"))
    return databases.new_database(reach, databases.name_in(str(origin)))
