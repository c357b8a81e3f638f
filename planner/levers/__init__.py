"""Ways to have an order sooner, each really planned: ``sooner(job, order, by_min)``."""

from planner.levers.lever import Lever, weighing
from planner.levers.sooner import Ways, sooner, with_changes

__all__ = ["Lever", "Ways", "sooner", "weighing", "with_changes"]
