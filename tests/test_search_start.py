"""A search that begins with a list: the list is mended, filled up, and never made worse."""

from __future__ import annotations

import random

from hypothesis import given, settings
from hypothesis import strategies as st
from random_shops import random_work

from planner.plan import Listed, Plan
from planner.search import search
from planner.search.dispatch import RULES
from planner.verify import verify
from planner.work import Work

SHOPS = st.integers(0, 100_000)


def list_of(work: Work, made: Plan) -> list[Listed]:
    steps = made.step_of()
    return [Listed(i, steps[i].machine) for i in made.sequence]


@settings(max_examples=15)
@given(number=SHOPS)
def test_a_search_goes_on_from_a_plan_exactly_as_it_was(number: int) -> None:
    work = random_work(number)
    made = search(work, trials=300)
    again = search(work, trials=1, start=list_of(work, made))
    assert (again.cost, again.steps, again.trials) == (made.cost, made.steps, 1)
    assert search(work, trials=100, start=list_of(work, made)).cost.first <= made.cost.first


@settings(max_examples=30)
@given(number=SHOPS, some=st.integers(0, 20))
def test_any_piece_of_a_list_will_do(number: int, some: int) -> None:
    """In any order, with machines that there are not, and whatever is missing comes behind."""
    work = random_work(number)
    order = random.Random(number).sample(range(len(work.operations)), min(some, len(work.operations)))
    made = search(work, trials=1, start=[Listed(i, [None, 10_000][i % 2]) for i in order])
    assert verify(work, made) == []
    assert len(made.steps) == len(search(work, trials=1).steps)


@settings(max_examples=30)
@given(number=SHOPS)
def test_the_first_plan_is_the_better_of_the_list_and_the_rules(number: int) -> None:
    work = random_work(number)
    order = random.Random(number).sample(range(len(work.operations)), len(work.operations))
    start = [Listed(i) for i in order]
    poor, rules = search(work, trials=1, start=start), search(work, trials=7)
    assert search(work, trials=8, start=start).cost.first <= min(poor.cost.first, rules.cost.first)


@settings(max_examples=10)
@given(number=SHOPS)
def test_each_first_plan_is_told_at_once(number: int) -> None:
    """Whoever stops at the first has it."""
    work, told = random_work(number), []
    search(work, trials=len(RULES), progress=lambda p: told.append((p.phase, p.trials, p.cost.first)))
    costs = [cost for _, _, cost in told]
    assert [(phase, trials) for phase, trials, _ in told] == [("first plan", k + 1) for k in range(len(RULES))]
    assert costs == sorted(costs, reverse=True)
    stopped = search(work, seconds=60, stop=lambda: True)
    assert (stopped.trials, stopped.cost.first) == (1, costs[0])
    assert verify(work, stopped) == []
