"""What a store's bookings say of times: planned beside actual, for how sure dates are.

``reading`` (entries with what they did to which step) -> ``steps`` (from start to end: setups, runs, turns, holds) ->
``history`` (in open minutes, beside what the tables plan). ``dates_given`` are promises and what became of them.
"""

from __future__ import annotations

from planner.booked.dates_given import DateGiven, dates_given, record_of, with_dates
from planner.booked.history import with_history
from planner.shop import Shop
from planner.store import ShopPlace

__all__ = ["DateGiven", "dates_given", "record_of", "with_dates", "with_history", "with_past"]


def with_past(place: ShopPlace | None, shop: Shop) -> Shop:
    """The shop with all that a date to come can learn from: what was booked, and the dates given before."""
    return with_dates(place, with_history(place, shop))
