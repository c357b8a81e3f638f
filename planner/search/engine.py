"""The search: first plans by rule, then the list search and the solver side by side, each going on from the best of both.

Deterministic for a given seed and trial limit, on one core or two. With a time limit the result depends on how far it
got; it can be stopped at any moment and keeps the best plan so far.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, wait
from dataclasses import replace
from functools import partial

import numpy as np

from planner import __version__
from planner.plan import Bound, Cost, Listed, Plan, State
from planner.search.bound_turns import List
from planner.search.climb import UNPLACED, Climber
from planner.search.dispatch import RULES, dispatch
from planner.search.due import operation_dues
from planner.search.letting_go import let_go
from planner.search.limit import Limit
from planner.search.pace import CHUNK, QUICK_CHUNK, WATCH_SEC, Pace
from planner.search.progress import Progress
from planner.search.ready import get_ready
from planner.search.solving import Solving
from planner.timetable import Timetable
from planner.work import Work

SECONDS = 20.0  # of a search without a limit
ROUND = 3_000  # trials in the first round where the limit is in trials; doubled while the solver finds nothing
STARTS = 3  # first plans that the list search begins with
LONGEST = 8_000_000  # operations in the lists (about) of the longest round
NO_BOUND = Bound(0, "none was looked for")


def search(
    work: Work,
    *,
    seconds: float | None = None,
    trials: int | None = None,
    seed: int = 1,
    progress: Callable[[Progress], None] | None = None,
    stop: Callable[[], bool] | None = None,
    workers: int = 2,
    start: Sequence[Listed] | None = None,
    solver: bool = True,
) -> Plan:
    """Plan ``work``.

    Parameters
    ----------
    seconds, trials
        Limits (trials: lists that the list search times); with neither, 20 seconds. The first plan is always made.
        What is compiled at the first run on a machine (:func:`planner.search.get_ready`) does not count.
    seed
        Of the random moves.
    progress
        Called with a :class:`Progress` after each first plan and each stage.
    stop
        Asked between chunks of trials and while the solver is waited for; True ends the search with the best plan so far.
    start
        A list to begin with, in priority order. It is put in order and filled up where it must be; the first plan is
        the better of it and the rules. What it holds back stays so, unless something is late because of it.
    workers
        2: list search and solver side by side; 1: by turns. With a limit of trials the plan is the same.
    solver
        False: the list search alone, without the bound, and from ``start`` alone where there is one, where a plan is wanted in a
        fraction of a second.

    Returns
    -------
    Plan
        With state IMPOSSIBLE when some operation finds no time within the known calendars.

    Raises
    ------
    ValueError
        For a negative limit, or less than one worker.
    """
    if workers < 1:
        raise ValueError(f"workers must be 1 or more, got {workers}")
    if seconds is None and trials is None:
        seconds = SECONDS
    get_ready()
    return _Search(work, Limit(seconds, trials, stop), seed, progress, workers, solver).run(start)


class _Search:
    def __init__(
        self,
        work: Work,
        limit: Limit,
        seed: int,
        progress: Callable[[Progress], None] | None,
        workers: int,
        solver: bool,
    ) -> None:
        self.limit, self.seed, self.progress, self.workers, self.solver = limit, seed, progress, workers, solver
        self.table = Timetable(work)
        self.trials = 0
        self.pace, self.round = Pace(CHUNK if limit.seconds is None else QUICK_CHUNK), ROUND
        self.others: list[List] = []  # the other first plans, best first, where the best is a rule's

    def run(self, start: Sequence[Listed] | None) -> Plan:
        climber = self._first_plans(start)
        solving = Solving(self.table.twin(), climber, self.seed, next(iter(self.others), None)) if self.solver else None
        if solving is None:
            while not self._done() and len(climber.best) > len(self.table.begun_first):
                self._climb(climber, None, lambda: True)
        elif not self._done():
            with ThreadPoolExecutor(1) as other:
                self._improve(climber, solving, other)
        return self._plan(climber, solving)

    def _first_plans(self, start: Sequence[Listed] | None) -> Climber:
        """The best list of ``start``, if there is one, and all dispatch rules."""
        climber: Climber | None = None
        if start is not None:
            sequence, choice = self._begin(start)
            climber = Climber(self.table, sequence, choice, self.seed)
            self._count_first(climber)
        dues, begun_with = operation_dues(self.table), climber
        found: list[tuple[float, int, List]] = []
        for rule in RULES:
            if climber is not None and (not self.solver or self._done()):
                break
            sequence = dispatch(self.table, rule, dues)
            choice = self.table.choice
            self.table.reset()
            if climber is None:
                climber = Climber(self.table, sequence, choice, self.seed)
            else:
                climber.restart(sequence, choice)
            found.append((climber.cost, len(found), (sequence, choice)))
            self._count_first(climber)
        assert climber is not None
        if begun_with is None:
            for _, _, first in sorted(found):
                if not any(np.array_equal(first[0], known) for known in (climber.best, *(o[0] for o in self.others))):
                    self.others.append(first)
            climber.starts = self.others[: STARTS - 1]
        if climber.best_cost >= UNPLACED:
            self._report("first plan", climber, None)
        climber.restart(climber.best, climber.best_choice)
        return climber

    def _count_first(self, climber: Climber) -> None:
        """Tell of it at once, unless something finds no place yet: what that costs would mean nothing."""
        self.trials += 1
        if climber.best_cost < UNPLACED:
            self._report("first plan", climber, None)

    def _begin(self, start: Sequence[Listed]) -> tuple[np.ndarray, np.ndarray]:
        """The list of ``start`` with its machine choices, and hold back what it holds back."""
        choice, until = self.table.taken(start)
        sequence = self.table.repaired(row.operation for row in start)
        if until.any():
            self.table.hold(until)
            let_go(self.table, sequence, choice)
        return sequence, choice

    def _improve(self, climber: Climber, solving: Solving, other: ThreadPoolExecutor) -> None:
        """Rounds: a turn of the solver while the list search goes on, then each learns of the other's best.

        Where there is nothing to plan, or all of it is under way, there is one list only: nothing but the bound to look for.
        """
        if len(climber.best) == len(self.table.begun_first):
            solving.turn(self.limit)
            return
        longest = max(ROUND, LONGEST // max(1, len(climber.best)))
        while not self._done():
            solving.keeper.learn(climber)
            began, turn = time.monotonic(), other.submit(solving.turn, self.limit)
            try:
                if self.workers > 1:
                    self._climb(climber, solving, turn.done)
                    self._until_over(solving, turn)
                else:
                    self._until_over(solving, turn)
                    self._climb(climber, solving, partial(_past, 2 * time.monotonic() - began))
            except BaseException:
                _break_off(solving, turn)
                raise
            turn.result()
            found = climber.learn(solving.keeper)
            self.round = ROUND if found else min(2 * self.round, longest)
            if found:
                self._report("solver", climber, solving)

    def _until_over(self, solving: Solving, turn: Future) -> None:
        """Wait for the solver's turn; not for long once the search is to stop."""
        while not turn.done():
            wait([turn], WATCH_SEC)
            if self.limit.stop is not None and self.limit.stop():
                _break_off(solving, turn)

    def _climb(self, climber: Climber, solving: Solving | None, over: Callable[[], bool]) -> None:
        """List search: a round of trials, or with a time limit (at least one chunk) until it is ``over``, which is when the
        solver's turn ends or, by turns, when it has had as long."""
        left = self.round
        while left > 0 and not self._done():
            began = time.monotonic()
            n = self._next_chunk()
            climber.run(n, self._trials_left())
            self.trials += n
            self._report("list search", climber, solving)
            if self.limit.seconds is None:
                left -= n
                continue
            self.pace.took(n, time.monotonic() - began)
            if over():
                return

    def _trials_left(self) -> int | None:
        """Trials of the list search until the limit, as it has gone so far."""
        if self.limit.trials is not None:
            return self.limit.trials - self.trials
        return None if self.limit.left is None or not self.pace.rate else int(self.limit.left * self.pace.rate)

    def _next_chunk(self) -> int:
        if self.limit.trials is None:
            return self.pace.chunk
        return max(1, min(self.pace.chunk, self.limit.trials - self.trials))

    def _done(self) -> bool:
        return self.limit.reached(self.trials)

    def _report(self, phase: str, climber: Climber, solving: Solving | None) -> None:
        if self.progress is not None:
            bound = solving.bound if solving else NO_BOUND
            self.progress(Progress(self.limit.spent, self._timed(solving), phase, climber.best_terms(), bound))

    def _timed(self, solving: Solving | None) -> int:
        """Lists that either list search has timed."""
        return self.trials + (solving.trials if solving else 0)

    def _plan(self, climber: Climber, solving: Solving | None) -> Plan:
        lost = self.table.retime(climber.best, climber.best_choice, 0)
        cost = Cost(0, 0, 0, 0, 0) if lost else self.table.cost()
        bound = solving.bound if solving else NO_BOUND
        bound = replace(bound, value=0) if lost else bound
        state = State.BEST if cost.first == bound.value else State.GOOD
        return Plan(
            fingerprint=self.table.work.fingerprint,
            steps=() if lost else self.table.steps(),
            sequence=tuple(int(i) for i in climber.best),
            cost=cost,
            bound=bound,
            state=State.IMPOSSIBLE if lost else state,
            seed=self.seed,
            trials=self._timed(solving),
            seconds=round(self.limit.spent, 3),
            version=__version__,
            no_time=self._no_time(),
        )

    def _no_time(self) -> tuple[int, ...]:
        unplaced = set(self.table.unplaced())
        return tuple(i for i in sorted(unplaced) if not unplaced.intersection(self.table.waits_for(i)))


def _past(moment: float) -> bool:
    return time.monotonic() >= moment


def _break_off(solving: Solving, turn: Future) -> None:
    """Wait for the solver's turn, which ends soon."""
    while not turn.done():
        solving.stop()
        wait([turn], WATCH_SEC)
