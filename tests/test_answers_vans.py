"""Vans: what goes on which collection, at what charge, and what comes back when."""

from __future__ import annotations

import pytest
from builders import ShopBuilder, plan, step

from planner.answers.vans import Vans, vans
from planner.plan import Plan
from planner.work import Begun, Work

TRIPS = [(100, 200, 900), (1000, 1100, 1900)]


def three(first_pieces: int = 10, second_key: str = "black", trips: tuple[int, int] = (0, 0)) -> tuple[Work, Plan]:
    """Two batches for the anodiser at 2.40 a piece, minimum 85.00, 3.50 a batch (the figures of a common case)."""
    work = (
        ShopBuilder().service("anodiser", TRIPS, room=60, minimum=8500, line_fee=350)
        .batch("B1", pieces=first_pieces, part="body").outside("anodiser", piece_price_pence=240, charge_key="black")
        .batch("B2", pieces=5, part="cap").outside("anodiser", piece_price_pence=240, charge_key=second_key)
        .batch("B3", pieces=7, part="knob").outside("anodiser", begun=Begun.OUT, back_min=900)
        .build()
    )  # fmt: skip
    made = plan(
        work,
        step(work, "B1", 10, start=0, run=(TRIPS[trips[0]][1], TRIPS[trips[0]][2]), trip=trips[0]),
        step(work, "B2", 10, start=0, run=(TRIPS[trips[1]][1], TRIPS[trips[1]][2]), trip=trips[1]),
        step(work, "B3", 10, start=0, run=(0, 900)),
    )
    return work, made


def answer(**choices: object) -> Vans:
    return vans(*three(**choices))  # type: ignore[arg-type]


@pytest.mark.parametrize(("pieces", "pence", "minimum"), [(30, 8500, True), (31, 8640, False)])
def test_a_charge_is_the_minimum_or_the_pieces_and_the_fees(pieces: int, pence: int, minimum: bool) -> None:
    """35 pieces at 2.40 are 84.00, less than 85.00; 36 are 86.40. Two batches' fees on top."""
    (charge,) = answer(first_pieces=pieces).collections[0].charges
    assert (charge.pence, charge.fees_pence, charge.minimum) == (pence + 700, 700, minimum)


def test_another_key_or_another_collection_is_another_charge() -> None:
    assert [c.pence for c in answer(second_key="clear").collections[0].charges] == [8850, 8850]
    apart = answer(trips=(0, 1))
    assert [(c.collect_min, c.pence) for c in apart.collections] == [(200, 8850), (1100, 8850)]
    assert apart.pence == 17700


def test_charges_are_those_of_the_plans_cost() -> None:
    for choices in ({}, {"second_key": "clear"}, {"trips": (0, 1)}, {"first_pieces": 40}):
        work, made = three(**choices)  # type: ignore[arg-type]
        assert vans(work, made).pence * work.prices.charge_weight == made.cost.charges


def test_a_collection_shows_pieces_and_room() -> None:
    (van,) = answer().collections
    assert (van.supplier, van.pieces, van.room, van.collect) == ("anodiser", 15, 60, "Mon 23 Mar 2026 11:20")
    assert [(p.batch, p.pieces) for p in van.parcels] == [("B1", 10), ("B2", 5)]


def test_what_is_away_already_comes_back_but_does_not_go_or_cost() -> None:
    found = answer()
    (delivery,) = found.deliveries
    assert (delivery.back_min, delivery.pieces) == (900, 22)
    assert [(p.batch, p.collected) for p in delivery.parcels] == [
        ("B3", "away already"), ("B1", "Mon 23 Mar 2026 11:20"), ("B2", "Mon 23 Mar 2026 11:20"),
    ]  # fmt: skip
    assert all(p.batch != "B3" for c in found.collections for p in c.parcels)


def test_two_processes_may_share_a_van_but_not_a_charge() -> None:
    work = (
        ShopBuilder().service("black", TRIPS, room=60, minimum=8500).service("clear", TRIPS, van="black", minimum=4000)
        .batch("B1", pieces=10).outside("black").batch("B2", pieces=5).outside("clear").build()
    )  # fmt: skip
    made = plan(
        work,
        step(work, "B1", 10, start=0, run=(200, 900), trip=0),
        step(work, "B2", 10, start=0, run=(200, 900), trip=0),
    )
    (van,) = vans(work, made).collections
    assert (van.pieces, [c.pence for c in van.charges]) == (15, [8500, 4000])


def test_a_plan_without_outside_work_has_no_vans() -> None:
    work = ShopBuilder().batch("B1").op("L1").build()
    assert vans(work, plan(work, step(work, "B1", 10, "L1", run=(0, 1)))) == Vans((), (), 0)
