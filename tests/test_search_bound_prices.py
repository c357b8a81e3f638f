"""The bound from prices never exceeds what an allowed plan costs, whatever the prices; and known answers."""

from __future__ import annotations

import random

import numpy as np
import pytest
from builders import ShopBuilder
from hypothesis import example, given, settings
from hypothesis import strategies as st
from lists import delayed, least_cost
from published import alike, flow_shop, one_machine
from random_shops import random_work

from planner.search import bound_prices, search
from planner.search.bound import order_alone_bound
from planner.search.bound_prices import UNIT, PriceBound, Sale
from planner.timetable import Timetable
from planner.work import Work

SHOPS = st.integers(0, 100_000)
HORIZON = 12_000


def fine_sale(bound: PriceBound) -> Sale:
    return Sale(bound.ground, bound.trees, HORIZON, 1, bound.width)


@settings(max_examples=20)
@given(number=SHOPS, top=st.sampled_from([0.1, 1.0, 4.0]))
def test_no_prices_give_more_than_a_plan_costs(number: int, top: float) -> None:
    """Random prices, against all lists of a tiny shop, also of one in which some work waits for no reason."""
    work, rng = random_work(number, jobs=3), random.Random(number)
    sale = fine_sale(PriceBound(Timetable(work), HORIZON))
    least = min(least_cost(work, rng), *(least_cost(delayed(work, rng), rng, 200) for _ in range(3)))
    random_rates = np.random.default_rng(number)
    for slope in (0, 1):
        rate = random_rates.random(sale.capacity.shape) * top * UNIT
        rate *= np.linspace(1, 0, rate.shape[1]) ** 3 if slope else random_rates.random(rate.shape) < 0.1
        assert -(-sale.at(rate.astype(np.int64)).value // UNIT) <= least


@settings(max_examples=25)
@given(number=SHOPS)
@example(number=84404)  # steps along the prices that grew without end
def test_found_bound_is_below_every_plan_and_not_below_each_order_alone(number: int) -> None:
    work, rng = random_work(number, jobs=3), random.Random(number)
    least = least_cost(work, rng)
    bound = PriceBound(Timetable(work), HORIZON)
    bound.run(85, least)
    bound.check()
    assert order_alone_bound(Timetable(work)).value <= bound.bound.value <= least


@settings(max_examples=8)
@given(number=SHOPS)
def test_bound_is_below_the_plans_of_the_search_in_larger_shops(number: int) -> None:
    work = random_work(number, jobs=14)
    cost = search(work, trials=1000).cost.first
    bound = PriceBound(Timetable(work), HORIZON)
    bound.run(45, cost)
    assert bound.check().value <= cost


@settings(max_examples=5)
@given(number=SHOPS)
def test_same_rounds_give_the_same_bound(number: int) -> None:
    work = random_work(number, jobs=8)
    found = []
    for _ in range(2):
        bound = PriceBound(Timetable(work), HORIZON)
        bound.run(50, 1 << 30)
        found.append(bound.check())
    assert found[0] == found[1]


def bound_of(work: Work, optimum: int, horizon: int) -> int:
    bound = PriceBound(Timetable(work), horizon)
    bound.run(320, optimum)
    return bound.check().value


def test_weighted_completion_on_one_machine_is_met_but_for_rounding_of_the_prices() -> None:
    """Smith, Naval Research Logistics Quarterly 3:59-66, 1956; data with and without chains: Pinedo, Scheduling."""
    p, w = [3, 6, 6, 5, 4, 8, 10], [6, 18, 12, 8, 8, 17, 18]
    assert 1935 <= bound_of(one_machine(p, weight=w), 1942, 60) <= 1942
    chains = [(1, 2), (2, 3), (3, 4), (5, 6), (6, 7)]
    assert 1955 <= bound_of(one_machine(p, weight=w, chains=chains), 1967, 60) <= 1967


def test_weighted_tardiness_on_one_machine() -> None:
    """Branch and bound and tabu search examples in Pinedo, Scheduling: optima 67 and 408; total tardiness 370."""
    assert bound_of(one_machine([12, 8, 15, 9], due=[16, 26, 25, 27], weight=[4, 5, 3, 5]), 67, 60) == 67
    assert bound_of(one_machine([10, 10, 13, 4], due=[4, 2, 1, 12], weight=[14, 12, 1, 12]), 408, 60) == 408
    assert 330 <= bound_of(one_machine([121, 79, 147, 83, 130], due=[260, 266, 266, 336, 337]), 370, 600) <= 370


def test_last_of_several_on_alike_machines_and_in_a_flow_shop() -> None:
    """One order that waits for all: above the longest job, below the optimum (18 by McNaughton's data, 30 by Johnson's)."""
    assert 13 < bound_of(alike([13, 9, 9, 6, 6, 6], 3), 18, 60) <= 18
    assert 16 < bound_of(flow_shop([5, 1, 9, 3, 10], [2, 6, 7, 8, 4]), 30, 60) <= 30


def test_two_kits_that_want_the_same_machine() -> None:
    """Two assemblies of two parts each, all parts an hour on one saw, assembled in no time: one is there after
    2 hours, the other after 4; each alone would be there after 2."""
    shop = ShopBuilder()
    for kit in "AB":
        for part in "12":
            shop.batch(f"{kit}{part}").op("saw", 0, 3600)
        shop.batch(kit).wait(0).need(kit, 10, f"{kit}1").need(kit, 10, f"{kit}2").order(kit, kit, due=120)
    work = shop.build()
    assert least_cost(work, random.Random(1)) == 120
    assert order_alone_bound(Timetable(work)).value == 0
    assert 80 <= bound_of(work, 120, 600) <= 120


def late_on_one_machine() -> Timetable:
    table = Timetable(one_machine([7, 8, 4, 6, 6], due=[19, 17, 9, 18, 21]))
    table.time(table.repaired([]))
    return table


def test_rounds_end_when_the_search_is_over() -> None:
    asked: list[bool] = []

    def over() -> bool:
        asked.append(True)
        return len(asked) > 3

    bound = PriceBound(late_on_one_machine(), 100)
    bound.run(50, 10**6, over)
    assert bound.rounds == 3


@pytest.mark.parametrize(("cells", "rounds"), [(3 * 100 - 1, 0), (3 * 100, 5)])
def test_where_an_order_has_too_many_steps_there_is_no_room_for_prices(
    cells: int, rounds: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An order with three steps, until minute 100: each step takes memory for each minute."""
    monkeypatch.setattr(bound_prices, "TREE_CELLS", cells)
    shop = ShopBuilder().batch("A").op("M").op("N").op("M").order("O", "A", due=0)
    bound = PriceBound(Timetable(shop.batch("B").op("M").order("P", "B", due=0).build()), 100)
    bound.run(5, 10**6)
    assert bound.rounds == rounds
