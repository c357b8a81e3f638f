"""The whole model: never above the cheapest allowed plan, equal to it where nothing is made easier, its list a plan."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
from builders import ShopBuilder, as_plan, days
from hypothesis import given, settings
from hypothesis import strategies as st
from lists import delayed, least_cost
from published import alike, flow_shop, one_machine
from random_shops import random_work

from planner.search.cpsat import Cpsat
from planner.search.dispatch import RULES, dispatch
from planner.search.freed import KINDS, around_what_costs
from planner.search.solver import _Model
from planner.search.starts import Starts
from planner.search.whole import Found, Whole
from planner.timetable import Timetable
from planner.verify import verify
from planner.work import Work

SHOPS = st.integers(0, 100_000)


def first_plan(work: Work) -> Timetable:
    table = Timetable(work)
    sequence = dispatch(table, RULES[0])
    choice = table.choice
    table.reset()
    table.time(sequence, choice)
    return table


def solved(work: Work, limit: float = 20.0) -> tuple[Found, int]:
    """What the model says, and the cost of its list in the timetable."""
    table = first_plan(work)
    found = Whole(table).solve(Cpsat(), limit, 1)
    assert found.start
    assert table.time(*found.as_list(table)) == 0
    assert verify(work, as_plan(work, table)) == []
    return found, table.cost().first


@settings(max_examples=30)
@given(number=SHOPS)
def test_bound_is_not_above_any_plan(number: int) -> None:
    """All lists of a tiny shop with every rule in it, also with work that waits for no reason."""
    work, rng = random_work(number, jobs=3), random.Random(number)
    found, cost = solved(work)
    assert cost >= found.bound.value
    assert found.bound.value <= least_cost(work, rng)
    assert found.bound.value <= min(least_cost(delayed(work, rng), rng, 100) for _ in range(3))


@settings(max_examples=25)
@given(number=SHOPS)
def test_bound_is_not_above_plans_of_larger_shops(number: int) -> None:
    work, rng = random_work(number, jobs=12), random.Random(number)
    found, cost = solved(work, 3.0)
    assert found.bound.value <= min(cost, first_plan(work).cost().first, least_cost(work, rng, 200))


def plain_work(number: int) -> Work:
    """Machines, hours, alternatives, waits, moves, collections with room for all, kits: nothing that is made easier."""
    rng = random.Random(number)
    shop = ShopBuilder().machine("M1", days(60, (0, 240), (270, 510))).machine("M2", days(60, (0, 700)))
    shop.service("plate", [(d * 1440 + 300, d * 1440 + 360, (d + 2) * 1440) for d in range(60)])
    for n in range(rng.randint(2, 4)):
        shop.batch(f"B{n}", pieces=rng.choice([1, 7]), part=f"P{n}", release=rng.choice([0, 300]))
        for k in range(rng.randint(1, 2)):
            if k and rng.random() < 0.4:
                shop.outside("plate")
            else:
                shop.op(
                    rng.choice(["M1", "M2", ["M1", "M2"]]), rng.choice([0, 30]), 60 * rng.choice([5, 40, 90]),
                    move_min=rng.choice([0, 20]), wait_min=rng.choice([0, 45]),
                )  # fmt: skip
        if n and rng.random() < 0.5:
            shop.need(f"B{n}", 10, f"B{n - 1}")
        shop.order(f"O{n}", f"B{n}", due=rng.randint(0, 1500), weight=rng.choice([1, 2, 4]))
    return shop.build()


@settings(max_examples=40)
@given(number=SHOPS)
def test_bound_is_the_optimum_of_plain_work_and_its_list_reaches_it(number: int) -> None:
    work = plain_work(number)
    found, cost = solved(work, 10.0)
    assert found.bound.value == cost
    assert cost <= least_cost(work, random.Random(number))


@pytest.mark.parametrize(
    ("work", "optimum"),
    [
        (one_machine([7, 8, 4, 6, 6], due=[9, 17, 18, 19, 21]), 16),
        (one_machine([121, 79, 147, 83, 130], due=[260, 266, 266, 336, 337]), 370),
        (one_machine([12, 8, 15, 9], due=[16, 26, 25, 27], weight=[4, 5, 3, 5]), 67),
        (one_machine([10, 10, 13, 4], due=[4, 2, 1, 12], weight=[14, 12, 1, 12]), 408),
        (one_machine([3, 6, 6, 5, 4, 8, 10], weight=[6, 18, 12, 8, 8, 17, 18]), 1942),
        (flow_shop([5, 1, 9, 3, 10], [2, 6, 7, 8, 4]), 30),
        (alike([13, 9, 9, 6, 6, 6], 3), 18),
        (alike([5, 5, 5], 2), 10),
    ],
    ids=["Moore", "Pinedo total", "Pinedo weighted", "Pinedo tabu", "Smith", "Johnson", "McNaughton 3", "McNaughton 2"],
)
def test_published_optima(work: Work, optimum: int) -> None:
    """Moore, Management Science 15:102-109, 1968; Pinedo, Scheduling (examples of total and weighted tardiness);
    Smith, Naval Research Logistics Quarterly 3:59-66, 1956; Johnson, same 1:61-68, 1954 (data of a text exercise);
    McNaughton, Management Science 6:1-12, 1959 (optima without interruption)."""
    found, cost = solved(work, 20.0)
    assert found.bound.value == cost == optimum


def test_same_limit_gives_the_same_answer() -> None:
    work = random_work(17, jobs=12)
    assert solved(work, 0.5) == solved(work, 0.5)


def test_nothing_is_claimed_where_a_plan_has_work_without_a_time() -> None:
    """Hours that are too short: no plan, no bound."""
    work = ShopBuilder().machine("M", ((0, 10),)).batch("B").op("M", 0, 6000).order("O", "B", due=5).build()
    table = Timetable(work)
    assert table.time(np.array([0])) == 1
    found = Whole(table).solve(Cpsat(), 1.0, 1)
    assert (found.bound.value, found.start, found.alt) == (0, {}, {})


@pytest.mark.parametrize("times", [1, 1_000, 10**9])
def test_however_heavy_orders_are_the_solver_takes_the_models(times: int) -> None:
    """The weighted minutes of all orders have to fit its numbers; and the optimum is proved as with small weights."""
    work = random_work(5, jobs=5)
    work = replace(work, orders=tuple(replace(o, weight=times * o.weight) for o in work.orders))
    table = first_plan(work)
    assert Whole(table).model.validate() == ""
    part = _Model(table, Starts(table), around_what_costs(table, random.Random(1), 8, KINDS[0]))
    assert part.possible and part.model.validate() == ""
    small, large = (one_machine([7, 8, 4, 6, 6], due=[19, 17, 9, 18, 21]) for _ in range(2))
    large = replace(large, orders=tuple(replace(o, weight=times * o.weight) for o in large.orders))
    assert Whole(first_plan(large)).solve(Cpsat(), 20.0, 1).bound.value == times * solved(small)[1]
