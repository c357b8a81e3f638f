"""Where a shop is kept: a folder of tables, a database file, or the address of a database server."""

from __future__ import annotations

from pathlib import Path

ShopPlace = Path | str  # a str is a database address such as postgresql://user@host/name
_SQLITE_START = b"SQLite format 3\x00"


def is_store(place: ShopPlace) -> bool:
    """Is it a database, by its address or by how its file begins? Otherwise it is a folder of tables."""
    if isinstance(place, str):
        return True
    try:
        with place.open("rb") as file:
            return file.read(len(_SQLITE_START)) == _SQLITE_START
    except OSError:
        return False


def database_address(place: ShopPlace) -> str:
    """The address for SQLAlchemy; servers are spoken to with psycopg."""
    if isinstance(place, Path):
        return f"sqlite:///{place.absolute().as_posix()}"
    for short in ("postgresql://", "postgres://"):
        if place.startswith(short):
            return "postgresql+psycopg://" + place.removeprefix(short)
    return place
