"""Rows added to a shop's tables, and cells changed: the whole shop is read and checked with them before any file is touched.

All other text stays as it is, byte for byte; rows come at the end of a file. Only where a table lacks a column
that a new row needs is its heading, and with it every line, made one cell longer.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from planner.faults import DataFaults, Fault
from planner.intake import shop_of
from planner.intake.reader import read_folder, trimmed
from planner.intake.tables import table_named
from planner.whole_file import write_whole

Rows = Mapping[str, Sequence[Mapping[str, str]]]  # table -> rows of text by column
Cells = Mapping[tuple[str, str], Mapping[str, str]]  # (table, its key) -> text by column


@dataclass(frozen=True)
class Named:
    """What the new rows of a table are called in faults: a file, or words, and the rows' numbers (from 1 on where none are given)."""

    called: str
    numbers: Sequence[int] = ()


def renamed(found: DataFaults, before: Mapping[str, int], named: Mapping[str, Named]) -> DataFaults:
    """Faults with those of new rows told by what the rows are called. ``before``: rows of each table above the new ones, with its heading."""

    def told(fault: Fault) -> Fault:
        for table, rows in named.items():
            if fault.file.casefold() == f"{table}.csv" and fault.row is not None and fault.row > before[table]:
                nth = fault.row - before[table]
                return replace(fault, file=rows.called, row=rows.numbers[nth - 1] if rows.numbers else nth)
        return fault

    return DataFaults(map(told, found.faults))


class Added:
    """A shop with more rows in its tables. ``shop`` is that shop; nothing is written until :meth:`write`.

    Parameters
    ----------
    folder
        The shop's tables.
    rows
        By table: rows of text by column; what a row leaves out is empty.
    cells
        By table and the text in its key column: cells that get another text.
    named
        By table: what its new rows are called in faults, in place of the table's file and row.

    Raises
    ------
    DataFaults
        With every fault of the shop with these rows.
    """

    def __init__(
        self, folder: Path, rows: Rows, named: Mapping[str, Named] | None = None, cells: Cells | None = None
    ) -> None:
        cells = cells or {}
        self._files = {table: _file_of(folder, table) for table in dict.fromkeys([*rows, *(t for t, _ in cells)])}
        self._before = {table: _text(file) for table, file in self._files.items()}
        self._texts = dict(self._before)
        for table, more in rows.items():
            self._texts[table] = with_rows(self._texts[table], table, more)
        for (table, key), changed in cells.items():
            self._texts[table] = with_cells(self._texts[table], table, key, changed)
        instead = {self._files[table].name: _bytes(text) for table, text in self._texts.items()}
        try:
            self.shop = shop_of(read_folder(folder, instead))
        except DataFaults as found:
            before = {table: _lines(self._texts[table]) - len(more) for table, more in rows.items()}
            raise renamed(found, before, named or {}) from None

    def write(self) -> None:
        """Write the tables, in the order in which they were given.

        Raises
        ------
        DataFaults
            When a table was changed by someone else in the meantime, or cannot be written. Then nothing of that table, or of
            those after it, is written.
        """
        for table, text in self._texts.items():
            file = self._files[table]
            if _text(file) != self._before[table]:
                raise DataFaults(
                    [
                        Fault(
                            file.name,
                            None,
                            "",
                            "",
                            "the table as it was a moment ago",
                            "Someone else has changed it: ask again.",
                        )
                    ]
                )
            try:
                write_whole(file, _bytes(text))
            except OSError as problem:
                why = problem.strerror or str(problem)
                raise DataFaults(
                    [
                        Fault(
                            file.name,
                            None,
                            "",
                            why,
                            "a file that can be written",
                            "Close it in other programs and see its rights.",
                        )
                    ]
                ) from problem


def with_rows(text: str, table: str, rows: Sequence[Mapping[str, str]]) -> str:
    """The text of a table with rows at its end, and with the columns that they need."""
    end = "\r\n" if "\r\n" in text else "\n"
    if not _columns(text):
        text = ",".join(column.name for column in table_named(table).columns) + end
    text, known = _with_columns(text, (c for row in rows for c, cell in row.items() if cell), end)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator=end)
    for row in rows:
        writer.writerow([row.get(column, "") for column in known])
    return text + ("" if text.endswith(("\n", "\r")) else end) + out.getvalue()


def with_cells(text: str, table: str, key: str, cells: Mapping[str, str]) -> str:
    """The text of a table whose row with ``key`` in its key column has other cells; all other lines as they are.

    Raises
    ------
    KeyError
        When there is no such row.
    """
    end = "\r\n" if "\r\n" in text else "\n"
    text, known = _with_columns(text, (column for column, cell in cells.items() if cell), end)
    lines = list(io.StringIO(text, newline=""))  # the lines that the reader counts
    (column,) = table_named(table).key
    if column not in known:
        raise KeyError(key)
    at = known.index(column)
    reader, began, is_below = csv.reader(lines), 0, False
    for row in reader:
        if is_below and [trimmed(cell) for cell in row[at : at + 1]] == [key]:
            out = io.StringIO()
            wide = [*row, *[""] * (len(known) - len(row))]
            csv.writer(out, lineterminator=end).writerow(
                [cells.get(c, cell) for c, cell in zip(known, wide, strict=False)]
            )
            return "".join([*lines[:began], out.getvalue(), *lines[reader.line_num :]])
        began, is_below = reader.line_num, is_below or any(map(trimmed, row))
    raise KeyError(key)


def _columns(text: str) -> list[str]:
    """The headings, which stand in the first row that has something in it."""
    rows = ([trimmed(cell).casefold() for cell in row] for row in csv.reader(io.StringIO(text, newline="")))
    return next(filter(any, rows), [])


def _with_columns(text: str, needed: Iterable[str], end: str) -> tuple[str, list[str]]:
    """The text of a table, wider by the columns that it lacks, and all its columns."""
    known = _columns(text)
    missing = [column for column in dict.fromkeys(needed) if column not in known]
    return _wider(text, missing, end) if missing else text, known + missing


def _wider(text: str, columns: Sequence[str], end: str) -> str:
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator=end)
    more = list(columns)
    for row in csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline="")):
        is_blank = not any(map(trimmed, row))
        writer.writerow(row if is_blank else [*row, *more])
        if not is_blank:  # that was the heading
            more = [""] * len(columns)
    return mark + out.getvalue()


def _lines(text: str) -> int:
    return sum(1 for _ in csv.reader(io.StringIO(text, newline="")))


def _file_of(folder: Path, table: str) -> Path:
    name = f"{table}.csv"
    return next((file for file in folder.iterdir() if file.name.casefold() == name), folder / name)


def _text(file: Path) -> str:
    return file.read_bytes().decode("utf-8", "surrogateescape") if file.exists() else ""


def _bytes(text: str) -> bytes:
    return text.encode("utf-8", "surrogateescape")
