"""The bound from people's hours: worked by hand, and below what every plan costs."""

from __future__ import annotations

import random

import pytest
from builders import ALWAYS, ShopBuilder, days
from hypothesis import given, settings
from hypothesis import strategies as st
from lists import least_cost
from random_shops import random_work

from planner.search import search
from planner.search.bound import order_alone_bound
from planner.search.bound_people import KIND, PeopleBound, Pool, pools, spells_of
from planner.timetable import Timetable
from planner.work import Work

SHOPS = st.integers(0, 100_000)


def bounds_of(work: Work) -> list[int]:
    """By pool."""
    table = Timetable(work)
    table.time(table.repaired([]))
    bound = PeopleBound(table)
    return [bound.of(pool).value for pool in pools(work)]


def hand_work(orders: int, people: int, minutes: int = 60) -> Work:
    """So many orders, due at once, each an hour by hand on a bench of its own."""
    shop = ShopBuilder()
    for n in range(people):
        shop.person(f"P{n}", "fit")
    for n in range(orders):
        shop.batch(f"B{n}").manual(f"bench {n}", 60 * minutes, skill="fit").order(f"O{n}", f"B{n}", due=0)
    return shop.build()


def test_work_of_one_person_is_shared_out_over_his_time() -> None:
    """Four hours of four orders, in spells of a quarter of an hour: a minute of the order's sixty that is done in a spell counts a
    sixtieth of the minutes to the spell's first minute, and of 60 at least, as each order is late by that in any case. Truly
    60 + 120 + 180 + 240 = 600."""
    work = hand_work(4, 1)
    first_hour = 4 * 15 * 60
    others = sum(15 * (15 * spell + 1) for spell in range(4, 16))
    (bound,) = bounds_of(work)
    assert bound == -(-(first_hour + others) // 60) == 491
    assert order_alone_bound(Timetable(work)).value == 240 < bound < least_cost(work, random.Random(1)) == 600


@pytest.mark.parametrize(("people", "bound"), [(1, 491), (2, 287), (4, 240)])
def test_more_hands_are_counted(people: int, bound: int) -> None:
    assert bounds_of(hand_work(4, people)) == [bound]


def test_what_is_still_to_come_is_counted() -> None:
    """A day's wait behind the hand work, and three hours on a machine behind the setting."""
    shop = ShopBuilder().person("Ann", "fit")
    for n in range(4):
        shop.batch(f"B{n}").manual(f"bench {n}", 3600, skill="fit", wait_min=1440).order(f"O{n}", f"B{n}", due=1440)
    assert bounds_of(shop.build()) == [491]
    shop = ShopBuilder().person("Ann", "set")
    for n in range(4):
        shop.batch(f"B{n}").op(f"M{n}", 60, 180 * 60, skill="set").order(f"O{n}", f"B{n}", due=180)
    assert bounds_of(shop.build()) == [491]


def test_who_alone_has_a_skill_has_its_work_beside_all_else_that_is_his() -> None:
    """Ann alone fits, Ann and Ben check: her pool is of one skill, theirs of both."""
    shop = ShopBuilder().person("Ann", ["fit", "check"]).person("Ben", "check").person("Cy", "paint")
    shop.batch("A").manual("bench", skill="fit").manual("table", skill="check").order("O", "A", due=0)
    work = shop.build()
    fit, check = work.skills.index("fit"), work.skills.index("check")
    paint = [work.skills.index(s) for s in work.skills if s == "paint"]
    assert pools(work)[:2] == [Pool((0,), (fit,)), Pool((0, 1), (fit, check))]
    assert pools(work)[-1] == Pool((0, 1, 2), tuple(sorted([fit, check, *paint])))


def test_without_people_there_is_nothing_to_share_out() -> None:
    assert pools(ShopBuilder().batch("A").op("M").order("O", "A", due=0).build()) == []


def test_spells_have_the_minutes_of_all_who_are_there() -> None:
    """Two days of 08:00 to 08:20 and 08:10 to 08:40, in quarters of an hour; the last has no end."""
    starts, there = spells_of([days(2, (0, 20)), days(2, (10, 40))], 1475, 100)
    assert starts.tolist() == [0, 15, 30, 1440, 1455, 1470, 1475]
    assert there.tolist()[:-1] == [15 + 5, 5 + 15, 10, 15 + 5, 5 + 15, 5]
    starts, there = spells_of([ALWAYS], 1475, 10)  # longer ones where there may be but few
    assert starts.tolist() == [0, 240, 480, 720, 960, 1200, 1440, 1475]
    assert there.tolist()[:-1] == [240] * 6 + [35]


@settings(max_examples=25)
@given(number=SHOPS)
def test_bound_is_below_every_list_of_a_tiny_shop(number: int) -> None:
    work, rng = random_work(number, jobs=3), random.Random(number)
    found = bounds_of(work)
    assert order_alone_bound(Timetable(work)).value <= min(found)
    assert max(found) <= least_cost(work, rng, 500)


@settings(max_examples=6)
@given(number=SHOPS, hurry=st.sampled_from([1, 30]))
def test_bound_is_below_the_plans_of_the_search(number: int, hurry: int) -> None:
    work = random_work(number, jobs=14)
    for order in work.orders:
        object.__setattr__(order, "due_min", order.due_min // hurry)
    assert max(bounds_of(work)) <= search(work, trials=300).cost.first


def test_the_search_tells_a_bound_that_people_set() -> None:
    """More orders than one model of all can hold; nothing but the one fitter makes them late."""
    plan = search(hand_work(4, 1), trials=12_000)
    assert plan.cost.first == 600
    assert 491 <= plan.bound.value <= 600
    plan = search(hand_work(60, 1, 7), trials=12_000)
    assert plan.bound.kind == KIND
