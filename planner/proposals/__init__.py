"""Batches split over two machines or run as one where their part allows it and the plan gets better by it."""

from planner.proposals.candidates import may_propose
from planner.proposals.improve import propose

__all__ = ["may_propose", "propose"]
