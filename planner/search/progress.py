"""What a search tells while it runs."""

from __future__ import annotations

from dataclasses import dataclass

from planner.plan import Bound, Cost


@dataclass(frozen=True)
class Progress:
    """State of a running search: ``seconds`` since it began, lists timed, and the best cost so far."""

    seconds: float
    trials: int
    phase: str  # e.g. 'first plan', 'list search', 'solver'
    cost: Cost
    bound: Bound
