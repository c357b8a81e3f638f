"""Files to rows of text: the declared tables of a shop folder, with true row numbers.

Nothing is guessed: a cell is the text between its commas, without spaces around it. A row is numbered as a
spreadsheet numbers it, so a line break inside quotes does not count and a blank row does.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from planner.counted import counted
from planner.faults import Fault
from planner.intake.nearest import did_you_mean, nearest
from planner.intake.tables import TABLES, Table

OTHER_FORMATS = {".xls", ".xlsx", ".xlsm", ".ods", ".tsv"}
Record = tuple[int, list[str]]  # a row's number and its cells
_ODD_SPACES = str.maketrans({"\u00a0": " ", "\u2007": " ", "\u202f": " ", "\u200b": None, "\ufeff": None})


@dataclass(frozen=True)
class TextRow:
    """Cells by declared column. ``whole`` is false where the row has not as many cells as the heading."""

    number: int
    cells: dict[str, str]
    whole: bool = True


@dataclass(frozen=True)
class TextTable:
    table: Table
    file: str
    rows: tuple[TextRow, ...]


@dataclass
class Reading:
    """What could be read, what is wrong with it, and which tables cannot be relied on at all."""

    tables: dict[str, TextTable] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    unread: set[str] = field(default_factory=set)


class Unreadable(Exception):
    """A file cannot be read as the table it should be."""

    def __init__(self, *faults: Fault) -> None:
        self.faults = faults
        super().__init__("\n".join(map(str, faults)))


def read_folder(folder: Path, instead: Mapping[str, bytes] | None = None) -> Reading:
    """All declared tables of a folder, as text.

    Parameters
    ----------
    folder
        Holds one CSV file for each table; letter case of file names does not matter.
    instead
        By name of a file: what is read in its place, whether it is there or not.

    Returns
    -------
    Reading
        With a fault for each unknown, missing or unreadable file and each row that does not fit its heading.
    """
    reading, instead = Reading(), instead or {}
    try:
        there = {path for path in folder.iterdir() if path.is_file() and not path.name.startswith((".", "~$"))}
        files = sorted(there | {folder / name for name in instead})
    except OSError:
        reading.faults.append(
            Fault(str(folder), None, "", "", "a folder with the tables of a shop", "Name the folder, not a file in it.")
        )
        reading.unread.update(table.name for table in TABLES)
        return reading
    reading.faults.extend(_strangers(files))
    for table in TABLES:
        paths = [path for path in files if path.name.casefold() == f"{table.name}.csv"]
        _read_table(table, paths, instead, reading)
    return reading


def read_records(tables: Mapping[str, tuple[str, list[Record]]]) -> Reading:
    """Tables that are kept elsewhere than in files, as text.

    Parameters
    ----------
    tables
        By name of the table: what its file is called in messages, and its records, the heading first.

    Returns
    -------
    Reading
        As of a folder with these files.
    """
    reading = Reading()
    for table in TABLES:
        if table.name in tables:
            _take(table, *tables[table.name], reading)
        else:
            _lacking(table, reading)
    return reading


def _strangers(files: Iterable[Path]) -> Iterator[Fault]:
    known = {f"{table.name}.csv" for table in TABLES}
    for path in files:
        suffix = path.suffix.casefold()
        if suffix in OTHER_FORMATS:
            mend = f"Save it as '{path.stem}.csv' (CSV UTF-8), or move it out of the folder."
            yield Fault(path.name, None, "", path.name, "CSV files only", mend)
        elif suffix == ".csv" and path.name.casefold() not in known:
            mend = did_you_mean(path.name, known, "move it out of the folder.")
            yield Fault(path.name, None, "", path.name, "the file of a known table", mend)


def _read_table(table: Table, paths: list[Path], instead: Mapping[str, bytes], reading: Reading) -> None:
    if not paths:
        _lacking(table, reading)
        return
    try:
        if len(paths) > 1:
            name, both = f"{table.name}.csv", ", ".join(path.name for path in paths)
            raise Unreadable(Fault(name, None, "", both, "one file for the table", "Keep only one of them."))
        data = instead.get(paths[0].name)
        records = records_of(_bytes(paths[0]) if data is None else data, paths[0].name)
    except Unreadable as problem:
        _give_up(table, problem, reading)
    else:
        _take(table, paths[0].name, records, reading)


def _lacking(table: Table, reading: Reading) -> None:
    if table.required:
        mend = f"Add the file ({table.meaning.lower()}) with the headings {_headings(table)}."
        reading.faults.append(Fault(f"{table.name}.csv", None, "", "", "this file in the folder", mend))
        reading.unread.add(table.name)


def _take(table: Table, file: str, records: list[Record], reading: Reading) -> None:
    try:
        reading.tables[table.name] = _fit(table, file, records, reading.faults)
    except Unreadable as problem:
        _give_up(table, problem, reading)


def _give_up(table: Table, problem: Unreadable, reading: Reading) -> None:
    reading.faults.extend(problem.faults)
    reading.unread.add(table.name)


def _headings(table: Table) -> str:
    return ",".join(column.name for column in table.columns)


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as problem:
        why = problem.strerror or str(problem)
        raise Unreadable(
            Fault(path.name, None, "", why, "a file that can be read", "Close it in other programs and see its rights.")
        ) from None


def records_of(data: bytes, file: str) -> list[Record]:
    """Numbered rows of a CSV file that have something in them; raises :class:`Unreadable`."""
    return _records(_text(data, file), file)


def rows_of_file(data: bytes, file: str, table: Table) -> tuple[TextRow, ...]:
    """Rows of one CSV file, read as a folder's table would be.

    Raises
    ------
    Unreadable
        When it is no CSV file, or with every fault of its headings and of rows that do not fit them.
    """
    faults: list[Fault] = []
    try:
        found = _fit(table, file, records_of(data, file), faults)
    except Unreadable as problem:
        raise Unreadable(*faults, *problem.faults) from None
    if faults:
        raise Unreadable(*faults)
    return found.rows


def _text(data: bytes, file: str) -> str:
    """The file's text, its byte-order mark taken off."""
    save = "Open it in the spreadsheet and save it as 'CSV UTF-8'."
    if not data.strip():
        raise Unreadable(Fault(file, None, "", "", "a heading row", "The file is empty: restore or fill it."))
    if data.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\x00" in data:
        raise Unreadable(Fault(file, None, "", "UTF-16 or binary data", "UTF-8 text", save))
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        row = max(1, sum(1 for _ in csv.reader(io.StringIO(data[: problem.start].decode("latin-1"), newline=""))))
        byte = data[problem.start : problem.start + 1]
        found = f"byte 0x{byte.hex()} ('{byte.decode('cp1252', 'replace')}' in Windows-1252)"
        raise Unreadable(Fault(file, row, "", found, "UTF-8 text", save)) from None


def trimmed(cell: str) -> str:
    """A cell's text without spaces of any kind around it."""
    return cell.translate(_ODD_SPACES).strip()


def _records(text: str, file: str) -> list[Record]:
    result: list[Record] = []
    number = 0
    try:
        for number, cells in enumerate(csv.reader(io.StringIO(text, newline=""), strict=True), 1):
            found = [trimmed(cell) for cell in cells]
            if any(found):
                result.append((number, found))
    except csv.Error as problem:
        mend = 'Put a quote at both ends of the cell and double those inside ("").'
        raise Unreadable(Fault(file, number + 1, "", str(problem), "cells with matching quotes", mend)) from None
    return result


def _fit(table: Table, file: str, records: list[Record], faults: list[Fault]) -> TextTable:
    """Rows of a table by declared column."""
    if not records:
        raise Unreadable(Fault(file, None, "", "", "a heading row", f"Add the headings {_headings(table)}."))
    (heading_row, heading), body = records[0], records[1:]
    _refuse_other_separator(file, heading_row, heading)
    while heading and not heading[-1] and all(not any(cells[len(heading) - 1 :]) for _, cells in body):
        heading = heading[:-1]
        body = [(number, cells[: len(heading)]) for number, cells in body]
    columns, problems = _match(table, file, heading_row, heading)
    faults.extend(problems)
    missing = [c.name for c in table.columns if c.name not in columns and c.required]
    if missing:
        raise Unreadable()
    rows = []
    for number, cells in body:
        whole = len(cells) == len(heading)
        if not whole:
            faults.append(_wrong_count(file, number, cells, heading))
        found = {name: cells[i] for i, name in enumerate(columns) if name and i < len(cells)}
        rows.append(TextRow(number, found, whole))
    return TextTable(table, file, tuple(rows))


def _refuse_other_separator(file: str, row: int, heading: list[str]) -> None:
    if len(heading) == 1:
        for mark, name in ((";", "semicolons"), ("\t", "tabs")):
            if mark in heading[0]:
                mend = "Save it as CSV with commas."
                raise Unreadable(Fault(file, row, "", f"headings separated by {name}", "commas between cells", mend))


def _match(table: Table, file: str, row: int, heading: list[str]) -> tuple[list[str], list[Fault]]:
    """Declared column of each heading cell ('' where there is none), and what is wrong with the headings."""
    declared = [column.name for column in table.columns]
    columns: list[str] = []
    faults: list[Fault] = []
    for cell in heading:
        name = cell.casefold()
        if name in declared and name in columns:
            faults.append(Fault(file, row, cell, cell, "each heading once", "Remove one of the two columns."))
            name = ""
        elif name not in declared:
            expected = f"one of {', '.join(declared)}"
            mend = did_you_mean(cell, set(declared) - {h.casefold() for h in heading}, "remove the column.")
            faults.append(Fault(file, row, cell, cell, expected, mend if cell else "Give the column a heading."))
            name = ""
        columns.append(name)
    for column in table.columns:
        if column.name not in columns and column.required:
            mend = _missing_mend(column.name, [cell for cell in heading if cell.casefold() not in declared])
            faults.append(Fault(file, row, column.name, "", f"a column '{column.name}'", mend))
    return columns, faults


def _missing_mend(name: str, strangers: list[str]) -> str:
    found = nearest(name, strangers)
    return f"Rename the heading '{found}' to '{name}'." if found else f"Add the column '{name}'."


def _wrong_count(file: str, number: int, cells: list[str], heading: list[str]) -> Fault:
    found = f"{counted(len(cells), 'cell')}: {','.join(cells)}"
    mend = "Put quotes round a cell that has a comma in it, or add the commas that are missing."
    return Fault(file, number, "", found, f"{counted(len(heading), 'cell')}, as in the heading", mend)
