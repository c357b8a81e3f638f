"""The shop's tables as rows of text, as a store keeps them: to intake, and to CSV files.

A table that is as it was taken in is written out byte for byte. One that was changed keeps its headings, the order of
its rows and its line ends, and is quoted only where it must be.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from planner.intake.reader import Reading, Record, read_records, records_of
from planner.intake.tables import TABLES, Table

TABLE = {table.name: table for table in TABLES}
Cells = dict[str, str]


@dataclass(frozen=True)
class StoredRow:
    """One row: ``place`` orders the rows of a sheet, ``version`` counts its changes from 1 on."""

    id: int
    sheet: str
    place: int
    cells: Cells  # by column; a column that is not there is empty
    version: int

    def __getitem__(self, column: str) -> str:
        return self.cells.get(column, "")


@dataclass(frozen=True)
class Sheet:
    """One table. ``original`` holds the bytes of its file (none where there was no file)."""

    table: Table
    file: str
    heading: tuple[str, ...]
    line_end: str = "\n"
    original: bytes = b""
    rows: tuple[StoredRow, ...] = ()

    @property
    def columns(self) -> tuple[str, ...]:
        """Headings as taken in, then those that rows have come to need."""
        used = {column for row in self.rows for column, cell in row.cells.items() if cell}
        known = {cell.casefold() for cell in self.heading}
        more = (c.name for c in self.table.columns if c.name in used and c.name not in known)
        return (*self.heading, *more)

    def records(self) -> list[Record]:
        """Heading and rows, numbered as they will stand in the file that is written out."""
        columns = self.columns
        names = [c.casefold() for c in columns]
        return [(1, list(columns)), *enumerate(([row[name] for name in names] for row in self.rows), 2)]

    def to_bytes(self) -> bytes:
        """The CSV file."""
        records = [cells for _, cells in self.records()]
        if self.original:
            as_taken_in, rows = sheet_of(self.table, self.file, self.original)
            if records == [list(as_taken_in.heading), *(list(row.values()) for row in rows)]:
                return self.original
        out = io.StringIO()
        csv.writer(out, lineterminator=self.line_end).writerows(records)
        mark = b"\xef\xbb\xbf" if self.original.startswith(b"\xef\xbb\xbf") else b""
        return mark + out.getvalue().encode()


def sheet_of(table: Table, file: str, data: bytes) -> tuple[Sheet, list[Cells]]:
    """A sheet without rows from a file that intake has found to be good, and its rows' cells."""
    (_, heading), *body = records_of(data, file)
    heading = heading[: len([cell for cell in heading if cell])]  # intake lets empty columns at the end pass
    line_end = "\r\n" if b"\r\n" in data else "\n"
    cells = [dict(zip((h.casefold() for h in heading), row, strict=False)) for _, row in body]
    return Sheet(table, file, tuple(heading), line_end, data), cells


def missing_sheet(table: Table) -> Sheet:
    """For a table that the folder did without."""
    return Sheet(table, f"{table.name}.csv", tuple(column.name for column in table.columns))


@dataclass
class Sheets:
    """All tables of a shop; ``entry`` is the last entry that is in them."""

    sheets: dict[str, Sheet] = field(default_factory=dict)
    entry: int = 0

    def __getitem__(self, name: str) -> Sheet:
        return self.sheets[name]

    def rows(self, name: str) -> tuple[StoredRow, ...]:
        return self.sheets[name].rows

    def find(self, name: str, /, **cells: object) -> StoredRow | None:
        """The first row of a table with these cells."""
        wanted = {column.rstrip("_"): str(value) for column, value in cells.items()}
        return next((r for r in self.rows(name) if all(r[c] == v for c, v in wanted.items())), None)

    @property
    def written(self) -> Iterable[Sheet]:
        """Those that there is a file for: taken in with one, or with rows by now."""
        return (sheet for sheet in self.sheets.values() if sheet.original or sheet.rows)

    def reading(self) -> Reading:
        """As if read from files."""
        return read_records({sheet.table.name: (sheet.file, sheet.records()) for sheet in self.written})


def with_rows(sheets: Iterable[Sheet], rows: Iterable[StoredRow], entry: int) -> Sheets:
    """Sheets with their rows, in order of place."""
    found: dict[str, list[StoredRow]] = {name: [] for name in TABLE}
    for row in rows:
        if row.sheet in found:  # a table of another version of the program is kept, and passed over
            found[row.sheet].append(row)
    by_name: Mapping[str, Sheet] = {sheet.table.name: sheet for sheet in sheets}
    return Sheets(
        {
            name: replace(
                by_name.get(name) or missing_sheet(table),
                rows=tuple(sorted(found[name], key=lambda r: (r.place, r.id))),
            )
            for name, table in TABLE.items()
        },
        entry,
    )
