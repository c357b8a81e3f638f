"""How sure a plan is: its running order timed again many times with times, scrap and hours that come otherwise."""

from planner.risk.draws import Draws, draw
from planner.risk.of_shop import spreads_of
from planner.risk.safe import safe_day
from planner.risk.spread import BookedDays, Lognormal, Spread, ThreePoint
from planner.risk.spreads import RUN, SETUP, Booked, Breakdown, Late, Spreads, Turn

__all__ = [
    "RUN", "SETUP", "Booked", "BookedDays", "Breakdown", "Draws", "Late", "Lognormal", "Spread", "Spreads", "ThreePoint",
    "Turn",
    "draw", "safe_day", "spreads_of",
]  # fmt: skip
