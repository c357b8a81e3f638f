"""What can be wrong with a store itself."""

from __future__ import annotations


class StoreFault(Exception):
    """A store cannot be opened, made or written; the message says which and what to do."""
