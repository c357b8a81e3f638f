"""A minute as a day that can be promised."""

from __future__ import annotations

from datetime import date, timedelta

from planner.explode.clock import Clock, clock_of
from planner.shop import Shop
from planner.work import NEVER


def safe_day(shop: Shop | Clock, minute: int, allowance_min: int = 0) -> date | None:
    """The day of the first dispatch cut-off of the shop calendar at or after a minute: promises are days.

    Parameters
    ----------
    shop
        The shop, or its clock (``planner.explode.clock.clock_of``) where many days are asked for.
    minute
        Planning minute, such as ``draws.at(order, 0.9)``.
    allowance_min
        Elapsed minutes added before: for work that is not ordered yet where a promise goes beyond the visible load
        (how long that waits is a matter of utilisation, not of this plan).

    Returns
    -------
    date or None
        None beyond the known calendars.
    """
    clock = shop if isinstance(shop, Clock) else clock_of(shop)
    wanted = minute + allowance_min
    if wanted >= NEVER:
        return None
    day = clock.day_of(wanted)
    if clock.due(day) < wanted:
        day += timedelta(days=1)
    while not clock.open_on(day):
        if clock.calendar is not None and day > clock.calendar.known_to:
            return None
        day += timedelta(days=1)
    return day
