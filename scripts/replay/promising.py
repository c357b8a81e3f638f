"""Ways of promising a day: the planner's safe date, and two that shops live with.

Days are working days counted from the start of the replay; a day's promise is kept by its dispatch cut-off.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta
from typing import Protocol

import numpy as np

from replay.quoting import Quote
from replay.world import KNOWN_DAYS, dispatch, opening, promise_day

DAY_MIN = 1440


class Way(Protocol):
    """Gives the working day to promise, and the chance (0 to 1) that is stated of it."""

    def promise(self, quote: Quote, route: str) -> tuple[int, float]: ...


def day_of_minute(quote: Quote, minute: float) -> int:
    """The first working day whose cut-off is at or after a minute counted from the quote's morning; the last that is known where
    the known calendars end before it."""
    ahead = min(int(np.ceil(minute)), KNOWN_DAYS * DAY_MIN)
    return promise_day(opening(quote.day) + timedelta(minutes=ahead))


def chance_of(quote: Quote, day: int) -> float:
    """What is said of a day: what the share of the draws that are ready by its cut-off has been worth."""
    return quote.record.worth(reached(quote, day))


def reached(quote: Quote, day: int) -> float:
    """Share of the draws that are ready by a day's cut-off."""
    until = (dispatch(day) - opening(quote.day)) // timedelta(minutes=1)
    return float(np.searchsorted(quote.drawn, until, side="right")) / len(quote.drawn)


@dataclass(frozen=True)
class Safe:
    """The first day by which as many draws are ready as have been worth ``percent``, and of which that is said.

    Draws that are ready by that day beyond those needed are not counted on: work is done for the day that is promised.
    """

    percent: int

    def promise(self, quote: Quote, route: str) -> tuple[int, float]:
        chance = quote.record.needed(self.percent / 100)
        at = max(0, int(np.ceil(round(chance * len(quote.drawn), 9))) - 1)
        return day_of_minute(quote, float(quote.drawn[at])), quote.record.worth(chance)


@dataclass(frozen=True)
class Constant:
    """The planned finish and so many working days."""

    days: int

    def promise(self, quote: Quote, route: str) -> tuple[int, float]:
        day = day_of_minute(quote, quote.planned_min) + self.days
        return day, chance_of(quote, day)


@dataclass(frozen=True)
class Fixed:
    """So many working days from the enquiry, by class of routing."""

    days: dict[str, int] = field(default_factory=dict)

    def promise(self, quote: Quote, route: str) -> tuple[int, float]:
        day = quote.day + self.days[route]
        return day, chance_of(quote, day)
