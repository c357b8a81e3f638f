"""Shares of a whole, and per cent of what there is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Share:
    """What one batch asks of a figure, in the figure's own unit (minutes or pieces)."""

    batch: str
    amount: int


def shares(amounts: Mapping[str, int]) -> tuple[Share, ...]:
    """The batches behind a figure, those that ask most first."""
    found = sorted(amounts.items(), key=lambda row: (-row[1], row[0]))
    return tuple(Share(batch, amount) for batch, amount in found if amount)


def percent(needed: int, there: float) -> float | None:
    """One decimal, never cut off at 100; None where nothing is there to compare with."""
    return round(100 * needed / there, 1) if there else None
