"""Tables to a ``Shop``, or every fault at once.

A shop folder goes three steps: ``reader`` (files to rows of text), ``convert`` (text to typed values), ``build``
(rows to records), with ``checks`` before the last. ``tables`` declares what the files look like.
"""

from __future__ import annotations

from pathlib import Path

from planner.faults import DataFaults, Fault
from planner.intake.build import build_shop
from planner.intake.checks import all_faults
from planner.intake.convert import convert_table
from planner.intake.reader import Reading, read_folder
from planner.intake.rows import Row, Tables
from planner.intake.settings import convert_settings
from planner.shop import Shop

__all__ = ["read_shop", "read_tables", "shop_of", "tables_of"]


def read_shop(folder: Path) -> Shop:
    """The shop whose tables are in a folder.

    Parameters
    ----------
    folder
        Holds a CSV file for each table of :mod:`planner.intake.tables`.

    Raises
    ------
    DataFaults
        When anything is wrong, with every fault that can be told; nothing is loaded by halves.
    """
    return shop_of(read_folder(folder))


def shop_of(reading: Reading) -> Shop:
    """The shop of tables that have been read, from wherever; raises as :func:`read_shop`."""
    tables, faults = tables_of(reading)
    faults.extend(all_faults(tables))
    if faults:
        raise DataFaults(faults)
    return build_shop(tables)


def read_tables(folder: Path) -> tuple[Tables, list[Fault]]:
    """Typed rows of every table of a folder, and what is wrong with files and cells."""
    return tables_of(read_folder(folder))


def tables_of(reading: Reading) -> tuple[Tables, list[Fault]]:
    """Typed rows of every table that has been read, and what is wrong with files and cells."""
    faults = list(reading.faults)
    rows: dict[str, tuple[Row, ...]] = {}
    for name, text_table in reading.tables.items():
        typed, problems = convert_table(text_table)
        rows[name] = tuple(typed)
        faults.extend(problems)
    settings: dict[str, object] = {}
    if "settings" in rows:
        settings, problems = convert_settings(rows["settings"])
        faults.extend(problems)
    return Tables(rows, frozenset(reading.unread), settings), faults
