"""Copies of the tiny shop's folder with cells changed, for the tests of intake.

An edit is made by ``put``, ``add``, ``drop``, ``backwards``, ``text`` or ``gone`` and applied by ``Folder.edit``. Rows are numbered
as a spreadsheet numbers them: the heading is row 1.
"""

from __future__ import annotations

import csv
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Self

import pytest

from planner.faults import DataFaults, Fault
from planner.intake import read_shop
from planner.shop import Shop

TINY_SHOP = Path(__file__).parent / "data" / "tiny_shop"

Edit = Callable[[Path], None]
Place = tuple[str, int | None, str]


class Folder:
    """A copy of a shop, the tiny one unless said otherwise, that can be spoilt."""

    def __init__(self, path: Path, origin: Path = TINY_SHOP) -> None:
        self.path = path
        shutil.copytree(origin, path)

    def edit(self, *edits: Edit) -> Self:
        for change in edits:
            change(self.path)
        return self

    def read(self) -> Shop:
        return read_shop(self.path)

    def faults(self) -> tuple[Fault, ...]:
        """Every fault; none where the folder reads."""
        try:
            self.read()
        except DataFaults as problem:
            return problem.faults
        return ()

    def only_fault(self) -> Fault:
        faults = self.faults()
        assert len(faults) == 1, "\n".join(map(str, faults)) or "the folder reads"
        return faults[0]


def with_a_late_batch(path: Path) -> Folder:
    """The tiny shop with an order for a part that takes a day on either lathe, is milled quickly, and may be split (not run as one)."""
    large = "order=O-6|part=GR-120|quantity=110|due=2026-03-24|class=urgent|material_date=2026-03-23"
    return (
        Folder(path)
        .edit(add("orders", large), put("parts", 4, "combine_within_days", ""), put("routings", 8, "cycle_sec", "15"))
        .edit(put("routings", 7, "cycle_sec", "240"), put("routing_machines", 3, "cycle_sec", "240"))
    )


def place(fault: Fault) -> Place:
    return fault.file, fault.row, fault.column


def _rows(folder: Path, table: str) -> list[list[str]]:
    with (folder / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


def _save(folder: Path, table: str, rows: list[list[str]]) -> None:
    with (folder / f"{table}.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)


def put(table: str, row: int, column: str, value: str) -> Edit:
    """Change one cell."""

    def change(folder: Path) -> None:
        rows = _rows(folder, table)
        rows[row - 1][rows[0].index(column)] = value
        _save(folder, table, rows)

    return change


def add(table: str, cells: str) -> Edit:
    """Add a row of ``column=value`` pairs separated by ``|``; the other cells are empty."""

    def change(folder: Path) -> None:
        rows = _rows(folder, table)
        given = dict(pair.split("=", 1) for pair in cells.split("|"))
        assert set(given) <= set(rows[0])
        rows.append([given.get(column, "") for column in rows[0]])
        _save(folder, table, rows)

    return change


def drop(table: str, row: int) -> Edit:
    """Remove one row."""

    def change(folder: Path) -> None:
        rows = _rows(folder, table)
        del rows[row - 1]
        _save(folder, table, rows)

    return change


def backwards(folder: Path) -> None:
    """An edit: the rows of every table from last to first."""
    for file in folder.glob("*.csv"):
        heading, *rows = _rows(folder, file.stem)
        _save(folder, file.stem, [heading, *reversed(rows)])


def text(name: str, content: str | bytes) -> Edit:
    """Write a whole file, named with its suffix."""

    def change(folder: Path) -> None:
        (folder / name).write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))

    return change


def gone(name: str) -> Edit:
    """Remove a file, named with its suffix."""
    return lambda folder: (folder / name).unlink()


def case(name: str, at: Place, bad: list[Edit], good: list[Edit]) -> object:
    """A parametrised case: edits that make exactly one fault at a place, and the nearest edits that make none."""
    return pytest.param(at, bad, good, id=name.replace(" ", "_"))
