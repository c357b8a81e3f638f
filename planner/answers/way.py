"""The way an order comes to be ready: back from its finish, step by step, with what each waited for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from planner.plan import Plan, Step
from planner.work import Begun, Need, Order, Work

COMPONENT, HELD, BEFORE = "component", "held back", "step before"


@dataclass(frozen=True)
class Wait:
    """``minutes`` from when a step could have begun, by what came before it in its own way, to its start.

    Where the plan holds a batch back, what the batch would have waited for later on has the minutes of the first step.

    ``held_min``, of a batch's first step: from the plan start to its release, or to the time before which a decision
    holds it back.
    """

    step: Step
    minutes: int
    held_min: int = 0


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

    def back(self, batch: int) -> Iterator[Wait]:
        """Waits from the batch's last step back to the plan start, through the components that bind.

        Ends where a batch comes again: a plan that was altered by hand may say that a batch waited for itself.
        """
        seen: set[int] = set()
        while batch not in seen:
            seen.add(batch)
            left = self.left(batch)
            passed_on = self._passed_on(left)
            for before, step in zip([None, *left[:-1]][::-1], left[::-1], strict=True):
                if step.waited_for == COMPONENT and step.waited_on is not None:
                    there = self.left(step.waited_on)
                    yield Wait(step, max(0, step.start - (there[-1].end if there else 0)))
                    batch = step.waited_on
                    break
                held_min = 0 if before else self._held_min(step)
                minutes = step.start - (before.end if before else held_min) + passed_on.get(step.operation, 0)
                yield Wait(step, max(0, minutes), held_min)
            else:
                return

    def _passed_on(self, left: list[Step]) -> dict[int, int]:
        """By operation, minutes of waiting that are counted elsewhere (negative) or counted here for the first step."""
        if not left or left[0].waited_for != HELD:
            return {}
        coming = [self._there(need) for need in self._work.needs if need.operation == left[0].operation]
        minutes = left[0].start - max([self._held_min(left[0]), *coming])
        taker = next((s for s in left[1:] if s.waited_for != BEFORE), None)
        return {} if taker is None else {left[0].operation: -minutes, taker.operation: minutes}

    def _held_min(self, step: Step) -> int:
        op = self._work.operations[step.operation]
        held_min = max(0, self._work.batches[op.batch].release_min, op.not_before_min)
        return min(held_min, max(0, step.start))

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
