"""What the search is measured against, each with its source, and what is aimed at.

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


@dataclass(frozen=True)
class Aim:
    """Of all instances of some families: the mean gap in per cent, or the sum of costs in parts of that of the best known,
    not to be exceeded, and the share that is to reach the best known cost."""

    suite: str
    families: tuple[str, ...]
    gap: float | None = None
    total: float | None = None
    reached: float | None = None


AIMS = (
    Aim("jsp", ("ft", "la", "abz", "orb"), gap=0.3, reached=0.9),
    Aim("jsp", ("ta01-30",), gap=2.0),
    Aim("jsp", ("ta31-50",), gap=4.0),
    Aim("jsp", ("ta51-80",), gap=2.0),
    Aim("fjsp", ("mk",), gap=2.5),
    Aim("fjsp", ("edata",), gap=1.0),
    Aim("fjsp", ("rdata",), gap=1.0),
    Aim("fjsp", ("vdata",), gap=1.0),
    Aim("twt", ("f 1.3", "f 1.5", "f 1.6"), reached=64 / 66),
    Aim("twt", ("f 1.3",), total=1.002),
    Aim("twt", ("f 1.5",), total=1.002),
    Aim("twt", ("f 1.6",), total=1.002),
)
FIRST_PLAN_SEC = {3_000: 2.0, 10_000: 6.0}  # by operations of the shop, at most
MOST_MB = 1_500
