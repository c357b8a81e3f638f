"""A minute as a day that can be promised."""

from __future__ import annotations

from datetime import date, timedelta

from planner.explode.clock import Clock, clock_of
from planner.shop import Shop
from planner.work import NEVER


def safe_day(shop: Shop | Clock, minute: int) -> date | None:
    """The day of the first dispatch cut-off of the shop calendar at or after a minute: promises are days.

    Parameters
    ----------
    shop
        The shop, or its clock (``planner.explode.clock.clock_of``) where many days are asked for.
    minute
        Planning minute, such as ``draws.at(order, 0.9)``.

    Returns
    -------
    date or None
        None beyond the known calendars.
    """
    clock = shop if isinstance(shop, Clock) else clock_of(shop)
    if minute >= NEVER:
        return None
    day = clock.day_of(minute)
    if clock.due(day) < minute:
        day += timedelta(days=1)
    while not clock.open_on(day):
        if clock.calendar is not None and day > clock.calendar.known_to:
            return None
        day += timedelta(days=1)
    return day
