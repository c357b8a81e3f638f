"""Where an order is on its way: the batch that governs it, the step that is next, what is missing."""

from __future__ import annotations

from planner.plan import Plan, Step
from planner.work import Begun, Need, Order, Work


class Ways:
    """Looks up steps and batches of one plan."""

    def __init__(self, work: Work, plan: Plan) -> None:
        self._work = work
        self.steps = plan.step_of()

    def left(self, batch: int) -> list[Step]:
        """Steps of a batch that are still to be done, in order."""
        operations = self._work.batches[batch].operations
        return [self.steps[i] for i in operations if i in self.steps]

    def last_batch(self, order: Order) -> int | None:
        """The batch whose end the order waits for; None when it waits for no batch."""
        ends = [(left[-1].end, s.batch) for s in order.sources if s.batch is not None and (left := self.left(s.batch))]
        return max(ends)[1] if ends else None

    def now(self, batch: int) -> Step | None:
        """The step a batch is at: the first that is not done; None when all are."""
        return next(iter(self.left(batch)), None)

    def missing(self, step: Step) -> Need | None:
        """The component of a step that comes last, if any is not here at the plan start."""
        coming = [(moment, -i) for i, need in enumerate(self._work.needs) if need.operation == step.operation
                  and (moment := self._there(need)) > 0]  # fmt: skip
        return self._work.needs[-max(coming)[1]] if coming else None

    def _there(self, need: Need) -> int:
        if need.batch is None:
            return need.at_min
        left = self.left(need.batch)
        return left[-1].end if left else 0

    def is_on(self, step: Step) -> bool:
        """Is the step under way at the plan start?"""
        return self._work.operations[step.operation].begun in (Begun.RUNNING, Begun.OUT) or step.start <= 0
