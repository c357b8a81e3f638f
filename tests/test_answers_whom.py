"""What waits for whom, on shops whose answer is known by hand: who, since when, until when, behind what, and what it holds up."""

from __future__ import annotations

import pytest
from builders import ShopBuilder, days
from hypothesis import given
from hypothesis import strategies as st
from random_shops import random_work
from why_chains import chain_of, timed

from planner.answers.orders import orders
from planner.answers.whom import Waits
from planner.chain import MACHINE_KINDS
from planner.plan import Plan
from planner.work import Begun, Work

SHIFT = days(5, (0, 480))


def waits_of(work: Work, made: Plan) -> Waits:
    return Waits(work, made, orders(work, made))


def told(work: Work, made: Plan, now: int = 0, until: int = 10_000, **booked: set[int]) -> list[tuple[object, ...]]:
    """Whom, what waits, from, to, behind what."""
    return [
        (f"{whom.kind} {whom.name}".strip(), f"{w.batch} {w.operation}", w.since_min, w.until_min, w.behind)
        for whom in waits_of(work, made).between(now, until, **booked)
        for w in whom.waits
    ]


def queue() -> Work:
    """B0 has L1 for 50 minutes, B1 comes next."""
    return ShopBuilder().batch("B0", pieces=50).op("L1").batch("B1", pieces=10).op("L1").build()


@pytest.mark.parametrize(("now", "there"), [(0, True), (49, True), (50, False)])
def test_a_machine_is_waited_for_to_the_end_of_the_batch_before(now: int, there: bool) -> None:
    work = queue()
    expected = [("machine L1", "B1 10", 0, 50, "B0 op 10")] if there else []
    assert told(work, timed(work, "B0"), now) == expected


@pytest.mark.parametrize(("until", "there"), [(30, False), (31, True)])
def test_a_wait_that_begins_after_the_time_asked_for_is_left_out(until: int, there: bool) -> None:
    """The pieces of B1 are there at 30."""
    work = ShopBuilder().batch("B0", pieces=50).op("L1").batch("B1", pieces=30).op("L2").op("L1").build()
    expected = [("machine L1", "B1 20", 30, 50, "B0 op 10")] if there else []
    assert told(work, timed(work, "B0"), until=until) == expected


def test_closed_hours_and_what_is_held_back_on_purpose_wait_for_nobody() -> None:
    work = ShopBuilder().machine("L1", days(5, (60, 480))).batch("B0").op("L1").batch("B1").op("L2").build()
    assert told(work, timed(work, hold={"B1": 40})) == []


def test_people_equipment_and_whoever_approves_a_first_piece_are_waited_for() -> None:
    """Ann sets L1 to 60, then L2; the one pair of jaws is on L1 to 61; Cleo checks the piece of L3 when she comes at 100."""
    work = (
        ShopBuilder().person("Ann", "set").person("Cleo", "check", ((100, 480),)).equipment("jaws")
        .batch("B0").op("L1", 60, skill="set", equipment={"jaws": 1})
        .batch("B1").op("L2", 10, skill="set").batch("B2").op("L4", equipment={"jaws": 1})
        .batch("B3", pieces=2).op("L3", first_off_skill="check", first_off_min=5).build()
    )  # fmt: skip
    assert told(work, timed(work, "B0")) == [
        ("person set", "B1 10", 0, 60, "Ann at B0 op 10"),
        ("first-off approval check", "B3 10", 1, 100, ""),
        ("equipment jaws", "B2 10", 0, 61, "B0 op 10"),
    ]


@pytest.mark.parametrize(
    ("now", "whom"), [(0, ["van anodiser"]), (99, ["van anodiser"]), (100, ["outside firm anodiser"])]
)
def test_a_van_is_waited_for_and_then_the_firm_that_has_it(now: int, whom: list[str]) -> None:
    """Ready at 10, collected at 100, back at 300: what is back later than the time asked for is told once it is out."""
    shop = ShopBuilder().service("anodiser", [(90, 100, 300)]).batch("B1", pieces=10).op("L1").outside("anodiser")
    work = shop.op("L2").build()
    found = told(work, timed(work), now, until=200)
    assert [f[0] for f in found] == whom
    assert found[0][1:4] == (("B1 20", 10, 100) if now < 100 else ("B1 30", 100, 300))


def test_what_is_out_is_told_with_when_it_is_back() -> None:
    work = (
        ShopBuilder()
        .service("anodiser", [])
        .batch("B1")
        .outside("anodiser", begun=Begun.OUT, back_min=77)
        .op("L1")
        .build()
    )
    assert told(work, timed(work), until=50) == [("outside firm anodiser", "B1 20", 0, 77, "")]


def kit() -> ShopBuilder:
    """P is built of A (there at 30), B (at 50) and a bought part (at 40)."""
    shop = ShopBuilder().person("Ann", "fit").batch("A", pieces=30).op("L1").batch("B", pieces=50).op("L2")
    shop.batch("P").manual("bench", skill="fit")
    return shop.need("P", 10, "A").need("P", 10, "B").need("P", 10, at=40)


def test_a_kit_waits_for_the_component_that_comes_last() -> None:
    work = kit().build()
    assert told(work, timed(work)) == [("component B", "P 10", 0, 50, "B")]
    done = work.places["B", 10]
    assert told(work, timed(work), done={done}) == [("bought part bought", "P 10", 0, 40, "R3")]


@pytest.mark.parametrize(("due", "there"), [(50, True), (51, False)])
def test_a_component_of_some_other_day_is_told_where_a_late_order_waits_for_it(due: int, there: bool) -> None:
    """The order is ready at 51, the component comes after the time asked for."""
    work = kit().order("O1", "P", due=due).build()
    assert bool(told(work, timed(work), until=50)) == there
    assert told(work, timed(work), until=51) == [("component B", "P 10", 0, 50, "B")]


def test_material_is_waited_for_to_its_date() -> None:
    work = ShopBuilder().batch("B1", release=30).op("L1").build()
    assert told(work, timed(work)) == [("material", "B1 10", 0, 30, "")]
    assert told(work, timed(work), until=30) == []


def test_what_was_begun_since_waits_no_more_and_what_is_done_is_not_waited_for() -> None:
    work = queue()
    second = work.places["B1", 10]
    assert told(work, timed(work, "B0"), begun={second}) == []
    assert told(work, timed(work, "B0"), done={second}) == []


@pytest.mark.parametrize(("due", "late", "binds"), [(0, 60, True), (60 + 1439, -1439, True), (60 + 1440, -1440, False)])
def test_a_wait_on_the_chain_of_an_order_that_is_late_or_nearly_binds_it(due: int, late: int, binds: bool) -> None:
    """B1 is ready at 60; nearly is less than a day."""
    work = (
        ShopBuilder().batch("B0", pieces=50).op("L1").batch("B1", pieces=10).op("L1").order("O1", "B1", due=due).build()
    )
    ((whom,),) = [w.waits for w in waits_of(work, timed(work, "B0")).between(0, 10_000)]
    assert (whom.order, whom.late_min, whom.binds) == ("O1", late, binds)


def test_of_two_orders_the_one_that_it_binds_is_told_and_what_binds_comes_first() -> None:
    """B1 and B2 wait for L1; O2 is late by B2, and waits for B1 too, which is there in time."""
    work = (
        ShopBuilder().batch("B0", pieces=50).op("L1").batch("B1", pieces=10).op("L1").batch("B2", pieces=40).op("L1")
        .order("O1", "B1", due=5000).order("O2", "B1", "B2", due=10).build()
    )  # fmt: skip
    (whom,) = waits_of(work, timed(work, "B0", "B1")).between(0, 10_000)
    assert [(w.batch, w.order, w.binds) for w in whom.waits] == [("B2", "O2", True), ("B1", "O2", False)]


def test_what_feeds_no_order_is_for_stock() -> None:
    work = queue()
    (whom,) = waits_of(work, timed(work, "B0")).between(0, 100)
    assert (whom.waits[0].order, whom.waits[0].late_min, whom.waits[0].binds) == ("", None, False)


@given(st.integers(0, 10_000), st.integers(1, 3000))
def test_every_wait_for_a_machine_on_a_chain_is_told(number: int, until: int) -> None:
    """What the chains say, which are checked by other code, is there: since and until lie around each part."""
    work = random_work(number)
    made = timed(work)
    found = {
        (w.batch, w.operation, whom.name): (w.since_min, w.until_min)
        for whom in waits_of(work, made).between(0, until)
        for w in whom.waits
        if whom.kind == "machine"
    }
    for order in work.orders:
        for part in chain_of(work, made, order.number).parts:
            if (
                part.kind in MACHINE_KINDS
                and part.start < until
                and part.operation is not None
                and part.machine is not None
            ):
                op = work.operations[part.operation]
                since, end = found[work.batches[op.batch].name, op.number, work.machines[part.machine].name]
                assert since <= part.start and part.end <= end
