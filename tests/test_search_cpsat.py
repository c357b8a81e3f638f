"""The solver on one core: it repeats, and another thread can stop it."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor, wait

from ortools.sat.python import cp_model

from planner.search.cpsat import Cpsat


def queens(n: int) -> tuple[cp_model.CpModel, list[cp_model.IntVar]]:
    """Queens that do not see each other, as far as possible to one side: nothing that is proved soon."""
    model = cp_model.CpModel()
    row = [model.new_int_var(0, n - 1, "") for _ in range(n)]
    for slope in (-1, 0, 1):
        model.add_all_different([r + slope * i for i, r in enumerate(row)])
    model.maximize(sum(i * r for i, r in enumerate(row)))
    return model, row


def test_the_same_limit_and_seed_give_the_same() -> None:
    model, row = queens(12)
    found = [Cpsat().solve(model, work_limit=0.05, seed=3) for _ in range(2)]
    first, second = ([solver.value(r) for r in row] for solver in found if solver is not None)
    assert first == second


def test_nothing_found_is_none() -> None:
    model, _ = queens(3)
    assert Cpsat().solve(model, work_limit=1.0, seed=1) is None


def test_what_every_solution_costs_at_least_is_known_whether_one_was_found_or_not() -> None:
    model, rows = queens(40)
    model.minimize(sum(i * r for i, r in enumerate(rows)))
    cpsat, least, found = Cpsat(), [], []
    for work_limit in (1e-6, 0.05, 0.1, 0.2, 0.4, 2.0):
        solver = cpsat.solve(model, work_limit=work_limit, seed=1)
        least.append(cpsat.least)
        found += [solver.objective_value] if solver is not None else []
    assert found
    assert 0 < max(least) <= min(found)
    cpsat.stop()
    assert cpsat.solve(model, work_limit=0.1, seed=1) is None
    assert cpsat.least == 0


def test_a_stop_breaks_off_what_is_at_work_and_all_that_would_follow() -> None:
    cpsat, (model, _) = Cpsat(), queens(60)
    with ThreadPoolExecutor(1) as other:
        turn = other.submit(cpsat.solve, model, work_limit=1e6, seed=1, seconds=60.0)
        wait([turn], 0.3)
        assert not turn.done()
        for _ in range(100):
            cpsat.stop()
            wait([turn], 0.05)
        assert turn.done()
    assert cpsat.solve(queens(4)[0], work_limit=1.0, seed=1) is None
