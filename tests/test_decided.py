"""A list with what was decided about the running order in it."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import pytest
from builders import ShopBuilder

from planner.decided import in_decided_order
from planner.plan import Listed
from planner.work import Kept, Work

A, B, C = range(3)


def work(*after: tuple[int, int]) -> Work:
    """Three batches on one machine, some decided to be right after another one."""
    shop = ShopBuilder()
    for name in "ABC":
        shop.batch(name).op("M")
    made = shop.order("O", "A", "B", "C", due=0).build()
    return replace(made, kept=tuple(Kept(op, 0, before, 100) for op, before in sorted(after)))


@pytest.mark.parametrize("listed", list(permutations([A, B, C])))
@pytest.mark.parametrize("chain", list(permutations([A, B, C])))
def test_a_chain_of_decisions_holds_whatever_the_list(listed: tuple[int, ...], chain: tuple[int, ...]) -> None:
    """The second right after the first, the third right after the second."""
    first, second, third = chain
    found = in_decided_order([Listed(i, 0) for i in listed], work((second, first), (third, second)))
    assert [row.operation for row in found] == [first, second, third]


def test_decisions_that_go_round_in_a_circle_lose_nothing() -> None:
    found = in_decided_order([Listed(i, 0) for i in (A, B, C)], work((A, B), (B, A)))
    assert sorted(row.operation for row in found) == [A, B, C]
