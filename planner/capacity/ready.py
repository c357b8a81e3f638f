"""From when on each step could have begun, had what it needs been free: the other end of every wait."""

from __future__ import annotations

from planner.answers.feeds import batch_end
from planner.capacity.openings import Openings
from planner.plan import Plan
from planner.work import NEVER, Begun, Operation, Work


def ready_moments(work: Work, plan: Plan) -> dict[int, int]:
    """By operation, the minute (0 or later, never after its start) from which a planned step waited.

    The step before has ended and the batch has been moved, components and receipts are there, it is released and neither a decision
    nor the plan itself holds it back. What begins with some of its pieces, or is set ahead of them, does not wait before.
    """
    steps, openings = plan.step_of(), Openings(work)
    coming: dict[int, list[int]] = {}
    for need in work.needs:
        moment = need.at_min if need.batch is None else batch_end(work, steps, need.batch)
        coming.setdefault(need.operation, []).append(NEVER if moment is None else moment)
    found: dict[int, int] = {}
    for batch in work.batches:
        before: Operation | None = None
        for op in (work.operations[i] for i in batch.operations):
            step = steps.get(op.index)
            if step is not None:
                # what is done lies where it is needed: it is moved no more
                given = None if before is None or before.begun is Begun.DONE else steps.get(before.index)
                there = 0 if before is None or given is None else openings.moved(before, step.machine, given.end)
                held = (batch.release_min, op.not_before_min, step.held_until or 0)
                ready = max(0, there, *held, *coming.get(op.index, ()))
                found[op.index] = min(ready, max(0, step.start))
            before = op
    return found
