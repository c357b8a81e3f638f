"""A shop kept in a database: its tables row by row, everything that was entered, and every accepted plan.

``place`` (which database) -> ``engine`` (connections, one writer at a time) -> ``store`` (entries and what they
changed). ``sheets`` are the tables as rows of text: they go through the same conversion and checks as a folder of
files (``planner/intake``).
"""

from __future__ import annotations

from planner.store.draft import Change, Draft, Stale
from planner.store.place import ShopPlace, is_store
from planner.store.records import Entry, Note, StoredPlan
from planner.store.sheets import StoredRow
from planner.store.store import Store, Writing
from planner.store.trouble import StoreFault

__all__ = [
    "Change", "Draft", "Entry", "Note", "ShopPlace", "Stale", "Store", "StoreFault", "StoredPlan", "StoredRow", "Writing", "is_store",
]  # fmt: skip
