"""The engine finds the cheapest plan of tiny shops in which every rule is met: compared with every list there is."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from itertools import count, islice

import pytest
from builders import ShopBuilder
from lists import least_of_all
from random_shops import decided, random_work, under_way

from planner.plan import State
from planner.search import search
from planner.verify import verify
from planner.work import Work

BLOCKS, SHOPS = 10, 20  # SHOPS in each block
MOST_OPERATIONS = 6
TRIALS = 5_000


def tiny_work(number: int) -> Work:
    """Few operations with people, changeovers, equipment, first-offs, sublots, outside work, kits, begun work of every
    state, pins and an accepted plan; half of the shops in a hurry."""
    rng = random.Random(number)
    work = decided(under_way(random_work(number, jobs=3, steps=3), rng), rng)
    hurry = 8 if number % 2 else 1
    return replace(work, orders=tuple(replace(o, due_min=o.due_min // hurry) for o in work.orders))


def tiny_shops(first: int) -> Iterator[tuple[int, Work]]:
    """Shops that are small enough to try every list, by number."""
    shops = ((number, tiny_work(number)) for number in count(first))
    return ((number, work) for number, work in shops if len(work.operations) <= MOST_OPERATIONS)


def fault(number: int, work: Work) -> str:
    """What is wrong with the engine's plan; empty when nothing is. A plan below every list is welcome, if allowed."""
    least, plan = least_of_all(work), search(work, trials=TRIALS)
    if least is None or not plan.complete:
        return "" if least is None and plan.state is State.IMPOSSIBLE else f"{number}: {plan.state}, least {least}"
    if breaches := verify(work, plan):
        return f"{number}: {breaches[0]}"
    if not plan.bound.value <= least >= plan.cost.first:
        return f"{number}: cost {plan.cost.first}, bound {plan.bound.value}, least {least}"
    return ""


@pytest.mark.parametrize("block", range(BLOCKS))
def test_no_list_is_cheaper_than_the_plan(block: int) -> None:
    """Nor may the bound be above the cheapest list. Faults name the shop by its number in ``tiny_work``."""
    shops = islice(tiny_shops(1000 * block), SHOPS)
    assert [f for f in (fault(*shop) for shop in shops) if f] == []


def test_the_only_operation_that_is_free_goes_to_the_machine_of_the_accepted_plan() -> None:
    """Though the other would be done sooner: nothing is late on either, and change has a price."""
    shop = ShopBuilder().batch("A").op({"slow": (0, 600), "quick": (0, 300)}).order("O", "A", due=100)
    work = shop.kept("A", 10, "slow").build()
    assert least_of_all(work) == 0
    assert search(work, trials=TRIALS).cost.first == 0


@pytest.mark.parametrize(("second_a", "first_b", "setup_min"), [(240, 150, 90), (300, 150, 60), (120, 210, 30)])
def test_changeovers_are_saved_as_far_as_nothing_is_late_for_it(second_a: int, first_b: int, setup_min: int) -> None:
    """Two of each family, an hour each, half an hour between families: the second tier never costs a minute of the first.

    Due at 240 and 150 the families take turns; a minute sooner nothing would be in time. With an hour more for the second of
    A the two of B follow each other, and with B due after both of A each family is run in one go.
    """
    shop = ShopBuilder().machine("M", group="g").changeover("g", "a", "b", 30).changeover("g", "b", "a", 30)
    for name, due in (("A1", 60), ("B1", first_b), ("A2", second_a), ("B2", 900)):
        shop.batch(name, pieces=60).op("M", family=name[0].lower()).order(f"O{name}", name, due=due)
    work = shop.build()
    plan = search(work, trials=TRIALS)
    assert verify(work, plan) == []
    assert (plan.cost.first, plan.cost.setup) == (0, setup_min * work.prices.setup_weight)
