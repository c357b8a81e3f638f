"""Bar stock: how many parts a bar gives, how many bars a batch needs, and what they weigh."""

from __future__ import annotations

from math import pi

from planner.explode.quantities import setting_pieces
from planner.shop import Bar, Operation


def parts_a_bar(
    length: float, remnant: float, part: float, cutoff: float, facing: float = 0, *, last_uncut: bool = False
) -> int:
    """Parts from one bar; lengths in one unit. ``last_uncut``: the last piece needs no cut."""
    usable = length - remnant + (cutoff if last_uncut else 0)
    return max(0, int(usable // (part + cutoff + facing)))


def bars_needed(pieces: int, a_bar: int) -> int:
    """Whole bars for so many pieces."""
    return -(-pieces // a_bar)


def kg_a_metre(diameter_mm: float, density: float) -> float:
    """Mass of a round bar; density in g a cubic centimetre (aluminium 2.70, stainless 316 8.00 by EN 10088-1)."""
    return pi / 4 * diameter_mm**2 * density / 1000


def parts_of(bar: Bar) -> int:
    """Parts from one of these bars."""
    return parts_a_bar(bar.length_um, bar.remnant_um, bar.part_um, bar.cutoff_um, bar.facing_um)


def kg_of(bar: Bar, bars: int) -> float | None:
    """Mass of so many of these bars; None where diameter or density are not known."""
    if bar.diameter_um is None or bar.density_kg_m3 is None:
        return None
    return bars * bar.length_um / 1_000_000 * kg_a_metre(bar.diameter_um / 1000, bar.density_kg_m3 / 1000)


def pieces_of_bar(operations: tuple[Operation, ...], batch: int) -> int:
    """Pieces that a batch takes of the bar, those for setting included."""
    return batch + setting_pieces(operations)
