"""Typed rows, each knowing where it stands, and the faults that point there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from planner.faults import Fault

ON_MACHINE = ("machine", "manual")  # kinds of step that are done on a machine or bench


@dataclass(frozen=True)
class Row:
    """One row of a table: typed values and the text they came from, by column.

    ``bad`` holds columns whose text could not be used; their value is None and their fault is
    already listed. Where a row has the wrong number of cells, all columns but the key are bad.
    """

    file: str
    number: int
    values: dict[str, Any]
    text: dict[str, str]
    bad: frozenset[str] = frozenset()

    def __getitem__(self, column: str) -> Any:
        return self.values[column]

    def good(self, *columns: str) -> bool:
        """Can these columns be relied on (all columns, when none is named)?"""
        return not self.bad.intersection(columns) if columns else not self.bad

    def fault(self, column: str, expected: str, mend: str, value: str | None = None) -> Fault:
        """A fault at a cell of this row; ``value`` where the cell's text alone does not show it."""
        return Fault(
            self.file, self.number, column, self.text.get(column, "") if value is None else value, expected, mend
        )


@dataclass(frozen=True)
class Tables:
    """All tables as typed rows. ``unread`` names those that cannot be relied on at all."""

    rows: dict[str, tuple[Row, ...]] = field(default_factory=dict)
    unread: frozenset[str] = frozenset()
    settings: dict[str, Any] = field(default_factory=dict)  # by Settings field, good values only

    def __getitem__(self, table: str) -> tuple[Row, ...]:
        return self.rows.get(table, ())

    def complete(self, table: str) -> Iterator[Row]:
        """The rows of a table in which every cell could be used."""
        return (row for row in self[table] if row.good())

    def sure(self, table: str, *columns: str) -> bool:
        """Is every cell of these columns usable, so that what is not there is truly missing?"""
        return table not in self.unread and all(row.good(*columns) for row in self[table])

    def keys(self, table: str, column: str) -> set[str]:
        return {row[column] for row in self[table] if row[column] is not None}

    def by_key(self, table: str, column: str) -> dict[str, Row]:
        """Rows by a one-column key; of duplicates the first."""
        return {row[column]: row for row in reversed(self[table]) if row[column] is not None}

    @cached_property
    def skills(self) -> set[str]:
        """Every skill that somebody has."""
        return {skill for row in self["people"] for skill in row["skills"] or ()}

    @cached_property
    def steps(self) -> dict[tuple[str, int], Row]:
        """Routing rows by part and operation number; of duplicates the first."""
        return {
            (row["part"], row["operation"]): row for row in reversed(self["routings"]) if row.good("part", "operation")
        }

    @cached_property
    def routings(self) -> dict[str, list[Row]]:
        """Routing rows of each part, in order of number."""
        result: dict[str, list[Row]] = {}
        for (part, _), row in sorted(self.steps.items()):
            result.setdefault(part, []).append(row)
        return result

    @cached_property
    def group_machines(self) -> dict[str, list[str]]:
        """Machines of each group, in table order."""
        result: dict[str, list[str]] = {}
        for row in self["machines"]:
            if row.good("machine"):
                result.setdefault(row["group"], []).append(row["machine"])
        return result

    @cached_property
    def listed_machines(self) -> dict[tuple[str, int], list[Row]]:
        """Rows of ``routing_machines`` for each step that has some."""
        result: dict[tuple[str, int], list[Row]] = {}
        for row in self["routing_machines"]:
            if row.good("part", "operation", "machine"):
                result.setdefault((row["part"], row["operation"]), []).append(row)
        return result

    def machines_of(self, step: Row) -> list[str]:
        """Machines that can do a step: those listed for it, else all of its group."""
        listed = self.listed_machines.get((step["part"], step["operation"]))
        if listed:
            return [row["machine"] for row in listed]
        return self.group_machines.get(step["group"], [])

    def cannot(self, machine: str, step: Row) -> bool:
        """Is it certain that a machine cannot do a step? Not where a cell that decides it is bad."""
        if step["kind"] not in ON_MACHINE:
            return step["kind"] is not None
        listed = self.listed_machines.get((step["part"], step["operation"]))
        if listed:
            sure = self.sure("routing_machines", "part", "operation", "machine")
            return sure and machine not in {row["machine"] for row in listed}
        row = self.by_key("machines", "machine").get(machine)
        return bool(row and row["group"] and step["group"] and row["group"] != step["group"])
