"""What became of the dates that were given: what a chance read off the draws has been worth so far.

For each past quote there is the chance that its draws gave for the moment at which the order was ready. Were the draws right,
those chances would be spread evenly over 0 to 1 (Dawid, Journal of the Royal Statistical Society A 147:278-292, 1984); where
they are not, the share of them up to a chance is what that chance is worth (Kuleshov, Fenner and Ermon, Proceedings of Machine
Learning Research 80:2796-2804, 2018). What tells one order from another is the draws' alone: the record says only how far to
go into them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

CREDIBLE = 60  # quotes that weigh as much as taking the draws at their word


@dataclass(frozen=True)
class Record:
    """``reached`` (sorted): of each quote that is old enough, the chance its draws gave for when it was ready; 1 where it is
    not ready yet."""

    reached: tuple[float, ...] = ()

    @staticmethod
    def of(reached: Iterable[float]) -> Record:
        return Record(tuple(sorted(reached)))

    def worth(self, chance: float) -> float:
        """Chance (0 to 1) that a date holds for which the draws say ``chance``: as it was, mixed with the draws' own word."""
        n = len(self.reached)
        held = float(np.searchsorted(self.reached, chance, side="right"))
        return (held + CREDIBLE * chance) / (n + CREDIBLE)

    def needed(self, share: float) -> float:
        """The least chance of the draws that is worth at least ``share``, to a thousandth; 1 where none is."""
        low, high = 0, 1000
        while low < high:
            middle = (low + high) // 2
            low, high = (low, middle) if self.worth(middle / 1000) >= share else (middle + 1, high)
        return low / 1000
