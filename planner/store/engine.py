"""Connections to the database: one writer at a time, readers that see one moment, and migrations.

An embedded database is in write-ahead mode with every commit forced to the disk, so what was acknowledged is there
after a crash of the program or the machine, and a half-written change never is
(https://www.sqlite.org/pragma.html#pragma_synchronous, https://www.sqlite.org/wal.html).
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy import Connection, Engine, event
from sqlalchemy.exc import ArgumentError, NoSuchModuleError, OperationalError, SQLAlchemyError

from planner.store import schema
from planner.store.place import ShopPlace, database_address
from planner.store.trouble import StoreFault

WAIT_SEC = 30  # for another writer to end
WRITING = "batchwright_writing"  # execution option of a connection that will write


class Database:
    """A database of the newest form; see :meth:`reading` and :meth:`writing`."""

    def __init__(self, place: ShopPlace) -> None:
        self.place = place
        try:
            self._engine = _engine(place)
        except (ArgumentError, NoSuchModuleError, ImportError) as fault:
            raise StoreFault(
                f"{place}: this is no database that can be used here ({fault}). "
                "Name a file, or a server as postgresql://user@host/name (with the package psycopg)."
            ) from fault

    def close(self) -> None:
        """Give all connections back; the last one to close an embedded database tidies its files up."""
        self._engine.dispose()

    def form(self) -> str | None:
        """The migration step the database is at; None where it is not a store."""
        with self._plainly(), self._engine.connect() as connection:
            if not sa.inspect(connection).has_table("alembic_version"):
                return None
            return connection.scalar(sa.text("SELECT version_num FROM alembic_version"))

    @contextmanager
    def migrating(self) -> Iterator[Connection]:
        """A writing transaction, begun with bringing the database to the newest form."""
        from alembic import command
        from alembic.config import Config

        config = Config()
        config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
        with self._plainly(), self._connect_to_write() as connection, connection.begin():
            config.attributes["connection"] = connection
            command.upgrade(config, "head")
            yield connection

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A transaction that sees the database as it is at its beginning."""
        with self._plainly(), self._engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A transaction that no other writer is in; all of it is kept, or nothing where an error leaves it."""
        with self._plainly(), self._connect_to_write() as connection, connection.begin():
            if connection.dialect.name != "sqlite":  # there, to begin writing is to have the lock
                connection.execute(sa.update(schema.shop).values(writes=schema.shop.c.writes + 1))
            yield connection

    def _connect_to_write(self) -> Connection:
        """A server's writer sees, once it has the lock, what the writer before it has left."""
        connection = self._engine.connect().execution_options(**{WRITING: True})
        if connection.dialect.name != "sqlite":
            connection = connection.execution_options(isolation_level="READ COMMITTED")
        return connection

    @contextmanager
    def _plainly(self) -> Iterator[None]:
        """Troubles of the database in plain words."""
        try:
            yield
        except OperationalError as fault:
            raise StoreFault(f"{self.place}: the store cannot be used just now ({fault.orig}).") from fault
        except SQLAlchemyError as fault:
            reason = getattr(fault, "orig", None) or fault
            raise StoreFault(f"{self.place}: this is no store, or it is damaged ({reason}).") from fault


def _engine(place: ShopPlace) -> Engine:
    address = database_address(place)
    if address.startswith("sqlite"):
        engine = sa.create_engine(address, connect_args={"timeout": WAIT_SEC})
        event.listen(engine, "connect", _prepare)
        event.listen(engine, "begin", _begin)
        return engine
    return sa.create_engine(address, isolation_level="REPEATABLE READ")


def _prepare(raw: Any, _record: Any) -> None:
    raw.isolation_level = None  # transactions begin where we say so, not where the driver thinks they should
    cursor = raw.cursor()
    for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON"):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _begin(connection: Connection) -> None:
    writing = connection.get_execution_options().get(WRITING)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")
