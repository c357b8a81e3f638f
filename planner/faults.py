"""Faults in the data: every one is listed with where it is and how to mend it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Fault:
    """One thing wrong in the shop's tables.

    ``row`` is the row as a spreadsheet numbers it (the heading is row 1); None for the whole file.
    """

    file: str
    row: int | None
    column: str
    value: str
    expected: str
    mend: str

    def __str__(self) -> str:
        place = self.file if self.row is None else f"{self.file}, row {self.row}"
        column = f", column '{self.column}'" if self.column else ""
        return f"{place}{column}: found '{self.value}', expected {self.expected}. {self.mend}"


class DataFaults(Exception):
    """The tables cannot be used; ``faults`` lists every reason, in order of file and row."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(sorted(faults, key=lambda f: (f.file, f.row or 0, f.column, f.value)))
        super().__init__("\n".join(str(f) for f in self.faults))


class PlanFileFault(Exception):
    """A plan file cannot be read, or was made for other data; the message says which and what to do."""


class QuestionFault(ValueError):
    """A question cannot be answered as it is asked; ``reasons`` lists all that is wrong with it and how to mend it."""

    def __init__(self, reasons: Iterable[str]) -> None:
        self.reasons = tuple(reasons)
        super().__init__("\n".join(self.reasons))
