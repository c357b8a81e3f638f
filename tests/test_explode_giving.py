"""Which supply covers which demand, what must be made, and what it is called."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime

import pytest
from explode_shops import machine_step, open_batch, order, part, shop

from planner.explode import explode
from planner.shop import BatchRule, Component, Progress, Receipt
from planner.work import NEVER, Begun, Work

EARLY, LATE = date(2026, 4, 10), date(2026, 4, 30)


def given(work: Work) -> list[tuple[int, str, str, str]]:
    return [(g.pieces, g.part, g.supply, g.demand) for g in work.given]


def batch(work: Work, name: str):  # type: ignore[no-untyped-def]
    return next(b for b in work.batches if b.name == name)


def test_one_order_becomes_one_batch_named_after_it() -> None:
    """100 wanted at 93 % yield: 108 started, 100 expected good."""
    work = explode(shop((order("C1042", "P", 100),), (part("P", yield_percent=93.0),)))
    [made] = work.batches
    assert (made.name, made.start_pieces, made.good_expected, made.is_open) == ("C1042-1", 108, 100, False)
    assert given(work) == [(100, "P", "batch C1042-1", "order C1042")]
    assert [op.pieces for op in work.operations] == [108]


def test_an_order_of_nothing_is_listed_and_makes_nothing() -> None:
    work = explode(shop((order("C1", "P", 0),)))
    assert (work.batches, work.orders) == ((), ())
    assert work.left_out == ("Order C1: quantity 0, nothing to make.",)


def test_stock_then_receipts_by_date_then_new_batches() -> None:
    """The earlier order takes the stock; receipts go by date, then reference."""
    receipts = (
        Receipt("P", 5, date(2026, 4, 2), "R2"),
        Receipt("P", 5, date(2026, 4, 1), "R9"),
        Receipt("P", 5, date(2026, 4, 2), "R1"),
    )
    orders = (order("C1", "P", 30, LATE), order("C2", "P", 12, EARLY))
    work = explode(shop(orders, stock={"P": 10}, receipts=receipts))
    assert given(work) == [
        (10, "P", "stock", "order C2"),
        (2, "P", "receipt R9", "order C2"),
        (3, "P", "receipt R9", "order C1"),
        (5, "P", "receipt R1", "order C1"),
        (5, "P", "receipt R2", "order C1"),
        (17, "P", "batch C1-1", "order C1"),
    ]


def test_orders_with_the_same_due_go_by_number() -> None:
    work = explode(shop((order("C2", "P", 6), order("C1", "P", 6)), stock={"P": 6}))
    assert given(work)[0] == (6, "P", "stock", "order C1")


def test_a_reserved_batch_goes_to_its_order_first() -> None:
    """C2 is due later, but B1 is its own; what it does not want goes on to C1."""
    orders = (order("C1", "P", 10, EARLY), order("C2", "P", 20, LATE))
    work = explode(shop(orders, batches=(open_batch("B1", "P", 25, order="C2"),)))
    assert given(work) == [
        (5, "P", "batch B1", "order C1"),
        (5, "P", "batch C1-1", "order C1"),
        (20, "P", "batch B1", "order C2"),
    ]
    assert batch(work, "B1").is_open


def test_a_batch_reserved_for_an_order_covers_components_of_that_order() -> None:
    orders = (order("C1", "G", 10, EARLY), order("C2", "G", 10, LATE))
    parts, structure = (part("G"), part("K")), (Component("G", "K", 1),)
    work = explode(shop(orders, parts, structure=structure, batches=(open_batch("B1", "K", 10, order="C2"),)))
    assert (10, "K", "batch B1", "batch C2-1 operation 10") in given(work)
    assert (10, "K", "batch C1/K-1", "batch C1-1 operation 10") in given(work)


def test_of_the_free_open_batches_the_furthest_on_is_used_first() -> None:
    steps = (machine_step(10), machine_step(20))
    open_ = (open_batch("A", "P", 10), open_batch("Z", "P", 10, progress=(Progress(10, "done"),)))
    work = explode(
        shop((order("C1", "P", 10, EARLY), order("C2", "P", 10, LATE)), routings={"P": steps}, batches=open_)
    )
    assert given(work) == [(10, "P", "batch Z", "order C1"), (10, "P", "batch A", "order C2")]


def test_an_open_batch_that_feeds_nothing_is_planned_without_a_due_date_and_said() -> None:
    work = explode(shop(batches=(open_batch("B1", "P", 10),)))
    assert batch(work, "B1").due_min == NEVER
    assert "Open batch B1 feeds no order: planned, with no due date." in work.assumptions


def test_a_finished_open_batch_is_a_supply_like_stock() -> None:
    """Its good pieces are what was not scrapped; the order refers to the batch, whose steps are all done."""
    finished = open_batch("B1", "P", 20, progress=(Progress(10, "done", good=18, scrap=2),))
    work = explode(shop((order("C1", "P", 18),), (part("P", yield_percent=50.0),), batches=(finished,)))
    assert given(work) == [(18, "P", "batch B1", "order C1")]
    assert {work.operations[i].begun for i in batch(work, "B1").operations} == {Begun.DONE}
    assert work.orders[0].sources[0].batch == 0


def test_scrap_beyond_the_allowance_makes_a_batch_of_the_rest() -> None:
    """Of 108 for 100 good at 93 %, 8 may be lost; losing 9 leaves the order 1 short: 2 are started."""

    def short(scrap: int) -> Work:
        row = Progress(10, "part", good=50, scrap=scrap)
        open_ = open_batch("B1", "P", 108, order="C1", progress=(row,))
        return explode(shop((order("C1", "P", 100),), (part("P", yield_percent=93.0),), batches=(open_,)))

    assert [b.name for b in short(8).batches] == ["B1"]
    assert batch(short(9), "C1-1").start_pieces == 2


def test_surplus_of_a_batch_goes_on_to_later_demands() -> None:
    rule = BatchRule(minimum=50)
    orders = (order("C1", "P", 20, EARLY), order("C2", "P", 20, LATE), order("C3", "P", 20, date(2026, 5, 8)))
    work = explode(shop(orders, (part("P", rule=rule),)))
    assert [(b.name, b.start_pieces) for b in work.batches] == [("C1-1", 50), ("C3-1", 50)]
    assert given(work)[2:] == [(10, "P", "batch C1-1", "order C3"), (10, "P", "batch C3-1", "order C3")]


def test_with_confidence_the_safety_margin_is_not_given_away() -> None:
    """100 good with 95 % chance at 5 % scrap: 109 started, and only 100 counted on."""
    settings = {"confidence_percent": 95}
    work = explode(shop((order("C1", "P", 100),), (part("P", yield_percent=95.0),), settings=settings))
    assert (work.batches[0].start_pieces, work.batches[0].good_expected) == (109, 100)


def test_above_the_maximum_there_are_several_batches() -> None:
    work = explode(shop((order("C1", "P", 250),), (part("P", rule=BatchRule(maximum=100)),)))
    assert [(b.name, b.start_pieces) for b in work.batches] == [("C1-1", 100), ("C1-2", 100), ("C1-3", 50)]
    assert sum(s.pieces for s in work.orders[0].sources) == 250


# --- product structure ----------------------------------------------------------------------------

GRINDER = (part("G", yield_percent=98.0), part("B", yield_percent=95.0), part("K"), part("S-4", made=False))
INSIDE = (Component("G", "B", 1, 10), Component("G", "K", 2, 20), Component("B", "K", 1), Component("G", "S-4", 3, 20))
ROUTE = {"G": (machine_step(10, setting_pieces=2), machine_step(20, setting_pieces=1))}


def test_components_are_needed_for_start_pieces_but_not_for_setting_pieces() -> None:
    """100 G start as 103 with 3 setting pieces more; 103 B start as 109; K is wanted by both."""
    work = explode(shop((order("C1", "G", 100),), GRINDER, ROUTE, INSIDE))
    top = batch(work, "C1-1")
    assert (top.start_pieces, top.setting_pieces) == (103, 3)
    assert [work.operations[i].pieces for i in top.operations] == [104, 103]
    assert batch(work, "C1/B-1").start_pieces == 109
    assert batch(work, "C1/K-1").start_pieces == 2 * 103 + 109


def test_a_part_used_in_two_parents_is_made_once() -> None:
    work = explode(shop((order("C1", "G", 100),), GRINDER, ROUTE, INSIDE))
    assert [b.name for b in work.batches if b.part == "K"] == ["C1/K-1"]


def test_components_are_needed_at_the_step_that_uses_them_by_default_the_first() -> None:
    work = explode(shop((order("C1", "G", 100),), GRINDER, ROUTE, INSIDE))
    needs = {
        (work.batches[work.operations[n.operation].batch].name, work.operations[n.operation].number, n.part)
        for n in work.needs
    }
    assert needs == {("C1-1", 10, "B"), ("C1-1", 20, "K"), ("C1-1", 20, "S-4"), ("C1/B-1", 10, "K")}


def test_a_bought_part_that_is_not_on_order_is_taken_as_here_and_said() -> None:
    work = explode(shop((order("C1", "G", 100),), GRINDER, ROUTE, INSIDE, stock={"S-4": 297}))
    [missing] = [n for n in work.needs if n.receipt]
    assert (missing.part, missing.pieces, missing.receipt, missing.at_min, missing.batch) == (
        "S-4",
        12,
        "not on order",
        0,
        None,
    )
    assert "12 of the s-4 S-4 are not on order: taken as here when needed." in work.assumptions


def test_components_of_work_that_has_begun_are_there_already() -> None:
    """Running or done: nothing more is needed. Part done: for the pieces that are left."""

    def needed(state: str, **more: int) -> int:
        rows = (Progress(10, state, machine="LATHE", **more),)
        open_ = open_batch("B1", "G", 40, progress=rows)
        work = explode(shop((), (part("G"), part("K")), structure=(Component("G", "K", 2),), batches=(open_,)))
        return sum(n.pieces for n in work.needs)

    assert needed("running") == 0
    assert needed("done") == 0
    assert needed("part", good=10, scrap=2) == 2 * 28


def test_scrap_before_the_step_that_uses_a_component_lowers_the_need() -> None:
    rows = (Progress(10, "done", good=37, scrap=3),)
    routing = {"G": (machine_step(10), machine_step(20))}
    structure = (Component("G", "K", 2, 20),)
    work = explode(shop((), (part("G"), part("K")), routing, structure, (open_batch("B1", "G", 40, progress=rows),)))
    assert [n.pieces for n in work.needs] == [74]


def test_components_take_the_due_of_the_earliest_order_they_feed() -> None:
    orders = (order("C1", "G", 10, LATE), order("C2", "G", 10, EARLY))
    work = explode(shop(orders, GRINDER, ROUTE, INSIDE))
    due = {b.name: b.due_min for b in work.batches}
    assert due["C2/K-1"] == due["C2-1"] < due["C1-1"] == due["C1/B-1"]


def test_a_batch_for_several_orders_has_the_due_and_the_name_of_the_earliest() -> None:
    """The batch of 20 G covers both orders; its K is made for the one that is due first."""
    parts = (part("G", rule=BatchRule(minimum=20)), part("K"))
    orders = (order("C1", "G", 10, LATE), order("C2", "G", 10, EARLY))
    work = explode(shop(orders, parts, structure=(Component("G", "K", 1),)))
    early = min(o.due_min for o in work.orders)
    assert [(b.name, b.start_pieces, b.due_min) for b in work.batches] == [("C2-1", 20, early), ("C2/K-1", 20, early)]


def test_a_component_ordered_by_itself_is_named_after_that_order() -> None:
    orders = (order("C1", "G", 10, LATE), order("C2", "K", 5, EARLY))
    work = explode(shop(orders, GRINDER, ROUTE, INSIDE))
    assert sorted(b.name for b in work.batches if b.part == "K") == ["C1/K-1", "C2-1"]


def test_the_pieces_of_the_worked_routing() -> None:
    """Worked reference: 108 started for 100 wanted, samples of 20 and 13, then 100 to assemble.

    The assembly is a batch of its own; saw 10 + 108 x 0.5, lathe 90 + 108 x 6, inspection 20 + 20 x 3 min.
    """
    steps = {
        "TUBE": (machine_step(10), machine_step(20), machine_step(30), machine_step(40, sample_pieces=20), machine_step(60, sample_pieces=13)),
        "KIT": (machine_step(70),),
    }  # fmt: skip
    parts = (part("KIT"), part("TUBE", yield_percent=93.0))
    work = explode(shop((order("C1", "KIT", 100),), parts, steps, (Component("KIT", "TUBE", 1),)))
    pieces = {(work.batches[op.batch].part, op.number): op.pieces_left for op in work.operations}
    assert pieces == {
        ("TUBE", 10): 108,
        ("TUBE", 20): 108,
        ("TUBE", 30): 108,
        ("TUBE", 40): 20,
        ("TUBE", 60): 13,
        ("KIT", 70): 100,
    }
    assert [(n.part, n.pieces) for n in work.needs] == [("TUBE", 100)]


# --- names -------------------------------------------------------------------------------------------


def test_names_and_quantities_do_not_change_when_unrelated_orders_come() -> None:
    few = shop((order("C5", "G", 10),), (*GRINDER, part("X")), ROUTE, INSIDE)
    unrelated = {o.number: o for o in (order("A1", "X", 7, EARLY), order("C7", "X", 3, LATE))}
    many = replace(few, orders=unrelated | few.orders)

    def named(work: Work) -> set[tuple[str, int, int]]:
        return {(b.name, b.start_pieces, b.due_min) for b in work.batches}

    assert named(explode(few)) < named(explode(many))


def test_a_released_batch_keeps_its_name_and_a_new_one_takes_the_next() -> None:
    work = explode(shop((order("C1", "P", 30),), batches=(open_batch("C1-1", "P", 20, order="C1"),)))
    assert [(b.name, b.is_open, b.start_pieces) for b in work.batches] == [("C1-1", True, 20), ("C1-2", False, 10)]


def test_names_that_look_alike_are_kept_apart() -> None:
    """Order A makes 'A/P-1' of component P, and order 'A/P' would make the same name for its own part."""
    parts = (part("G"), part("P"))
    work = explode(shop((order("A", "G", 5), order("A/P", "P", 6)), parts, structure=(Component("G", "P", 1),)))
    assert sorted(b.name for b in work.batches) == ["A-1", "A/P-1", "A/P-2"]


# --- dates ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("due", "expected"),
    [
        (date(2026, 3, 23), 8 * 60),  # 16:00 on the day of the plan start (08:00)
        (date(2026, 3, 30), 7 * 1440 + 7 * 60),  # the clocks have gone forward: an hour less
        (datetime(2026, 3, 24, 9, 30), 1440 + 90),
        (date(2026, 3, 20), -3 * 1440 + 8 * 60),  # past, and not capped
    ],
)
def test_a_due_date_is_that_days_dispatch_cut_off_and_a_moment_is_itself(due: date, expected: int) -> None:
    assert explode(shop((order("C1", "P", 1, due),))).orders[0].due_min == expected


def test_a_promise_is_a_date_like_a_due_date() -> None:
    work = explode(shop((order("C1", "P", 1, promise=date(2026, 3, 24)), order("C2", "P", 1))))
    assert [o.promise_min for o in work.orders] == [1440 + 8 * 60, None]


def test_material_is_usable_from_the_first_open_minute_of_its_day() -> None:
    """Saturday 28 March: Monday 30 March 08:00, local time an hour forward. Past dates: from the plan start."""

    def release(day: date) -> int:
        return explode(shop((order("C1", "P", 1, material_date=day),))).batches[0].release_min

    assert release(date(2026, 3, 24)) == 1440
    assert release(date(2026, 3, 28)) == 7 * 1440 - 60
    assert release(date(2026, 3, 2)) == 0


def test_the_orders_material_date_holds_for_component_batches_and_the_latest_counts() -> None:
    """C1's batch of K has surplus for C2, whose material comes later."""
    parts = (part("G"), part("K", rule=BatchRule(minimum=20)))
    orders = (
        order("C1", "G", 10, EARLY, material_date=date(2026, 3, 24)),
        order("C2", "G", 10, LATE, material_date=date(2026, 3, 26)),
    )
    work = explode(shop(orders, parts, structure=(Component("G", "K", 1),)))
    assert {b.name: b.release_min for b in work.batches} == {"C1-1": 1440, "C2-1": 3 * 1440, "C1/K-1": 3 * 1440}


def test_orders_without_a_material_date_are_listed_in_one_line() -> None:
    orders = (order("C2", "P", 1, material_date=None), order("C1", "P", 1, material_date=None), order("C3", "P", 1))
    work = explode(shop(orders))
    assert work.assumptions == ("No material date, material taken as here at plan start, for orders: C1, C2.",)


def test_an_order_from_stock_needs_no_material() -> None:
    assert explode(shop((order("C1", "P", 1, material_date=None),), stock={"P": 1})).assumptions == ()


def test_an_open_batch_has_its_own_material_date_or_needs_none_once_begun() -> None:
    def release(**more: object) -> tuple[int, tuple[str, ...]]:
        work = explode(
            shop((order("C1", "P", 9, material_date=date(2026, 3, 25)),), batches=(open_batch("B1", "P", 9, **more),))
        )
        return work.batches[0].release_min, work.assumptions

    assert release() == (2 * 1440, ())
    assert release(material_date=date(2026, 3, 26)) == (3 * 1440, ())
    assert release(progress=(Progress(10, "running", machine="LATHE"),)) == (0, ())


def test_a_receipt_is_there_from_its_first_open_minute_and_an_overdue_one_is_said() -> None:
    receipts = (Receipt("P", 1, date(2026, 3, 20), "R1"), Receipt("P", 1, date(2026, 3, 24), "R2"))
    work = explode(shop((order("C1", "P", 2),), receipts=receipts))
    assert [(s.receipt, s.at_min) for s in work.orders[0].sources] == [("R1", 0), ("R2", 1440)]
    assert work.assumptions == ("Receipt R1 of 2026-03-20 is overdue: taken as here at plan start.",)
