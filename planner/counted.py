"""A number and what it counts, as people say it."""

from __future__ import annotations


def counted(count: int, one: str, many: str = "") -> str:
    """'1 fault', '2 faults', '1,204 batches'; ``many`` where the noun does not simply take an s."""
    return f"{count:,} {one if count == 1 else many or one + 's'}"
