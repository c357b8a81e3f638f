"""Splits and combinations in the work: what their parts allow from both sides of each edge, and every piece accounted for."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from explode_shops import machine_step, open_batch, order, part, shop
from hypothesis import given
from hypothesis import strategies as st
from test_explode_balance import check_balance, check_supply, shops

from planner.explode import explode
from planner.explode.quantities import split_quantities, yield_of
from planner.shop import BatchRule, Component, Pin, Progress, Shop
from planner.work import Change, Proposal, Work

RULES: dict[str, Any] = {"split_minimum": 20, "combine_within_days": 3}


def split(*names: str, of: str = "P", pieces: tuple[int, ...] = ()) -> Proposal:
    return Proposal(Change.SPLIT, of, names, pieces)


def combine(*names: str, of: str = "P", pieces: tuple[int, ...] = ()) -> Proposal:
    return Proposal(Change.COMBINE, of, names, pieces)


def starts(work: Work) -> dict[str, int]:
    return {batch.name: batch.start_pieces for batch in work.batches}


def one(quantity: int = 40, **more: Any) -> Shop:
    return shop((order("C1", "P", quantity),), (part("P", **RULES),), **more)


def two(days: int, **more: Any) -> Shop:
    """Two orders of 10 and 15, due so many days apart over the last Sunday of March."""
    due = date(2026, 3, 27)
    later = date.fromordinal(due.toordinal() + days)
    orders = (order("C1", "P", 10, due), order("C2", "P", 15, later))
    return shop(orders, more.pop("parts", (part("P", **RULES),)), **more)


# --- split -----------------------------------------------------------------------------------


@pytest.mark.parametrize(("quantity", "expected"), [(40, {"C1-1/1": 20, "C1-1/2": 20}), (39, {"C1-1": 39})])
def test_a_batch_of_twice_the_minimum_may_be_split(quantity: int, expected: dict[str, int]) -> None:
    assert starts(explode(one(quantity), (), [split("C1-1")])) == expected


def test_both_halves_feed_the_order_and_their_steps_are_their_own() -> None:
    work = explode(one(45), (), [split("C1-1")])
    assert [(s.pieces, s.batch) for s in work.orders[0].sources] == [(23, 0), (22, 1)]
    assert [(op.batch, op.number, op.pieces) for op in work.operations] == [(0, 10, 23), (1, 10, 22)]
    assert work.proposals == (split("C1-1", pieces=(23, 22)),)
    assert work.fingerprint != explode(one(45)).fingerprint


def test_each_half_uses_up_its_own_setting_pieces() -> None:
    work = explode(one(40, routings={"P": (machine_step(10, setting_pieces=1), machine_step(20))}), (), [split("C1-1")])
    assert [batch.setting_pieces for batch in work.batches] == [1, 1]


def test_a_part_that_does_not_allow_it_is_not_split() -> None:
    made = shop((order("C1", "P", 40),), (part("P", combine_within_days=9),))
    assert starts(explode(made, (), [split("C1-1")])) == {"C1-1": 40}


@pytest.mark.parametrize(
    ("rule", "minimum", "expected"),
    [
        (BatchRule(), 20, (20, 20)), (BatchRule(), 21, None),
        (BatchRule(minimum=20), 1, (20, 20)), (BatchRule(minimum=21), 1, None),
        (BatchRule(multiple=8), 16, (24, 16)), (BatchRule(multiple=8), 17, None),
        (BatchRule(multiple=8, maximum=24), 1, (24, 16)), (BatchRule(multiple=8, maximum=23), 1, None),
    ],
)  # fmt: skip
def test_halves_keep_minimum_multiple_and_maximum(
    rule: BatchRule, minimum: int, expected: tuple[int, int] | None
) -> None:
    assert split_quantities(40, rule, minimum, yield_of(100.0)) == expected


def test_halves_bring_what_the_whole_brings() -> None:
    """At 97 %, 37 pieces bring 35, and 19 and 18 bring 18 and 17; but 69 bring 66, 35 and 34 only 33 and 32."""
    assert split_quantities(37, BatchRule(), 1, yield_of(97.0)) == (19, 18)
    assert split_quantities(69, BatchRule(), 1, yield_of(97.0)) == (35, 35)


def test_a_batch_under_twice_the_minimum_is_not_made_larger_to_split_it() -> None:
    """69 pieces would need a second half of 35, see above."""
    assert split_quantities(69, BatchRule(), 35, yield_of(97.0)) is None
    assert split_quantities(70, BatchRule(), 35, yield_of(97.0)) == (35, 36)


@pytest.mark.parametrize(("quantity", "percent", "halves"), [(2, 2.0, 2), (1, 1.0, 1)])
def test_a_half_that_brings_no_good_piece_is_not_made(quantity: int, percent: float, halves: int) -> None:
    """100 pieces either way; half of them bring one good piece at 2 %, none to count on at 1 %."""
    made = shop((order("C1", "P", quantity),), (part("P", yield_percent=percent, split_minimum=50),))
    work = explode(made, (), [split("C1-1")])
    assert (len(work.batches), sum(starts(work).values())) == (halves, 100)


# --- combine ---------------------------------------------------------------------------------


@pytest.mark.parametrize(("days", "expected"), [(3, {"C1-1+C2-1": 25}), (4, {"C1-1": 10, "C2-1": 15})])
def test_batches_due_within_the_days_may_be_run_as_one(days: int, expected: dict[str, int]) -> None:
    assert starts(explode(two(days), (), [combine("C1-1", "C2-1")])) == expected


def test_both_orders_are_fed_and_the_material_of_both_is_waited_for() -> None:
    made = two(3)
    made.orders["C2"] = replace(made.orders["C2"], material_date=date(2026, 3, 25))
    work = explode(made, (), [combine("C1-1", "C2-1")])
    assert [[(s.pieces, s.batch) for s in o.sources] for o in work.orders] == [[(10, 0)], [(15, 0)]]
    assert work.batches[0].release_min == 2 * 1440
    assert work.batches[0].due_min == work.orders[0].due_min


def test_three_batches_are_run_as_one_when_the_first_and_last_are_close_enough() -> None:
    def made(last: int) -> dict[str, int]:
        due = [date(2026, 4, day) for day in (13, 15, last)]
        orders = tuple(order(f"C{n}", "P", 10, day) for n, day in enumerate(due, 1))
        made_shop = shop(orders, (part("P", **RULES),))
        return starts(explode(made_shop, (), [combine("C1-1", "C2-1", "C3-1")]))

    assert made(16) == {"C1-1+C2-1+C3-1": 30}
    assert len(made(17)) == 3


def test_one_batch_keeps_the_largest_quantity() -> None:
    def count(maximum: int) -> int:
        parts = (part("P", rule=BatchRule(maximum=maximum), **RULES),)
        return len(explode(two(3, parts=parts), (), [combine("C1-1", "C2-1")]).batches)

    assert (count(25), count(24)) == (1, 2)


def test_one_batch_needs_no_more_scrap_allowance_than_its_pieces_ask_for() -> None:
    """10 good at 90 % are 12 of which 10 are good, 15 are 17; 25 good are 28."""
    parts = (part("P", yield_percent=90.0, **RULES),)
    assert starts(explode(two(3, parts=parts))) == {"C1-1": 12, "C2-1": 17}
    assert starts(explode(two(3, parts=parts), (), [combine("C1-1", "C2-1")])) == {"C1-1+C2-1": 28}


# --- what stays as it is -----------------------------------------------------------------------


@pytest.mark.parametrize("progress", [(), (Progress(10, "part", good=1),), (Progress(10, "running", "LATHE"),)])
def test_batches_that_are_released_or_begun_are_not_touched(progress: tuple[Progress, ...]) -> None:
    orders = (order("C1", "P", 40), order("C2", "P", 10))
    made = shop(orders, (part("P", **RULES),), batches=(open_batch("C1-1", "P", 40, order="C1", progress=progress),))
    work = explode(made, (), [split("C1-1"), combine("C1-1", "C2-1")])
    assert starts(work) == {"C1-1": 40, "C2-1": 10}
    assert work.proposals == ()


def test_pinned_batches_are_not_touched() -> None:
    pins = (Pin("C1-1", 10, "LATHE"),)
    assert starts(explode(one(40, pins=pins), (), [split("C1-1")])) == {"C1-1": 40}
    assert len(explode(two(3, pins=pins), (), [combine("C1-1", "C2-1")]).batches) == 2


def test_nothing_is_proposed_where_it_is_switched_off() -> None:
    assert starts(explode(one(settings={"batch_proposals": False}), (), [split("C1-1")])) == {"C1-1": 40}


@pytest.mark.parametrize(
    "proposal",
    [
        split("C9-1"), split("C1-1", of="Q"), split("C1-1", pieces=(21, 19)), split("C1-1", "C2-1"),
        combine("C1-1"), combine("C1-1", "C1-1"), combine("C1-1", "C9-1"), combine("C1-1", "C2-1", pieces=(81,)),
    ],
    ids=str,
)  # fmt: skip
def test_a_proposal_that_does_not_fit_is_passed_over(proposal: Proposal) -> None:
    made = shop((order("C1", "P", 40), order("C2", "P", 40)), (part("P", **RULES), part("Q", **RULES)))
    assert explode(made, (), [proposal]) == explode(made)


def test_no_batch_is_in_two_proposals() -> None:
    made = shop((order("C1", "P", 40), order("C2", "P", 40)), (part("P", **RULES),))
    work = explode(made, (), [combine("C1-1", "C2-1"), split("C1-1"), split("C1-1+C2-1")])
    assert starts(work) == {"C1-1+C2-1": 80}


def test_a_name_that_is_taken_is_not_given_twice() -> None:
    orders = (order("C1", "P", 40), order("C2", "P", 10))
    made = shop(orders, (part("P", **RULES),), batches=(open_batch("C1-1/2", "P", 10, order="C2"),))
    assert set(starts(explode(made, (), [split("C1-1")]))) == {"C1-1", "C1-1/2"}


# --- what is below -----------------------------------------------------------------------------


def test_components_go_to_each_half() -> None:
    parts = (part("P", **RULES), part("K"))
    made = shop((order("C1", "P", 40),), parts, structure=(Component("P", "K", 2),))
    work = explode(made, (), [split("C1-1")])
    wanted = {work.batches[work.operations[n.operation].batch].name: n.pieces for n in work.needs}
    assert wanted == {"C1-1/1": 40, "C1-1/2": 40}


def test_components_can_be_split_themselves() -> None:
    parts = (part("P"), part("K", **RULES))
    made = shop((order("C1", "P", 20),), parts, structure=(Component("P", "K", 2),))
    work = explode(made, (), [split("C1/K-1", of="K")])
    assert starts(work) == {"C1-1": 20, "C1/K-1/1": 20, "C1/K-1/2": 20}


@given(shops(), st.randoms(use_true_random=False))
def test_every_piece_is_accounted_for_with_proposals(made: Shop, chance: Any) -> None:
    """Orders and parents get what they want, no batch gives more than it has, whatever is split or combined."""
    parts = {n: replace(p, split_minimum=1, combine_within_days=2) for n, p in made.parts.items()}
    made = replace(made, parts=parts)
    plain = explode(made)
    proposals = [split(b.name, of=b.part) for b in plain.batches if chance.random() < 0.4]
    by_part: dict[str, list[str]] = {}
    for batch in plain.batches:
        by_part.setdefault(batch.part, []).append(batch.name)
    proposals += [combine(*names[:2], of=number) for number, names in by_part.items() if len(names) > 1]
    work = explode(made, (), proposals)
    check_balance(made, work)
    check_supply(made, work)
    names = Counter(batch.name for batch in work.batches)
    assert all(names[name] == 1 for p in work.proposals for name in p.makes)
    assert explode(made, (), work.proposals) == work


def test_a_batch_of_an_order_that_comes_after_all_is_run_by_itself() -> None:
    """Its supplies are what all others leave: run as one with another's, those would no longer be given to the others first."""
    orders = (order("C1", "P", 10), order("Q", "P", 15, after_all=True))
    parts = (part("P", **RULES), part("K"))
    made = shop(orders, parts, structure=(Component("P", "K", 1, 10),))
    work = explode(made, (), [combine("C1-1", "Q-1")])
    assert work.proposals == ()
    assert work == explode(made)


def test_a_batch_that_something_is_decided_to_be_right_after_is_left_alone() -> None:
    made = one(40, pins=(Pin("X", 10, "LATHE", after_batch="C1-1", after_operation=10),))
    assert starts(explode(made, (), [split("C1-1")])) == {"C1-1": 40}
