"""What the search is measured against, each with its source.

Best known values of ``jsp``, ``fjsp`` and ``twt`` are in the data files themselves (``ub``, ``best_known``); those of the
weighted tardiness are recalled from the literature and not all confirmed.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Target:
    """Weighted minutes late: ``cost`` not to be exceeded, ``bound`` to be reached (None: none is known)."""

    cost: int
    bound: int | None
    optimal: bool
    source: str


_PROVED = "optimum, proved by one CP-SAT model of the whole on two workers"
_SET = "cost set as an aim below what trials of other methods reached; bound of one CP-SAT model, 2 workers, 120 s"
_AIM = "cost set as an aim below what trials of other methods reached"

SHOPS = {
    "shop-100-1": Target(8_516, 8_516, True, _PROVED),
    "shop-100-2": Target(11_943, 11_943, True, _PROVED),
    "shop-300-1": Target(19_600, 17_240, False, _SET),
    "shop-300-2": Target(101_100, 70_301, False, _SET),
    "shop-1000-1": Target(112_000, 98_328, False, _SET),
    "shop-1000-2": Target(142_000, 118_255, False, _SET),
    "shop-3000-1": Target(393_000, None, False, _AIM),
    "shop-10000-1": Target(1_345_000, None, False, _AIM),
}
