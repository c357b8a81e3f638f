"""Searches of equal effort, each going on from a plan that may be for other work."""

from __future__ import annotations

from collections.abc import Callable

from planner.alter.records import Side
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
