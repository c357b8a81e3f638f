"""One instance measured: the best dispatch rule, the plain model, the search with everything that it tells on the way."""

from __future__ import annotations

import multiprocessing
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from typing import Any, TypeVar

from memory import memory_mb

from engine_suites.case import Case
from engine_suites.plain_model import PlainModel
from planner.plan import Plan, State, Step
from planner.search import Progress, get_ready, search
from planner.search.dispatch import RULES, dispatch
from planner.search.engine import NO_BOUND
from planner.timetable import Timetable
from planner.verify import verify
from planner.work import Work

Record = dict[str, Any]
Result = TypeVar("Result")
LARGEST_PLAIN = 1_500  # operations; beyond it the plain model takes longer to build than it is given


def apart(function: Callable[..., Result], *args: Any) -> Result:
    """The function's result from a process of its own, so that the memory it reports is its own too."""
    spawn = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(1, mp_context=spawn) as pool:
        return pool.submit(function, *args).result()


def best_rule(table: Timetable) -> tuple[str, int]:
    """The dispatch rule with the least first-tier cost, and that cost; the table is left holding its plan.

    Raises
    ------
    ValueError
        When under every rule some operation finds no time.
    """
    found = []
    for rule in RULES:
        sequence = dispatch(table, rule)
        choice = table.choice
        table.reset()
        if not table.time(sequence, choice):
            found.append((table.cost().first, rule.name, sequence, choice))
    if not found:
        raise ValueError("no dispatch rule finds a time for every operation")
    cost, name, sequence, choice = min(found, key=lambda x: x[0])
    table.time(sequence, choice)
    return name, cost


def breaches_of(table: Timetable) -> int:
    """How many rules the plan breaks that the table holds."""
    plan = Plan(
        table.work.fingerprint,
        table.steps(),
        tuple(table.list.tolist()),
        table.cost(),
        NO_BOUND,
        State.GOOD,
        0,
        0,
        0.0,
        "",
    )
    return len(verify(table.work, plan))


def rule_of(case: Case) -> Record:
    get_ready()
    table = Timetable(case.make())
    began = time.monotonic()
    name, cost = best_rule(table)
    took = round(time.monotonic() - began, 2)
    return {"rule": name, "cost": cost, "seconds": took, "breaches": breaches_of(table)}


def plain_of(case: Case, seconds: float) -> Record:
    """The plain model within ``seconds``, building it included; its order and machines timed exactly."""
    get_ready()
    table = Timetable(case.make())
    _, cost = best_rule(table)
    return solved(table, table.steps(), cost, seconds)


def solved(table: Timetable, steps: tuple[Step, ...], cost: int, seconds: float, **limits: Any) -> Record:
    """``limits`` go to :meth:`PlainModel.solve`. Cost None: nothing found."""
    began = time.monotonic()
    model = PlainModel(table.work, steps, cost)
    building = time.monotonic() - began
    found = model.solve(seconds - building, **limits)
    exact = timed(table, found.start, found.machine) if found.start else None
    return {
        "cost": exact, "breaches": 0 if exact is None else breaches_of(table), "bound": found.bound, "proved": found.proved and exact == found.bound,
        "building": round(building, 1), "seconds": round(building + found.seconds, 1),
    }  # fmt: skip


def timed(table: Timetable, start: dict[int, int], machine: dict[int, int | None]) -> int | None:
    """Exact first-tier cost of operations in order of start on their machines; None where one finds no time."""
    data = table.data
    choice = table.choice.copy()
    choice[:] = -1
    for i, m in machine.items():
        row = data.op[i]
        ways = range(int(row["alt_lo"]), int(row["alt_hi"]))
        choice[i] = next((a for a in ways if data.alt[a]["machine"] == m), -1)
    lost = table.time(table.repaired(sorted(start, key=lambda i: (start[i], i))), choice)
    return None if lost else table.cost().first


class Watch:
    """Keeps what a search tells: (seconds, cost, bound) whenever one of the two got better."""

    def __init__(self, stop_at: int | None, ends_with_proof: bool) -> None:
        self.stop_at, self.ends_with_proof = stop_at, ends_with_proof
        self.curve: list[tuple[float, int, int]] = []

    def __call__(self, progress: Progress) -> None:
        cost, bound = progress.cost.first, progress.bound.value
        if not self.curve or (cost, bound) != self.curve[-1][1:]:
            self.curve.append((round(progress.seconds, 2), cost, bound))

    def done(self) -> bool:
        """Nothing is left to gain: the best known value is reached, or the plan is proved best."""
        if not self.curve:
            return False
        _, cost, bound = self.curve[-1]
        return (self.stop_at is not None and cost <= self.stop_at) or (self.ends_with_proof and cost <= bound)

    def reached(self, cost: int) -> float:
        """Seconds until the search first told of this cost."""
        return next((seconds for seconds, found, _ in self.curve if found <= cost), self.curve[-1][0])


def search_of(case: Case, seconds: float, seed: int, trials: int | None = None) -> Record:
    """The search, its plan verified; within ``trials`` in place of the seconds it is the same each time.

    A proof ends it where the first tier is all there is.
    """
    work = case.make()
    get_ready()
    watch = Watch(case.stop_at, ends_with_proof=case.suite != "sample")
    if trials is None:
        plan = search(work, seconds=seconds, seed=seed, progress=watch, stop=watch.done)
    else:
        plan = search(work, trials=trials, seed=seed, progress=watch)
    return _record(work, plan, watch)


def _record(work: Work, plan: Plan, watch: Watch) -> Record:
    memory = memory_mb()
    first_s, first_cost, _ = watch.curve[0]
    return {
        "cost": plan.cost.first, "second": plan.cost.second, "bound": plan.bound.value, "state": plan.state.value,
        "complete": plan.complete, "breaches": len(verify(work, plan)), "trials": plan.trials,
        "seconds": plan.seconds, "reached": watch.reached(plan.cost.first), "first_seconds": first_s,
        "first_cost": first_cost, "memory_mb": None if memory is None else round(memory), "curve": watch.curve,
    }  # fmt: skip
