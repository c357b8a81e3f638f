"""Records as plain dictionaries for JSON, and as CSV that a spreadsheet opens without harm."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from typing import Any

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")


def as_row(record: Any) -> dict[str, Any]:
    """A record as a dictionary of text, numbers, lists and dictionaries only."""
    return {field.name: _plain(getattr(record, field.name)) for field in fields(record)}


def as_rows(records: Iterable[Any]) -> list[dict[str, Any]]:
    """Each record as a dictionary, in the same order."""
    return [as_row(record) for record in records]


def _plain(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return as_row(value)
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    return value


def csv_text(records: Sequence[Any], columns: Sequence[str]) -> str:
    """The named fields of the records as CSV with a heading, one line each.

    A text that a spreadsheet would take for a formula gets an apostrophe in front; numbers are
    left as they are.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(columns)
    for record in records:
        writer.writerow([safe_cell(getattr(record, column)) for column in columns])
    return out.getvalue()


def safe_cell(value: Any) -> Any:
    """A cell that is text stays text when a spreadsheet reads it."""
    if value is None:
        return ""
    if isinstance(value, tuple | list):
        value = "; ".join(str(item) for item in value)
    if isinstance(value, str) and value.startswith(FORMULA_STARTS):
        return "'" + value
    return value
