"""Bookings that stand, each with what it did to its step, and what batches and parts were then."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Any

from planner.store import Change, Entry, Store
from planner.store.sheets import TABLE, Cells

MOST = 10_000  # bookings that are looked at, the last ones
Step = tuple[str, int]  # batch and operation number


@dataclass(frozen=True)
class Booking:
    """A booking that was not undone. ``made``: pieces that it adds to good and scrap together; ``machine``: where the step is
    or was; ``family_before``: what a start found on its machine."""

    entry: int
    at: datetime
    what: str
    step: Step
    data: dict[str, Any]
    made: int
    machine: str
    family_before: str

    @property
    def person(self) -> str:
        return self.data.get("person", "")

    @property
    def ends(self) -> bool:
        """Is its step done with it?"""
        return self.what in ("finish", "came back")


class Bookings:
    """The ``last`` bookings of a store (None: all), the first first, and the rows they were about."""

    def __init__(self, store: Store, last: int | None = MOST) -> None:
        self._entries = {e.id: e for e in store.entries("booking", last=last) if e.undone_by is None}
        first = min(self._entries, default=0)
        self._changes = store.changes_of(("progress", "machines"), first)
        self._named = store.changes_of(("batches", "parts"))

    @cached_property
    def all(self) -> list[Booking]:
        """In the order in which they were entered."""
        changes: dict[int, list[Change]] = {}
        for entry, change in self._changes:
            if entry in self._entries:
                changes.setdefault(entry, []).append(change)
        return [
            self._booking(entry, changes.get(number, []))
            for number, entry in self._entries.items()
            if "batch" in entry.data and "operation" in entry.data
        ]

    def _booking(self, entry: Entry, changes: list[Change]) -> Booking:
        step = entry.data["batch"], int(entry.data["operation"])
        made, machine, family = 0, entry.data.get("machine", ""), ""
        for change in changes:
            before, after = change.before or {}, change.after or {}
            if change.sheet == "progress" and _step(after or before) == step:
                made = max(0, _pieces(after) - _pieces(before))
                machine = after.get("machine") or before.get("machine") or machine
            elif change.sheet == "machines" and before.get("machine") == machine:
                family = before.get("on_family", "")
        return Booking(entry.id, entry.at, entry.what, step, entry.data, made, machine, family)

    # --- rows as they were -----------------------------------------------------------------------

    @cached_property
    def _rows(self) -> dict[tuple[str, str], list[tuple[int, Cells]]]:
        """What each batch and part was from which entry on."""
        found: dict[tuple[str, str], list[tuple[int, Cells]]] = {}
        for entry, change in self._named:
            if change.after is not None:
                key = TABLE[change.sheet].key[0]
                found.setdefault((change.sheet, change.after.get(key, "")), []).append((entry, change.after))
        return found

    def row(self, sheet: str, name: str, entry: int) -> Cells:
        """A batch or a part as it was after an entry; empty where it was not there."""
        return next((cells for at, cells in reversed(self._rows.get((sheet, name), [])) if at <= entry), {})

    def batches_of(self, order: str, part: str) -> set[str]:
        """Batches of a part that are, or were, for an order."""
        return self._made_for.get((order, part), set())

    @cached_property
    def _made_for(self) -> dict[tuple[str, str], set[str]]:
        """Names of batches by order and part."""
        found: dict[tuple[str, str], set[str]] = {}
        for (sheet, name), rows in self._rows.items():
            for _, cells in rows if sheet == "batches" else ():
                found.setdefault((cells.get("order", ""), cells.get("part", "")), set()).add(name)
        return found

    def pieces(self, batch: str, entry: int) -> int:
        """Pieces that a batch was started with, as of an entry."""
        return int(self.row("batches", batch, entry).get("quantity") or 0)

    def scrap(self, batch: str, entry: int) -> int:
        """Pieces of a batch scrapped at all its steps, up to an entry."""
        steps = self._progress.get(batch, {})
        last = (next((cells for at, cells in reversed(rows) if at <= entry), {}) for rows in steps.values())
        return sum(int(cells.get("scrap") or 0) for cells in last)

    @cached_property
    def _progress(self) -> dict[str, dict[str, list[tuple[int, Cells]]]]:
        found: dict[str, dict[str, list[tuple[int, Cells]]]] = {}
        for entry, change in self._changes:
            cells = change.after or change.before or {}
            if change.sheet == "progress":
                steps = found.setdefault(cells.get("batch", ""), {})
                steps.setdefault(cells.get("operation", ""), []).append((entry, change.after or {}))
        return found


def _step(cells: Cells) -> Step:
    return cells.get("batch", ""), int(cells.get("operation") or 0)


def _pieces(cells: Cells) -> int:
    return int(cells.get("good") or 0) + int(cells.get("scrap") or 0)
