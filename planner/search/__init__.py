"""First plans by rule, list search and a bound: anytime, seeded, stoppable."""

from planner.search.engine import search
from planner.search.progress import Progress
from planner.search.ready import get_ready

__all__ = ["Progress", "get_ready", "search"]
