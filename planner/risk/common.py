"""Good and bad spells of a whole shop, from what was booked: how far its weeks differ more than chance would have it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from planner.risk.spread import Lognormal

LEAST_ROWS = 5  # bookings of a week that counts
LEAST_WEEKS = 6


def common_of(weeks: Iterable[Sequence[float]]) -> Lognormal | None:
    """Spread of the factor that all times share.

    The variance between weeks of the mean logarithm, less what the spread within weeks makes of it (one-way random effects
    by moments: Searle, Casella and McCulloch, *Variance Components*, 1992, section 3.6).

    Parameters
    ----------
    weeks
        Actual over planned time of what was booked, week by week.

    Returns
    -------
    Lognormal or None
        None where there are too few weeks to tell.
    """
    logs = [np.log(np.array(week, float)) for week in weeks if len(week) >= LEAST_ROWS]
    if len(logs) < LEAST_WEEKS:
        return None
    n = sum(len(week) for week in logs)
    within = sum(float(((week - week.mean()) ** 2).sum()) for week in logs) / (n - len(logs))
    middle = sum(float(week.sum()) for week in logs) / n
    between = sum(len(week) * (float(week.mean()) - middle) ** 2 for week in logs) / (len(logs) - 1)
    size = (n - sum(len(week) ** 2 for week in logs) / n) / (len(logs) - 1)
    return Lognormal(100 * max(0.0, (between - within) / size) ** 0.5)
