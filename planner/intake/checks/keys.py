"""Keys are used once, and can be written where other tables mention them."""

from __future__ import annotations

from collections.abc import Iterator

from planner.faults import Fault
from planner.intake.rows import Row, Tables
from planner.intake.tables import TABLES, Table


def duplicate_keys(tables: Tables) -> Iterator[Fault]:
    for table in TABLES:
        first: dict[tuple[object, ...], Row] = {}
        for row in tables[table.name]:
            if not table.key or not row.good(*table.key):
                continue
            earlier = first.setdefault(tuple(row[column] for column in table.key), row)
            if earlier is not row:
                yield _duplicate(table, earlier, row)


def _duplicate(table: Table, earlier: Row, row: Row) -> Fault:
    shown = ", ".join(row.text[column] for column in table.key)
    what = " and ".join(table.key)
    mend = f"Rows {earlier.number} and {row.number} have the same: remove or rename one."
    return row.fault(table.key[-1], f"{what} not already in row {earlier.number}", mend, shown)


def names_with_marks(tables: Tables) -> Iterator[Fault]:
    """``;`` and ``*`` separate equipment in lists; ``*`` alone means all calendars."""
    for row in tables["equipment"]:
        if row["equipment"] and set(row["equipment"]) & {";", "*"}:
            yield row.fault("equipment", "a name without ; and *", "Lists of equipment use these marks: rename it.")
    for row in tables["calendars"]:
        if row["calendar"] == "*":
            yield row.fault("calendar", "a name other than *", "In closed_days.csv * means all calendars: rename it.")
