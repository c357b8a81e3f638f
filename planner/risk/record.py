"""What became of the dates that were given: what a chance read off the draws has been worth so far.

For each past quote there is the chance that its draws gave for the last day on which the order was not ready: a promise of the
first day for which the draws gave more would have been kept. Were the draws right, the share of quotes below a chance would be
that chance (Dawid, Journal of the Royal Statistical Society A 147:278-292, 1984); where it is not, it is what the chance is
worth (Kuleshov, Fenner and Ermon, Proceedings of Machine Learning Research 80:2796-2804, 2018). What tells one order from
another is the draws' alone: the record says only how far to go into them, for all orders alike, or for all of a kind. A kind
with few quotes leans on the record of all (partial pooling: Morris, Journal of the American Statistical Association 78:47-55,
1983): an order that goes outside misses a van by a minute and is days late, so its draws may be worth less than others'.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

import numpy as np

from planner.counted import counted
from planner.shop import Shop

CREDIBLE = 60  # quotes that weigh as much as what is taken without any: the draws' word, or the record of all kinds


@dataclass(frozen=True)
class Record:
    """``reached`` (sorted): of each quote that is old enough, the chance (0 to 1) its draws gave for the cut-off of the last day
    before the order was ready; 1 where it is not ready yet. ``wider``: of more kinds of orders; None: the draws are believed."""

    reached: tuple[float, ...] = ()
    wider: Record | None = None

    @staticmethod
    def of(reached: Iterable[float], wider: Record | None = None) -> Record:
        return Record(tuple(sorted(reached)), wider)

    def worth(self, chance: float) -> float:
        """Share of promises that hold of the first day for which the draws say ``chance`` (0 to 1): as it was, mixed with
        what would be said without these quotes."""
        without = chance if self.wider is None else self.wider.worth(chance)
        if not self.reached:
            return without
        held = float(np.searchsorted(self.reached, chance, side="left"))
        return (held + CREDIBLE * without) / (len(self.reached) + CREDIBLE)

    def needed(self, share: float) -> float:
        """The least chance of the draws that is worth at least ``share``, to a thousandth; 1 where none is."""
        low, high = 0, 1000
        while low < high:
            middle = (low + high) // 2
            low, high = (low, middle) if self.worth(middle / 1000) >= share else (middle + 1, high)
        return low / 1000

    @staticmethod
    def of_kind(quotes: Collection[tuple[bool, float]], outside: bool) -> Record:
        """Of quotes with outside work or of those without, leaning on all. ``quotes``: whether with it, and what was reached."""
        return Record.of(
            (chance for kind, chance in quotes if kind is outside), Record.of(chance for _, chance in quotes)
        )


def booked_record(shop: Shop, outside: bool) -> Record:
    """What became of the shop's dates, for orders that go outside or for those that do not."""
    return Record.of_kind([(d.outside, d.reached) for d in shop.history.dates], outside)


def record_lines(record: Record, share: float, outside: bool) -> tuple[str, ...]:
    """What the record makes of a chance (0 to 1), in words; nothing where it makes less than one draw in a hundred of difference."""
    past, now, draws = record.wider, round(100 * record.needed(share)), round(100 * share)
    if past is None or not past.reached or now == draws:
        return ()
    kind = "with" if outside else "without"
    learned = f"Learned from {counted(len(past.reached), 'date')} given before ({len(record.reached):,} of orders {kind} outside work): "
    if record.worth(1.0) < share:
        return (
            f"{learned}even the day by which all of 100 draws are ready is no more than {100 * record.worth(1.0):.0f} % sure.",
        )
    later = "later" if now > draws else "sooner"
    return (f"{learned}the {draws} % sure day is put {later}, where {now} of 100 draws are ready.",)
