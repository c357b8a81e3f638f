"""CP-SAT as the search uses it: on one core, with a limit that repeats, and another thread can stop it."""

from __future__ import annotations

from ortools.sat.python import cp_model

from planner.timetable.arrays import Data
from planner.work import NEVER

LARGEST = 1 << 61  # that a sum may come to: the solver takes no model in which it could be more


def longest_late(data: Data) -> int:
    """Minutes late that an order may have in a model of all orders: beyond any plan, yet their weighted sum fits a number."""
    return min(NEVER, LARGEST // max(1, int(data.order["weight"].sum())))


class Cpsat:
    """``stopped``: no more is solved. ``least``: what any solution of the last model costs at least, also where none was found
    (0 where nothing is known: for goals that cannot be below)."""

    def __init__(self) -> None:
        self.stopped = False
        self.least = 0.0
        self._at_work: cp_model.CpSolver | None = None

    def solve(
        self,
        model: cp_model.CpModel,
        *,
        work_limit: float,
        seed: int,
        seconds: float | None = None,
        small: bool = False,
    ) -> cp_model.CpSolver | None:
        """The solver with the best solution of ``model``; ``None`` when nothing was found.

        Parameters
        ----------
        work_limit
            In the solver's own repeatable measure (a unit is a second or, on some machines, many).
        seconds
            Wall time left, or ``None`` for no limit but the repeatable one.
        small
            For a model that is solved sooner than it is made simpler: it is made so but once, and no value is tried out.
        """
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = seed
        solver.parameters.linearization_level = 0  # two to five times as quick on models of shops
        solver.parameters.max_deterministic_time = work_limit
        if small:
            solver.parameters.cp_model_probing_level = 0
            solver.parameters.symmetry_level = 0
            solver.parameters.max_presolve_iterations = 1
        if seconds is not None:
            solver.parameters.max_time_in_seconds = max(0.05, seconds)
        self.least = 0.0
        if self.stopped:
            return None
        self._at_work = solver
        status = solver.solve(model)
        self._at_work = None
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE, cp_model.UNKNOWN):
            self.least = solver.best_objective_bound
        return solver if status in (cp_model.OPTIMAL, cp_model.FEASIBLE) else None

    def stop(self) -> None:
        """Break off what is being solved, if anything is, and solve nothing more. Call it again until that has ended: a
        solver that has not quite begun does not hear it."""
        self.stopped = True
        if (solver := self._at_work) is not None:
            solver.stop_search()
