"""The first form of a store."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "shop",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("writes", sa.Integer, nullable=False),
    )
    op.create_table(
        "sheets",
        sa.Column("name", sa.String(64), primary_key=True),
        sa.Column("file", sa.String(255), nullable=False),
        sa.Column("heading", sa.JSON, nullable=False),
        sa.Column("line_end", sa.String(2), nullable=False),
        sa.Column("original", sa.LargeBinary, nullable=False),
    )
    op.create_table(
        "rows",
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("sheet", sa.String(64), nullable=False),
        sa.Column("place", sa.Integer, nullable=False),
        sa.Column("cells", sa.JSON, nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("rows_by_sheet", "rows", ["sheet", "place"])
    op.create_table(
        "entries",
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("recorded", sa.String(32), nullable=False),
        sa.Column("at", sa.String(16), nullable=False),
        sa.Column("who", sa.String(255), nullable=False),
        sa.Column("kind", sa.String(16), nullable=False),
        sa.Column("what", sa.String(32), nullable=False),
        sa.Column("words", sa.Text, nullable=False),
        sa.Column("data", sa.JSON, nullable=False),
        sa.Column("undoes", sa.Integer, sa.ForeignKey("entries.id")),
        sa.Column("undone_by", sa.Integer, sa.ForeignKey("entries.id")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "changes",
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("entry", sa.Integer, sa.ForeignKey("entries.id"), nullable=False),
        sa.Column("row", sa.Integer, nullable=False),
        sa.Column("sheet", sa.String(64), nullable=False),
        sa.Column("place", sa.Integer, nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("before", sa.JSON(none_as_null=True)),
        sa.Column("after", sa.JSON(none_as_null=True)),
        sa.Column("lasting", sa.Boolean, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_changes_entry", "changes", ["entry"])
    op.create_index("ix_changes_row", "changes", ["row"])
    op.create_table(
        "plans",
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("entry", sa.Integer, sa.ForeignKey("entries.id"), nullable=False),
        sa.Column("made", sa.String(32), nullable=False),
        sa.Column("who", sa.String(255), nullable=False),
        sa.Column("state", sa.String(16), nullable=False),
        sa.Column("decided", sa.Integer, sa.ForeignKey("entries.id")),
        sa.Column("document", sa.Text, nullable=False),
        sqlite_autoincrement=True,
    )
