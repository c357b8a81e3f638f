"""Tables of the database. A change here needs a step in ``migrations/versions``; a test compares the two.

A shop table's rows are kept as text by column, so that a column that is added to ``planner/intake/tables.py`` needs
no migration: older rows have it empty, as an older CSV file has.
"""

from __future__ import annotations

from sqlalchemy import (
    JSON,
    Boolean,
    Column,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
)

HEAD = "0001"  # newest step of the migrations
metadata = MetaData()

# One row. Writing it first makes writers queue up, on every kind of database.
shop = Table(
    "shop", metadata,
    Column("id", Integer, primary_key=True),
    Column("writes", Integer, nullable=False),
)  # fmt: skip

# A table of the shop's folder as it was taken in: its file name, headings and bytes.
sheets = Table(
    "sheets", metadata,
    Column("name", String(64), primary_key=True),
    Column("file", String(255), nullable=False),
    Column("heading", JSON, nullable=False),
    Column("line_end", String(2), nullable=False),
    Column("original", LargeBinary, nullable=False),
)  # fmt: skip

rows = Table(
    "rows", metadata,
    Column("id", Integer, primary_key=True, autoincrement=True),
    Column("sheet", String(64), nullable=False),
    Column("place", Integer, nullable=False),
    Column("cells", JSON, nullable=False),
    Column("version", Integer, nullable=False),
    Index("rows_by_sheet", "sheet", "place"),
    sqlite_autoincrement=True,
)  # fmt: skip

# Whatever was entered: a booking, an event, a decision, a plan accepted, an undo.
entries = Table(
    "entries", metadata,
    Column("id", Integer, primary_key=True, autoincrement=True),
    Column("recorded", String(32), nullable=False),  # UTC, by the clock of the machine that wrote it
    Column("at", String(16), nullable=False),  # local moment in the shop
    Column("who", String(255), nullable=False),
    Column("kind", String(16), nullable=False),
    Column("what", String(32), nullable=False),
    Column("words", Text, nullable=False),
    Column("data", JSON, nullable=False),
    Column("undoes", Integer, ForeignKey("entries.id")),
    Column("undone_by", Integer, ForeignKey("entries.id")),
    sqlite_autoincrement=True,
)  # fmt: skip

# What an entry did to one row. ``lasting`` changes are not taken back with it: time goes on.
changes = Table(
    "changes", metadata,
    Column("id", Integer, primary_key=True, autoincrement=True),
    Column("entry", Integer, ForeignKey("entries.id"), nullable=False, index=True),
    Column("row", Integer, nullable=False, index=True),
    Column("sheet", String(64), nullable=False),
    Column("place", Integer, nullable=False),
    Column("version", Integer, nullable=False),  # of the row afterwards
    Column("before", JSON(none_as_null=True)),  # None: the row was added
    Column("after", JSON(none_as_null=True)),  # None: it was removed
    Column("lasting", Boolean, nullable=False),
    sqlite_autoincrement=True,
)  # fmt: skip

plans = Table(
    "plans", metadata,
    Column("id", Integer, primary_key=True, autoincrement=True),
    Column("entry", Integer, ForeignKey("entries.id"), nullable=False),  # the tables it was made for are those then
    Column("made", String(32), nullable=False),  # UTC
    Column("who", String(255), nullable=False),
    Column("state", String(16), nullable=False),  # waiting, accepted, refused
    Column("decided", Integer, ForeignKey("entries.id")),  # the entry that accepted or refused it
    Column("document", Text, nullable=False),
    sqlite_autoincrement=True,
)  # fmt: skip
