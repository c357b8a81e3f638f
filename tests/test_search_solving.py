"""The solver's side: a second list search and the whole model have turns where neighbourhoods gain nothing, and what
they find counts."""

from __future__ import annotations

import random

import numpy as np
import pytest
from builders import ShopBuilder, at
from published import one_machine
from random_shops import random_work
from trials import begun

from planner.plan import Bound, Listed
from planner.search import bound_turns, engine, search, solving
from planner.search.climb import LONGER, Climber
from planner.search.dispatch import RULES, dispatch
from planner.search.freed import KINDS, around_what_costs
from planner.search.limit import Limit
from planner.search.solver import Moved
from planner.search.solving import SIZES, Solving
from planner.timetable import Timetable
from planner.verify import verify
from planner.work import Work

LATE = 5  # a random shop whose first plan can be bettered


def sides() -> tuple[Climber, Solving]:
    """Both sides of a search that has just made its first plan."""
    climber = begun(random_work(LATE, jobs=12))
    return climber, Solving(climber.table.twin(), climber, 1)


def side() -> Solving:
    return sides()[1]


def late_side() -> Solving:
    """The solver's side of a search whose first plan is late and need not be: jobs on one machine, not in the best order."""
    table = Timetable(one_machine([7, 8, 4, 6, 6], due=[19, 17, 9, 18, 21]))
    climber = Climber(table, table.repaired([]), table.choice.copy(), 1)
    return Solving(table.twin(), climber, 1)


def others_have_turns(one: Solving, fruitless: float, others: float) -> bool:
    """Does the turn go to something else than neighbourhoods?"""
    one._fruitless_sec, one._others_sec = fruitless, others
    before = one._whole_sec + one._climbed_sec
    one.turn(Limit(60.0, None, None))
    return one._whole_sec + one._climbed_sec > before


@pytest.mark.parametrize(
    ("fruitless", "others", "turn"),
    [
        (0.9, 0.0, False), (1.0, 0.0, True), (1.0, 0.9, True), (1.0, 1.1, False), (1.9, 1.8, True), (1.9, 2.0, False),
        (2.0, 3.9, True), (2.0, 4.1, False), (4.0, 15.9, True), (1_000.0, 3_999.0, True), (1_000.0, 4_001.0, False),
    ],
)  # fmt: skip
def test_seconds_of_others_by_fruitless_ones(
    fruitless: float, others: float, turn: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(solving, "TURN_SEC", 0.01)
    one = side()
    one.bounds._open = False  # no bound, no whole model
    assert others_have_turns(one, fruitless, others) is turn


def test_none_where_the_limit_is_in_trials() -> None:
    """Its share would depend on the clock, and the plan with it."""
    one = side()
    one._fruitless_sec = 10_000.0
    for _ in range(5):
        one.turn(Limit(None, 10_000, None))
    assert one.trials == one._whole_sec == one._climbed_sec == 0


def test_where_nothing_is_late_others_have_the_turns() -> None:
    """There are no neighbourhoods then, but the second tier is still to be bettered."""
    table = Timetable(one_machine([7, 8], due=[100, 100]))
    one = Solving(table.twin(), Climber(table, table.repaired([]), table.choice.copy(), 1), 1)
    limit = Limit(60.0, None, None)
    for _ in range(12):
        one.turn(limit)
    assert one.trials > 0


@pytest.mark.parametrize("seconds", [0.0, -1.0])
def test_a_turn_that_begins_when_the_time_is_up(seconds: float) -> None:
    one, limit = late_side(), Limit(0.0, None, None)
    limit.began += seconds
    assert one._free_some(limit)


@pytest.mark.parametrize("limit", [Limit(None, 10_000, None), Limit(60.0, None, None)])
def test_a_first_plan_in_which_something_finds_no_place_does_not_end_its_work(
    limit: Limit, monkeypatch: pytest.MonkeyPatch
) -> None:
    """There is nothing to do for it until the list search has a plan; then there is."""
    shop = ShopBuilder().person("Ann", ["s", "t"], [(0, 100)]).person("Ben", "s", [(200, 300)])
    shop.batch("A").op("M", 60, 60, skill="s").batch("C").op("M", 0, 60 * 150)
    work = shop.batch("B").manual("bench", 3600, skill="t").order("O", "A", "B", "C", due=0).build()
    a, c, b = (at(work, name, 10).index for name in "ACB")
    table = Timetable(work)
    assert table.time([a, c, b]) == 1
    climber = Climber(table, np.array([a, c, b]), table.choice.copy(), 1)
    one = Solving(table.twin(), climber, 1)
    freed: list[bool] = []
    monkeypatch.setattr(one, "_free_some", lambda _: freed.append(True))
    one.turn(limit)
    assert not freed
    climber.restart(np.array([c, a, b]), climber.choice)
    assert one.keeper.learn(climber)
    one.turn(limit)
    assert freed or one.bounds.bound.value == round(climber.best_cost)
    assert one.bounds._turn == 1


def test_a_gain_ends_the_turns_of_others(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(solving, "TURN_SEC", 0.01)
    one = late_side()
    one._fruitless_sec, one._others_sec = 1.0, 0.5
    before = one.keeper.best_cost
    for _ in range(50):
        assert one._free_some(Limit(60.0, None, None))
        if one.keeper.best_cost < before:
            break
    assert one.keeper.best_cost < before
    assert (one._fruitless_sec, one._others_sec) == (0.0, 0.0)


def test_kind_and_size_of_neighbourhood_by_what_has_paid(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[tuple[int, str]] = []

    def seen(table: Timetable, rng: random.Random, size: int, kind: str) -> list[int]:
        asked.append((size, kind))
        return around_what_costs(table, rng, size, kind)

    monkeypatch.setattr(solving, "around_what_costs", seen)
    one, limit = late_side(), Limit(None, 10_000, None)
    kinds, sizes, gains, cost, usual = one._kinds_paid.copy(), one._sizes_paid.copy(), 0, one.keeper.best_cost, 0.0
    for _ in range(30):
        largest = one._size
        one._free_some(limit)
        size, kind = asked[-1]
        gain, cost = cost - one.keeper.best_cost, one.keeper.best_cost
        gains += gain > 0.5
        usual = usual if gain <= 0.5 else 0.9 * usual + 0.1 * gain if usual else gain
        k, s = KINDS.index(kind), [round(share * largest) for share in SIZES].index(size)
        kinds[k] = 0.9 * kinds[k] + (1.0 if gain > 0.5 else 0.02)
        sizes[s] = 0.9 * sizes[s] + (gain / usual if gain > 0.5 else 0.02)
        assert (one._kinds_paid.tolist(), one._sizes_paid.tolist()) == (kinds.tolist(), sizes.tolist())
    assert gains > 0
    assert len({kind for _, kind in asked}) == len(KINDS)
    one._kinds_paid[:], one._sizes_paid[:], one._size = [0, 0, 0, 1], [0, 1, 0], 100
    one._free_some(limit)
    assert asked[-1] == (70, KINDS[3])


@pytest.mark.parametrize(
    ("spent", "size", "then"),
    [(0.49, 2, 112), (0.49, 1, 100), (0.49, 0, 100), (0.51, 2, 88), (0.51, 0, 88)],
)
def test_more_is_freed_where_the_most_is_placed_quickly(
    spent: float, size: int, then: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(solving, "place_anew", lambda *_: Moved({}, {}, spent))
    one = late_side()
    one._size, one._sizes_paid = 100, np.eye(len(SIZES))[size]
    one._free_some(Limit(None, 10_000, None))
    assert one._size == then


@pytest.mark.parametrize(
    ("bound", "whole", "model"),
    [(18, 0.24, True), (18, 0.26, False), (19, 3.9, True), (19, 4.1, False)],
)
def test_share_of_the_whole_model(bound: int, whole: float, model: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """A quarter of the time of the second list search; four times that time where the bound is seven tenths of the best plan."""
    monkeypatch.setattr(solving, "TURN_SEC", 0.01)
    monkeypatch.setattr(bound_turns, "TIMED_FIRST", 0.01)
    one = late_side()
    assert round(one.keeper.best_cost) == 27
    one.bounds.bound = Bound(bound, "as if")
    one._whole_sec, one._climbed_sec = whole, 1.0
    assert one._other(Limit(60.0, None, None))
    assert (one._whole_sec > whole, one._climbed_sec > 1.0) == (model, not model)
    assert one._others_sec == pytest.approx(one._whole_sec - whole + one._climbed_sec - 1.0)


@pytest.mark.parametrize(("left", "given"), [(60.0, 30.0), (10.2, 5.1), (9.8, 5.0), (5.1, 5.0), (4.0, 4.0)])
def test_longest_solve_of_the_whole_model(left: float, given: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """Half of what is left, so that the bound has its turns too."""
    seen = []
    one = side()
    monkeypatch.setattr(one.bounds, "whole", lambda table, seed, seconds: seen.append(seconds) or [])
    one._climbed_sec = 1.0
    assert one._other(Limit(left, None, None))
    assert seen == [pytest.approx(given, abs=0.05)]


def test_what_the_whole_model_finds_counts() -> None:
    one = late_side()
    first, one._climbed_sec = one.keeper.best_cost, 1.0
    assert one._other(Limit(60.0, None, None))
    assert one.keeper.best_cost < first
    again = Timetable(one.table.work)
    again.retime(one.keeper.best, one.keeper.best_choice, 0)
    assert again.cost().first == one.keeper.best_terms().first


def test_none_but_neighbourhoods_where_others_are_of_no_use() -> None:
    one = side()
    one._quick = one.bounds._small = False
    assert one._other(Limit(60.0, None, None)) is False
    one._quick = True
    assert one._other(Limit(60.0, None, None)) is True


def test_what_it_finds_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(solving, "TURN_SEC", 0.2)
    one = side()
    first = one.keeper.best_cost
    one._climb(Limit(60.0, None, None))
    assert one._second is not None
    assert one.keeper.best_cost == min(first, one._second.best_cost)
    assert one.keeper.best_cost < first
    again = Timetable(one.table.work)
    again.retime(one.keeper.best, one.keeper.best_choice, 0)
    assert again.cost().first == one.keeper.best_terms().first


def first_plans(work: Work, start: list[Listed] | None = None) -> tuple[Climber, engine._Search]:
    one = engine._Search(work, Limit(None, 10_000, None), 1, None, 1, True)
    return one._first_plans(start), one


def test_it_begins_with_the_next_best_of_the_rules_lists() -> None:
    work = random_work(12, jobs=12)
    climber, one = first_plans(work)
    table, others = Timetable(work), []
    for rule in RULES:
        sequence = dispatch(table, rule)
        choice = table.choice
        table.reset()
        if not np.array_equal(sequence, climber.best):
            table.retime(sequence, choice, 0)
            others.append(table.cost().first)
    costs = []
    for other in one.others:
        table.retime(*other, 0)
        costs.append(table.cost().first)
    assert costs == sorted(costs) and costs[0] == min(others)
    assert len({tuple(sequence.tolist()) for sequence, _ in [*one.others, (climber.best, 0)]}) == len(costs) + 1
    assert len(climber.starts) == min(len(costs), engine.STARTS - 1) > 0
    solver = Solving(one.table.twin(), climber, 1, one.others[0])
    assert np.array_equal(solver._first[0], one.others[0][0])


def test_each_start_has_a_first_cooling_and_then_it_goes_on_from_the_best(monkeypatch: pytest.MonkeyPatch) -> None:
    climber = first_plans(random_work(12, jobs=12))[0]
    starts, began, restart = list(climber.starts), [], climber.restart

    def seen(sequence: np.ndarray, choice: np.ndarray) -> None:
        began.append(sequence)
        restart(sequence, choice)

    first = climber.cooling
    monkeypatch.setattr(climber, "restart", seen)
    for n, start in enumerate(starts):
        climber.run(first)
        assert np.array_equal(began[-1], start[0])
        assert (climber.cooling, climber._done, len(climber.starts)) == (first, 0, len(starts) - n - 1)
    climber.run(first)
    assert climber.cost == climber.best_cost
    assert climber.cooling == int(first * LONGER)


@pytest.mark.parametrize(("left", "more"), [(10, True), (9, False)])
def test_no_other_start_where_its_first_cooling_is_more_than_a_tenth_of_what_is_left(left: int, more: bool) -> None:
    climber = first_plans(random_work(12, jobs=12))[0]
    assert climber.starts
    climber.run(1, left * climber.cooling)
    assert bool(climber.starts) is more


def test_where_there_is_no_other_first_plan_it_begins_with_the_best() -> None:
    alone = one_machine([7], due=[3])
    assert first_plans(alone)[1].others == first_plans(alone)[0].starts == []
    work = random_work(12, jobs=12)
    given = [Listed(int(i)) for i in first_plans(work)[0].best]
    assert first_plans(work, given)[1].others == first_plans(work, given)[0].starts == []


def test_it_begins_with_the_first_plan_whatever_became_of_that() -> None:
    """The list search writes its best list over the last one."""
    climber, one = sides()
    first = climber.best.copy()
    climber.run(2_000)
    assert not np.array_equal(climber.best, first)
    assert np.array_equal(one._first[0], first)


def test_a_whole_search_with_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(solving, "FRUITLESS_SEC", 0.02)
    monkeypatch.setattr(solving, "TURN_SEC", 0.02)
    work = random_work(LATE, jobs=12)
    plan = search(work, seconds=1.0)
    assert verify(work, plan) == []
    assert plan.cost.first <= search(work, trials=len(RULES)).cost.first
    stopped = search(work, seconds=60.0, stop=iter([False] * 30 + [True] * 1_000_000).__next__)
    assert verify(work, stopped) == []
    assert stopped.seconds < 30


@pytest.mark.parametrize(("enough", "more"), [(0, True), (1_000_000, False)])
def test_no_more_where_a_turn_makes_few_trials(enough: int, more: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where one move takes long, the solver's time is worth more."""
    monkeypatch.setattr(solving, "ENOUGH", enough)
    monkeypatch.setattr(solving, "TURN_SEC", 0.01)
    one, limit = side(), Limit(60.0, None, None)
    one._fruitless_sec = 10_000.0
    one.bounds._open = False
    one.turn(limit)
    before = one.trials
    assert before
    one.turn(limit)
    assert (one.trials > before) is more
