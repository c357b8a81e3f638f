"""The second list search: it has turns where the solver gains nothing, goes its own way, and what it finds counts."""

from __future__ import annotations

import numpy as np
import pytest
from random_shops import random_work

from planner.search import search, solving
from planner.search.climb import Climber
from planner.search.dispatch import RULES, dispatch
from planner.search.limit import Limit
from planner.search.solving import Solving
from planner.timetable import Timetable
from planner.verify import verify

LATE = 5  # a random shop with late orders that no plan brings in time


def sides() -> tuple[Climber, Solving]:
    """Both sides of a search that has just made its first plan."""
    table = Timetable(random_work(LATE, jobs=12))
    sequence = dispatch(table, RULES[0])
    choice = table.choice.copy()
    table.reset()
    climber = Climber(table, sequence, choice, 1)
    return climber, Solving(table.twin(), climber, 1)


def side() -> Solving:
    return sides()[1]


@pytest.mark.parametrize(("fruitless", "turns"), [(0, 0), (7, 0), (8, 1), (15, 1), (16, 2), (10_000, 4)])
def test_turns_between_two_of_the_solver(fruitless: int, turns: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(solving, "TURN_SEC", 0.01)
    one, limit, had = side(), Limit(60.0, None, None), 0
    one._fruitless = fruitless
    for _ in range(turns):
        before = one.trials
        one.turn(limit)
        had += one.trials > before
    before = one.trials
    one.turn(limit)  # the solver's
    assert (had, one.trials) == (turns, before)


def test_none_where_the_limit_is_in_trials() -> None:
    """Its share would depend on the clock, and the plan with it."""
    one = side()
    one._fruitless = 10_000
    for _ in range(5):
        one.turn(Limit(None, 10_000, None))
    assert one.trials == 0


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


def test_it_begins_with_the_first_plan_whatever_became_of_that() -> None:
    """The list search writes its best list over the last one."""
    climber, one = sides()
    first = climber.best.copy()
    climber.run(2_000)
    assert not np.array_equal(climber.best, first)
    assert np.array_equal(one._first[0], first)


def test_a_whole_search_with_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(solving, "FRUITLESS", 1)
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
    one._fruitless = 10_000
    one.turn(limit)
    before = one.trials
    assert before
    one.turn(limit)
    assert (one.trials > before) is more
