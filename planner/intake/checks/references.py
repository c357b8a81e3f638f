"""Every name that a row mentions is the key of the table it refers to."""

from __future__ import annotations

from collections.abc import Iterator

from planner.faults import Fault
from planner.intake.nearest import did_you_mean
from planner.intake.rows import Row, Tables
from planner.intake.tables import TABLES

KEYS = {table.name: table.key[0] for table in TABLES if len(table.key) == 1}
ALL_CALENDARS = "*"
# references that the column declarations cannot say: (table, column, table referred to)
_OTHERS = (("closed_days", "calendar", "calendars"), ("machines", "on_equipment", "equipment"))


def unknown_names(tables: Tables) -> Iterator[Fault]:
    for table in TABLES:
        for column in table.columns:
            if column.refers:
                yield from _unknown(tables, table.name, column.name, column.refers)
    for name, column_name, refers in _OTHERS:
        yield from _unknown(tables, name, column_name, refers)


def _unknown(tables: Tables, table: str, column: str, refers: str) -> Iterator[Fault]:
    if refers in tables.unread:
        return
    known = tables.keys(refers, KEYS[refers])
    for row in tables[table]:
        for name in _mentioned(row, column):
            if name not in known and (table, name) != ("closed_days", ALL_CALENDARS):
                mend = did_you_mean(name, known, f"add it to {refers}.csv.")
                yield row.fault(column, f"a name from {refers}.csv", mend, name)


def _mentioned(row: Row, column: str) -> list[str]:
    """Names in a cell: one, several, or several with counts."""
    value = row[column]
    if not value:
        return []
    if isinstance(value, str):
        return [value]
    return [item if isinstance(item, str) else item[0] for item in value]


def unknown_shop_calendar(tables: Tables) -> Iterator[Fault]:
    name = tables.settings.get("shop_calendar")
    known = tables.keys("calendars", "calendar")
    if name and name not in known:
        row = tables.by_key("settings", "name")["shop_calendar"]
        yield row.fault("value", "a name from calendars.csv", did_you_mean(name, known, "add it to calendars.csv."))
