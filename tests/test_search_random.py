"""Every plan of a random shop, by any rule and by the search, is allowed; and re-timing a tail is timing it all."""

from __future__ import annotations

import random

import numpy as np
import pytest
from builders import as_plan
from hypothesis import given, settings
from hypothesis import strategies as st
from random_shops import random_work

from planner.search import search
from planner.search.dispatch import RULES, Rule, dispatch
from planner.timetable import Timetable
from planner.verify import verify

SHOPS = st.integers(0, 100_000)


@pytest.mark.parametrize("rule", RULES, ids=lambda r: r.name)
@settings(max_examples=25)
@given(number=SHOPS)
def test_plans_by_every_rule_are_allowed(rule: Rule, number: int) -> None:
    work = random_work(number)
    table = Timetable(work)
    sequence = dispatch(table, rule)
    choice = table.choice.copy()
    table.reset()
    assert table.time(sequence, choice) == 0
    assert verify(work, as_plan(work, table)) == []


@settings(max_examples=60)
@given(number=SHOPS, placing=st.booleans())
def test_any_list_gives_an_allowed_plan(number: int, placing: bool) -> None:
    """In any order that respects what waits for what, appended or placed into gaps."""
    work = random_work(number)
    table = Timetable(work)
    order = list(range(len(work.operations)))
    random.Random(number).shuffle(order)
    assert table.time(table.repaired(order), placing=placing) == 0
    assert verify(work, as_plan(work, table)) == []


@settings(max_examples=15)
@given(number=SHOPS, seed=st.integers(1, 5))
def test_plans_of_the_search_are_allowed_and_the_same_again(number: int, seed: int) -> None:
    """List search and solver turns, by trials: the same seed gives the same steps and cost."""
    work = random_work(number)
    plans = [search(work, trials=1300, seed=seed) for _ in range(2)]
    assert verify(work, plans[0]) == []
    assert (plans[0].steps, plans[0].cost, plans[0].trials) == (plans[1].steps, plans[1].cost, plans[1].trials)
    assert plans[0].cost.first <= search(work, trials=1).cost.first


@settings(max_examples=60)
@given(number=SHOPS)
def test_timing_a_tail_anew_is_timing_all(number: int) -> None:
    """After any number of changes the state is that of a fresh timetable."""
    work, rng = random_work(number), random.Random(number)
    table = Timetable(work)
    now = table.repaired([])
    table.time(now)
    choice = table.choice.copy()
    for _ in range(8):
        order = now.tolist()
        i, j = sorted(rng.randrange(len(order)) for _ in range(2))
        order.insert(i, order.pop(j))
        new = table.repaired(order)
        op = rng.randrange(len(choice))
        row = table.data.op[op]
        if row["alt_hi"] > row["alt_lo"]:
            choice[op] = rng.randrange(int(row["alt_lo"]), int(row["alt_hi"]))
        same = int(np.argmax(np.append(new != now, True)))
        table.retime(new, choice, min(same, new.tolist().index(op) if op in new else same))
        now = new
        fresh = Timetable(work)
        fresh.time(new, choice)
        assert table.steps() == fresh.steps()
        assert table.cost() == fresh.cost()
