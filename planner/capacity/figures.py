"""What several answers read off one plan, made when first asked for and then kept."""

from __future__ import annotations

from functools import cached_property

from planner.answers.load import Load, load
from planner.capacity.demand import Demand, as_planned
from planner.capacity.ready import ready_moments
from planner.plan import Plan
from planner.work import Work


class Figures:
    """Demands, ready moments and load of one plan."""

    def __init__(self, work: Work, plan: Plan) -> None:
        self.work, self.plan = work, plan

    @cached_property
    def demands(self) -> tuple[Demand, ...]:
        return tuple(as_planned(self.work, self.plan))

    @cached_property
    def ready(self) -> dict[int, int]:
        """By operation, as :func:`planner.capacity.ready.ready_moments`."""
        return ready_moments(self.work, self.plan)

    @cached_property
    def load(self) -> Load:
        """As planned, by week."""
        return load(self.work, self.plan, demands=self.demands)
