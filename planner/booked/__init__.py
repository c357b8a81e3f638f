"""What a store's bookings say of times: planned beside actual, for how sure dates are.

``reading`` (entries with what they did to which step) -> ``steps`` (from start to end: setups, runs, turns, holds) ->
``history`` (in open minutes, beside what the tables plan). ``dates_given`` are promises and what became of them.
"""

from __future__ import annotations

from planner.booked.dates_given import DateGiven, dates_given, record_of
from planner.booked.history import with_history

__all__ = ["DateGiven", "dates_given", "record_of", "with_history"]
