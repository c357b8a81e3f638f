"""Learning curves: what a piece takes as more of them have been made.

Two forms go by the same name and differ. In the *unit* form (J. R. Crawford; the usual table) the n-th piece takes n^b of the
first; in the *cumulative average* form (T. P. Wright, Journal of the Aeronautical Sciences 3:122-128, 1936) the average of the first n does.
b = log2(learning share). The planner's own figures are in the unit form.
"""

from __future__ import annotations

from math import log2

import numpy as np


def exponent(percent: float) -> float:
    """The (negative) power for a learning percentage: time at each doubling, of the time before.

    Raises
    ------
    ValueError
        Outside 0 < percent <= 100.
    """
    if not 0 < percent <= 100:
        raise ValueError(f"a learning percentage is above 0 and up to 100, not {percent}")
    return log2(percent / 100)


def unit_time(piece: int, percent: float) -> float:
    """Time of the n-th piece, the first being 1 (unit form)."""
    return float(piece ** exponent(percent))


def unit_total(first: int, last: int, percent: float) -> float:
    """Time of pieces ``first`` to ``last``, both included, the very first ever made being 1 (unit form)."""
    return float((np.arange(first, last + 1, dtype=np.float64) ** exponent(percent)).sum())


def average_total(pieces: int, percent: float) -> float:
    """Time of the first n pieces, the first being 1 (cumulative average form)."""
    return pieces * float(pieces ** exponent(percent))


def share_of_present(made_before: int, then: int, pieces: int, percent: float) -> float:
    """Mean time of ``pieces`` that come after ``then`` more, as a share of the present time (that of piece ``made_before`` + 1)."""
    if pieces <= 0 or percent == 100:
        return 1.0
    first = made_before + then + 1
    return unit_total(first, first + pieces - 1, percent) / pieces / unit_time(made_before + 1, percent)
