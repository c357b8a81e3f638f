"""First plans by rule, list search, a bound, and starts held back: anytime, seeded, stoppable."""

from planner.search.engine import search
from planner.search.later import start_later
from planner.search.progress import Progress
from planner.search.ready import get_ready

__all__ = ["Progress", "get_ready", "search", "start_later"]
