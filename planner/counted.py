"""Numbers with what they count, and lists of names, as people say them."""

from __future__ import annotations

from collections.abc import Sequence


def counted(count: int, one: str, many: str = "") -> str:
    """'1 fault', '2 faults', '1,204 batches'; ``many`` where the noun does not simply take an s."""
    return f"{count:,} {one if count == 1 else many or one + 's'}"


def listed(names: Sequence[str], most: int | None = None, word: str = "and") -> str:
    """'A', 'A and B', 'A, B and C'; beyond ``most`` of them the rest are counted: 'A, B and 3 more'."""
    shown = list(names) if most is None or len(names) <= most else [*names[: most - 1], f"{len(names) - most + 1} more"]
    return f" {word} ".join(filter(None, (", ".join(shown[:-1]), *shown[-1:])))
