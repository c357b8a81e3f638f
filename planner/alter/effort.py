"""Has a search timed lists enough for what it came to to be told from chance?

Two searches that had no time end with the list they began with: they do not differ, and that says nothing about noise. So
nothing is claimed of searches one of which timed fewer lists than there are operations to be planned, unless its plan
is proved best.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from planner.alter.records import Side
from planner.counted import counted
from planner.plan import State
from planner.work import Begun

QUICKER = (
    16  # times as long as a search that was too short, at most: once the first lists are timed it goes far quicker
)


@dataclass(frozen=True)
class Effort:
    """What the shortest of some searches did: lists timed, for so many operations to be planned.

    ``needed``: how long to search instead, in words; empty where it was enough.
    """

    lists: int
    operations: int
    needed: str = ""

    @property
    def enough(self) -> bool:
        return not self.needed

    @property
    def text(self) -> str:
        """'too short to tell: ...', or nothing."""
        if self.enough:
            return ""
        lists, operations = counted(self.lists, "list"), counted(self.operations, "operation")
        return f"too short to tell: {lists} timed for {operations}; search for {self.needed} or more"


def effort_of(sides: Iterable[Side], share: float, trials: int | None) -> Effort:
    """The least that was done for any of these plans.

    Parameters
    ----------
    sides
        At least one plan.
    share
        The part of the seconds that each search had.
    trials
        What was asked for, where the limit was in trials.
    """
    rows = [(side.plan.trials / max(1, _to_plan(side)), _to_plan(side), side) for side in sides]
    _, operations, least = min(rows, key=lambda row: (_enough(row[2]), row[0]))
    lists = least.plan.trials
    if _enough(least):
        return Effort(lists, operations)
    times = operations / max(1, lists)
    if trials is not None:
        return Effort(lists, operations, counted(math.ceil(trials * times), "trial"))
    seconds = max(least.plan.seconds, 0.01) * min(QUICKER, max(2.0, times)) / share
    return Effort(lists, operations, counted(math.ceil(seconds), "second"))


def _to_plan(side: Side) -> int:
    """Operations whose place is open: not those done, running or away."""
    return sum(op.begun in (Begun.NO, Begun.PART) for op in side.work.operations)


def _enough(side: Side) -> bool:
    return side.plan.state is State.BEST or side.plan.trials >= _to_plan(side)
