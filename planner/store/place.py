"""Where a shop is kept: a folder of tables, a database file, or the address of a database server."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

ShopPlace = Path | str  # a str is a database address such as postgresql://user@host/name
NO_DATABASE = ("SQLITE_NOTADB", "SQLITE_CANTOPEN")


def is_store(place: ShopPlace) -> bool:
    """Is it a database, by its address or by what the file holds? Otherwise it is a folder of tables.

    The file is looked at by SQLite alone: where a process that has the database open reads the file itself and closes it
    again, the system takes away the locks that keep other processes from clearing up its log under its hands
    (https://www.sqlite.org/howtocorrupt.html, section 2.2).
    """
    if isinstance(place, str):
        return True
    try:
        if not place.is_file() or not place.stat().st_size:
            return False
        with closing(sqlite3.connect(f"{place.absolute().as_uri()}?mode=rw", uri=True)) as database:
            database.execute("PRAGMA schema_version").fetchone()
    except OSError:
        return False
    except sqlite3.DatabaseError as fault:  # in use just now, or damaged: a database all the same
        return not getattr(fault, "sqlite_errorname", "").startswith(NO_DATABASE)
    return True


def database_address(place: ShopPlace) -> str:
    """The address for SQLAlchemy; servers are spoken to with psycopg."""
    if isinstance(place, Path):
        return f"sqlite:///{place.absolute().as_posix()}"
    for short in ("postgresql://", "postgres://"):
        if place.startswith(short):
            return "postgresql+psycopg://" + place.removeprefix(short)
    return place
