"""Plan a changed copy again and compare it with the plan as it is, searched just as hard.

Four searches with the same limit, each going on from the list that the one before it ended with: the plan as it is, the
changed copy, the plan as it is once more, the changed copy once more, with two seeds. So nothing that more searching
would have found anyway is put down to the change. The better of the two on each side is compared; how far the two of a
side differ is the noise.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from planner.alter.apply import altered
from planner.alter.base import Alteration
from planner.alter.compare import compare
from planner.alter.effort import effort_of
from planner.alter.records import Comparison, Side
from planner.alter.searches import Searches, Tell, placed
from planner.main_job import Job, verified

SECONDS = 14.0  # for all searches together


@dataclass(frozen=True)
class Replanned:
    """The answer, with both plans."""

    answer: Comparison
    before: Job
    after: Job


def replan(
    job: Job,
    changes: Sequence[Alteration],
    *,
    seconds: float | None = None,
    trials: int | None = None,
    seed: int = 1,
    progress: Tell | None = None,
    stop: Callable[[], bool] | None = None,
) -> Replanned:
    """What a plan would be with some changes.

    Parameters
    ----------
    job
        A shop with its plan; neither is changed.
    changes
        What is different, in the order in which it is made.
    seconds
        For all searches together; 14 with neither limit.
    trials
        Of each search instead: then the answer is repeatable.
    seed
        Of the first search of each side; the second has the next one.
    progress, stop
        Told how far it is; asked whether to end with what there is.

    Raises
    ------
    AlterFaults
        When the changes do not fit the shop, or leave something that has no time.
    PlanRefused
        When a plan breaks a rule.
    """
    began = time.monotonic()
    after = altered(job.shop, changes, job.accepted, job.work.proposals)
    now = planned = Side(job.work, job.plan)
    if after.work.fingerprint == job.work.fingerprint:  # whatever were found would be down to the search alone
        return Replanned(compare([now], [now], changes, now, effort_of([now], 1, None)), job, job)
    if seconds is None and trials is None:
        seconds = SECONDS
    searches = Searches(4, seconds, trials, progress, stop)
    sides: tuple[list[Side], list[Side]] = ([], [])
    for turn in range(2):
        now = searches.run(now, job.work, seed + turn, "planning it as it is")
        sides[0].append(now)
        now = searches.run(now, after.work, seed + turn, "planning it changed")
        sides[1].append(now)
        placed(now, changes)
    befores, afters = (sorted(side, key=lambda s: (s.plan.cost.first, s.plan.cost.second)) for side in sides)
    jobs = [
        verified(Job(shop, best.work, best.plan, job.accepted))
        for shop, best in ((job.shop, befores[0]), (after.shop, afters[0]))
    ]
    effort = effort_of([*befores, *afters], 1 / searches.count, trials)
    answer = compare(
        befores, afters, changes, planned, effort, trials=afters[0].plan.trials, seconds=time.monotonic() - began,
        stopped=stop is not None and stop(),
    )  # fmt: skip
    return Replanned(answer, *jobs)
