"""Ways of promising a day: the planner's safe date, and two that shops live with.

Days are working days counted from the start of the replay; a day's promise is kept by its dispatch cut-off.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta
from typing import Protocol

import numpy as np

from replay.quoting import Quote
from replay.world import dispatch, opening, promise_day


class Way(Protocol):
    """Gives the working day to promise."""

    def day(self, quote: Quote, route: str) -> int: ...


def day_of_minute(quote: Quote, minute: float) -> int:
    """The first working day whose cut-off is at or after a minute counted from the quote's morning."""
    return promise_day(opening(quote.day) + timedelta(minutes=int(np.ceil(minute))))


def chance_of(quote: Quote, day: int) -> float:
    """What is said of a day: the share of the draws that are ready by its cut-off, and what that has been worth."""
    return quote.record.worth(reached(quote.drawn, (dispatch(day) - opening(quote.day)) // timedelta(minutes=1)))


def reached(drawn: np.ndarray, minute: int) -> float:
    """Share of the draws (sorted) that are ready by a minute."""
    return float(np.searchsorted(drawn, minute, side="right")) / len(drawn)


@dataclass(frozen=True)
class Safe:
    """The first day of which ``percent`` or more is said."""

    percent: int

    def day(self, quote: Quote, route: str) -> int:
        chance = quote.record.needed(self.percent / 100)
        at = max(0, int(np.ceil(round(chance * len(quote.drawn), 9))) - 1)
        return day_of_minute(quote, float(quote.drawn[at]))


@dataclass(frozen=True)
class Constant:
    """The planned finish and so many working days."""

    days: int

    def day(self, quote: Quote, route: str) -> int:
        return day_of_minute(quote, quote.planned_min) + self.days


@dataclass(frozen=True)
class Fixed:
    """So many working days from the enquiry, by class of routing."""

    days: dict[str, int] = field(default_factory=dict)

    def day(self, quote: Quote, route: str) -> int:
        return quote.day + self.days[route]
