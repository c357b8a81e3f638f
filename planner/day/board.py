"""The shop while something is entered: its records as they were, and the rows that are changed."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from functools import cached_property
from typing import Any

from planner.day.refusal import Refused
from planner.explode.progress import StepState, step_states
from planner.faults import DataFaults
from planner.intake.convert import convert_cell
from planner.intake.nearest import did_you_mean
from planner.shop import OpenBatch, Operation, Progress, Shop
from planner.store import Entry, Writing
from planner.store.records import MINUTE
from planner.store.sheets import TABLE, StoredRow

BOOKING = "booking"


def typed(row: StoredRow) -> dict[str, Any]:
    """A row's values by column, as intake reads them."""
    return {column.name: convert_cell(column, row[column.name]) for column in TABLE[row.sheet].columns}


class Board:
    """Looks things up in names; what is not there is refused with the nearest name.

    ``shop`` is the shop before the entry. Batches and their progress are read from the rows as they are by now.
    """

    def __init__(self, writing: Writing, at: datetime) -> None:
        self.writing, self.draft, self.at = writing, writing.draft, at
        self.shop: Shop = self.draft.shop()
        self.facts: dict[str, Any] = {}  # what the entry says besides, for later entries to look up

    def check(self) -> None:
        """Refuses where the tables would have faults now."""
        try:
            self.draft.shop()
        except DataFaults as found:
            raise Refused("That does not fit: " + " ".join(map(str, found.faults))) from found

    # --- names --------------------------------------------------------------------------------

    def known(self, table: str, name: str) -> StoredRow:
        """The row of a table with a key of one column."""
        column = TABLE[table].key[0]
        row = self.draft.find(table, **{column: name})
        if row is None:
            mend = did_you_mean(name, [r[column] for r in self.draft.rows(table)], f"see {table}.csv.")
            raise Refused(f"There is no {column} '{name}'. {mend}")
        return row

    def batch(self, name: str) -> OpenBatch:
        """An open batch with its progress as it is now."""
        row = self.known("batches", name)
        found = typed(row)
        progress = sorted((self._progress(r) for r in self.rows_of(name)), key=lambda p: p.operation)
        return OpenBatch(
            name, found["part"], found["quantity"], found["order"], found["material_date"], tuple(progress)
        )

    def rows_of(self, batch: str) -> list[StoredRow]:
        """Progress rows of a batch."""
        return [r for r in self.draft.rows("progress") if r["batch"] == batch]

    def row(self, batch: str, operation: int) -> StoredRow | None:
        return self.draft.find("progress", batch=batch, operation=operation)

    def running(self) -> Iterator[dict[str, Any]]:
        """Progress rows of all that is set up on a machine now, typed."""
        return (typed(r) for r in self.draft.rows("progress") if r["state"].casefold() == "running")

    def steps(self, part: str) -> tuple[Operation, ...]:
        return self.shop.routings[part].operations

    def step(self, batch: OpenBatch, number: int) -> tuple[int, Operation]:
        """Place in the routing, and the step."""
        for place, step in enumerate(self.steps(batch.part)):
            if step.number == number:
                return place, step
        numbers = ", ".join(str(s.number) for s in self.steps(batch.part))
        raise Refused(f"Batch {batch.number} has no operation {number}: its operations are {numbers}.")

    def states(self, batch: OpenBatch) -> tuple[StepState, ...]:
        """State of every step, as planning sees it."""
        return step_states(self.shop.routings[batch.part], batch.quantity, batch.progress)

    @staticmethod
    def _progress(row: StoredRow) -> Progress:
        return Progress(**{name: value for name, value in typed(row).items() if name != "batch"})

    # --- what was booked ------------------------------------------------------------------------

    @cached_property
    def bookings(self) -> list[Entry]:
        """Bookings that were not undone, the first first."""
        return [e for e in self.writing.entries(BOOKING) if e.undone_by is None]

    def booked(self, batch: str, operation: int) -> list[Entry]:
        """Those of one step."""
        return [e for e in self.bookings if (e.data.get("batch"), e.data.get("operation")) == (batch, operation)]

    def since_start(self, batch: str, operation: int) -> list[Entry] | None:
        """Those of one step from its last start on; None where it was begun before there was a store."""
        found = self.booked(batch, operation)
        starts = [i for i, e in enumerate(found) if e.what == "start"]
        return found[starts[-1] :] if starts else None

    def not_before(self, earlier: Entry | None, words: str) -> None:
        """Refuses a moment before an earlier entry's."""
        if earlier is not None and self.at < earlier.at:
            raise Refused(f"{words} at {earlier.at:{MINUTE}}, {self.at:{MINUTE}} is before that.")

    # --- progress -------------------------------------------------------------------------------

    def put(self, batch: str, operation: int, **cells: Any) -> None:
        """Change the progress row of a step, or add it."""
        texts = {name: _cell(value) for name, value in cells.items()}
        row = self.row(batch, operation)
        if row is None:
            self.draft.add("progress", {"batch": batch, "operation": operation, **texts})
        else:
            self.draft.put(row, texts)


def _cell(value: Any) -> Any:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:{MINUTE}}" if isinstance(value, datetime) else value
