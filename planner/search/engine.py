"""The search: first plans by rule, then list search from the best of them, within a limit.

Deterministic for a given seed and trial limit. With a time limit the result depends on how far it
got; it can be stopped at any moment and keeps the best plan so far.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from planner import __version__
from planner.plan import Bound, Cost, Plan, State
from planner.search.bound_turns import BoundTurns
from planner.search.climb import Climber
from planner.search.dispatch import RULES, dispatch
from planner.search.due import operation_dues
from planner.search.freed import around_late_order
from planner.search.progress import Progress
from planner.search.ready import get_ready
from planner.search.solver import lists_of, place_anew
from planner.search.starts import Starts
from planner.timetable import Timetable
from planner.work import Work

CHUNK = 200  # list-search trials between two looks at the clock
SHORTEST_TURN = 3_000  # trials of the list search between two turns of the solver, doubled while those find nothing
LONGEST_TURN = 8_000_000  # operations that it times (about) in the longest turn
SMALLEST, LARGEST = 50, 400  # operations that the solver frees at once, more while it is quick


@dataclass
class Limit:
    """When to stop: after ``seconds``, after ``trials`` timed lists, or when ``stop()`` says so."""

    seconds: float | None
    trials: int | None
    stop: Callable[[], bool] | None
    began: float = field(default_factory=time.monotonic)

    def __post_init__(self) -> None:
        if self.seconds is not None and self.seconds < 0:
            raise ValueError(f"seconds must be 0 or more, got {self.seconds}")
        if self.trials is not None and self.trials < 0:
            raise ValueError(f"trials must be 0 or more, got {self.trials}")

    @property
    def spent(self) -> float:
        return time.monotonic() - self.began

    @property
    def left(self) -> float | None:
        return None if self.seconds is None else self.seconds - self.spent

    def reached(self, trials: int) -> bool:
        return (
            (self.seconds is not None and self.spent >= self.seconds)
            or (self.trials is not None and trials >= self.trials)
            or (self.stop is not None and self.stop())
        )


def search(
    work: Work,
    *,
    seconds: float | None = None,
    trials: int | None = None,
    seed: int = 1,
    progress: Callable[[Progress], None] | None = None,
    stop: Callable[[], bool] | None = None,
    start: Sequence[tuple[int, int | None]] | None = None,
) -> Plan:
    """Plan ``work``.

    Parameters
    ----------
    seconds, trials
        Limits; with neither, 20 seconds. The first plan is always made. What is compiled at the first run on a
        machine (:func:`planner.search.get_ready`) does not count.
    seed
        Of the random moves.
    progress
        Called with a :class:`Progress` after each stage.
    stop
        Asked between stages; True ends the search with the best plan so far.
    start
        Operations in priority order, each with its machine (None, or one that cannot do it: any), to begin with.
        It is put in order and filled up where it must be; the first plan is the better of it and the rules.

    Returns
    -------
    Plan
        With state IMPOSSIBLE when some operation finds no time within the known calendars.

    Raises
    ------
    ValueError
        For a negative limit.
    """
    if seconds is None and trials is None:
        seconds = 20.0
    get_ready()
    return _Search(work, Limit(seconds, trials, stop), seed, progress).run(start)


class _Search:
    def __init__(self, work: Work, limit: Limit, seed: int, progress: Callable[[Progress], None] | None) -> None:
        self.limit, self.seed, self.progress = limit, seed, progress
        self.table = Timetable(work)
        self.bounds = BoundTurns(self.table)
        self.trials = 0
        self.size = SMALLEST  # of the next neighbourhood

    def run(self, start: Sequence[tuple[int, int | None]] | None) -> Plan:
        climber = self._first_plans(start)
        self._report("first plan", climber)
        if not self._done():
            self._improve(climber)
        return self._plan(climber)

    def _first_plans(self, start: Sequence[tuple[int, int | None]] | None) -> Climber:
        """The best list of ``start``, if there is one, and all dispatch rules."""
        climber: Climber | None = None
        if start is not None:
            climber = Climber(self.table, self.table.repaired(op for op, _ in start), self._choice(start), self.seed)
            self.trials += 1
        dues = operation_dues(self.table)
        for rule in RULES:
            if climber is not None and self._done():
                break
            sequence = dispatch(self.table, rule, dues)
            choice = self.table.choice
            self.table.reset()
            if climber is None:
                climber = Climber(self.table, sequence, choice, self.seed)
            else:
                climber.restart(sequence, choice)
            self.trials += 1
        assert climber is not None
        climber.restart(climber.best, climber.best_choice)
        return climber

    def _choice(self, start: Sequence[tuple[int, int | None]]) -> np.ndarray:
        """By operation: the alternative on the machine that ``start`` names, else -1."""
        data = self.table.data
        choice = np.full(len(data.op), -1, np.int64)
        for op, machine in start:
            row = data.op[op]
            found = (a for a in range(row["alt_lo"], row["alt_hi"]) if data.alt[a]["machine"] == machine)
            choice[op] = next(found, -1)
        return choice

    def _improve(self, climber: Climber) -> None:
        """List search and solver by turns, each going on from the other's best.

        A turn of the solver that finds nothing makes the next turn of the list search longer.
        """
        starts, rng = Starts(self.table), random.Random(self.seed)
        longest = max(CHUNK, LONGEST_TURN // max(1, len(climber.best)))
        turn = shortest = min(SHORTEST_TURN, longest)
        while not self._done():
            self._bound(climber)
            self._climb(climber, turn)
            if self._done() or self.table.unplaced():
                continue
            found = self._free_some(climber, starts, rng)
            turn = shortest if found else min(2 * turn, longest)
            if found:
                self._report("neighbourhood", climber)

    def _bound(self, climber: Climber) -> None:
        """Turns for the bound as long as it has had less than its share of the time; without a time limit, one."""
        walk, before = (climber.sequence, climber.choice), climber.best_cost
        climber.restart(climber.best, climber.best_choice)
        while self.limit.seconds is None or self.bounds.due(self.limit.spent):
            for sequence, choice in self.bounds.turn(self.table, self.seed, self.limit.left):
                climber.restart(sequence, choice)
                self.trials += 1
            climber.restart(climber.best, climber.best_choice)
            if self.limit.seconds is None or self._done():
                break
        climber.restart(*((climber.best, climber.best_choice) if climber.best_cost < before else walk))

    def _climb(self, climber: Climber, turn: int) -> None:
        """``turn`` trials of list search."""
        left = turn
        while left > 0 and not self._done():
            n = min(left, self._chunk())
            climber.run(n)
            self.trials += n
            left -= n
            self._report("list search", climber)

    def _free_some(self, climber: Climber, starts: Starts, rng: random.Random) -> bool:
        """Place a small part of the best plan anew; True when the exact timetable says that it got better."""
        walk, before = (climber.sequence, climber.choice), climber.best_cost
        climber.restart(climber.best, climber.best_choice)
        freed = around_late_order(self.table, rng, self.size)
        moved = place_anew(self.table, starts, freed, rng.randrange(1 << 30), self.limit.left) if freed else None
        quick = moved is not None and moved.spent < 0.5
        self.size = min(LARGEST, self.size + self.size // 8) if quick else max(SMALLEST, self.size - self.size // 8)
        for sequence, choice in lists_of(self.table, moved) if moved else ():
            climber.restart(sequence, choice)
            self.trials += 1
        found = climber.best_cost < before
        climber.restart(*((climber.best, climber.best_choice) if found else walk))
        return found

    def _chunk(self) -> int:
        left = CHUNK if self.limit.trials is None else self.limit.trials - self.trials
        return max(1, min(CHUNK, left))

    def _done(self) -> bool:
        return self.limit.reached(self.trials)

    def _report(self, phase: str, climber: Climber) -> None:
        if self.progress is not None:
            self.table.retime(climber.best, climber.best_choice, 0)
            self.progress(Progress(self.limit.spent, self.trials, phase, self.table.cost(), self.bounds.bound))

    def _plan(self, climber: Climber) -> Plan:
        lost = self.table.retime(climber.best, climber.best_choice, 0)
        cost = Cost(0, 0, 0, 0, 0) if lost else self.table.cost()
        state = State.BEST if cost.first == self.bounds.bound.value else State.GOOD
        return Plan(
            fingerprint=self.table.work.fingerprint,
            steps=() if lost else self.table.steps(),
            sequence=tuple(int(i) for i in climber.best),
            cost=cost,
            bound=Bound(0, self.bounds.bound.kind) if lost else self.bounds.bound,
            state=State.IMPOSSIBLE if lost else state,
            seed=self.seed,
            trials=self.trials,
            seconds=round(self.limit.spent, 3),
            version=__version__,
            no_time=self._no_time(),
        )

    def _no_time(self) -> tuple[int, ...]:
        unplaced = set(self.table.unplaced())
        return tuple(i for i in sorted(unplaced) if not unplaced.intersection(self.table.waits_for(i)))
