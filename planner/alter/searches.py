"""Searches of equal effort, each going on from a plan that may be for other work."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from planner.alter.base import Alteration, phrases
from planner.alter.fields import AlterFault, AlterFaults
from planner.alter.records import Side
from planner.answers.wording import step_name
from planner.counted import listed
from planner.proposals.carry import carried
from planner.search import Progress, search
from planner.work import Work

Tell = Callable[[str, float], None]  # what it is at, and the share that is done


class Searches:
    """Searches of equal effort. ``count``: how many share the seconds."""

    def __init__(
        self,
        count: int,
        seconds: float | None,
        trials: int | None,
        progress: Tell | None,
        stop: Callable[[], bool] | None,
    ) -> None:
        self.count, self.trials, self.progress, self.stop = count, trials, progress, stop
        self.seconds = None if seconds is None else seconds / count
        self.done = 0

    def run(self, begin: Side, work: Work, seed: int, words: str) -> Side:
        """Search in ``work``, going on from a plan that may be for other work."""

        def heard(now: Progress) -> None:
            share = now.seconds / self.seconds if self.seconds else now.trials / (self.trials or 1)
            if self.progress is not None:
                self.progress(words, min(1.0, (self.done + min(1.0, share)) / self.count))

        start = carried(begin.work, begin.plan, work)
        plan = search(
            work, seconds=self.seconds, trials=self.trials, seed=seed, start=start, progress=heard, stop=self.stop
        )
        self.done += 1
        return Side(work, plan)


def placed(side: Side, changes: Sequence[Alteration]) -> Side:
    """The same; raises ``AlterFaults`` where some changes have left something without a time."""
    if side.plan.complete:
        return side
    names = listed([step_name(side.work, side.work.operations[i]) for i in side.plan.no_time])
    mend = "Change less, or move 'known_to' of the calendars on."
    raise AlterFaults(
        [AlterFault(phrases(changes), "", f"no time for {names}", "time for everything within the known hours", mend)]
    )
