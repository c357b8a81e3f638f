"""First plans by rule, list search and a bound: anytime, seeded, stoppable."""

from planner.search.engine import search
from planner.search.progress import Progress

__all__ = ["Progress", "search"]
