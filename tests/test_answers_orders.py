"""Orders: expected against due, what each waits for now, and why it is late."""

from __future__ import annotations

from dataclasses import replace

import pytest
from builders import ShopBuilder, at, plan, step
from web_fixtures import made_plan, made_work

from planner.answers.orders import OrderRow, orders
from planner.plan import Plan, Step
from planner.work import NEVER, Begun, Source, Work

DAY = 1440


def only(work: Work, *steps: Step) -> OrderRow:
    (row,) = orders(work, plan(work, *steps))
    return row


def simple(due: int, run: tuple[int, int] = (0, 100)) -> OrderRow:
    work = ShopBuilder().batch("B1", pieces=100).op("L1").order("O1", "B1", due=due).build()
    return only(work, step(work, "B1", 10, "L1", run=run))


@pytest.mark.parametrize(("due", "late_min", "late"), [(99, 1, True), (100, 0, False), (101, -1, False)])
def test_late_begins_one_minute_after_due(due: int, late_min: int, late: bool) -> None:
    row = simple(due)
    assert (row.late_min, row.late) == (late_min, late)
    assert bool(row.reason) == late


def test_times_are_in_words_and_iso_local_time() -> None:
    """The order is due after the clocks have gone forward on Sunday 29 March 2026."""
    row = simple(due=9 * DAY)
    assert (row.expected, row.expected_at) == ("Mon 23 Mar 2026 09:40", "2026-03-23T09:40:00+00:00")
    assert (row.due, row.due_at) == ("Wed 1 Apr 2026 09:00", "2026-04-01T09:00:00+01:00")
    assert row.late_days == -8.9


def test_an_order_is_ready_with_the_last_of_its_sources() -> None:
    work = (
        ShopBuilder().batch("B1").op("L1").batch("B2").op("L2").order("O1", "B1", "B2", due=10, receipt_at=70).build()
    )
    steps = (step(work, "B1", 10, "L1", run=(0, 1)), step(work, "B2", 10, "L2", run=(89, 90)))
    assert only(work, *steps).expected_min == 90
    assert only(work, replace(steps[0]), step(work, "B2", 10, "L2", run=(9, 10))).expected_min == 70


def test_an_order_from_stock_is_ready_now() -> None:
    work = ShopBuilder().order("O1", due=10).build()
    work = replace(work, orders=(replace(work.orders[0], sources=(Source(1),)),))
    row = only(work)
    assert (row.expected_min, row.waits_for, row.late) == (0, "ready now", False)


def test_an_order_without_steps_is_not_planned() -> None:
    work = ShopBuilder().batch("B1").op("L1").order("O1", "B1", due=10).build()
    row = only(work)
    assert (row.expected, row.late_min, row.late, row.waits_for) == ("not planned", None, False, "not planned")


def test_the_latest_comes_first() -> None:
    work = (
        ShopBuilder().batch("B1").op("L1").batch("B2").op("L2")
        .order("early", "B1", due=500).order("late", "B2", due=10).build()
    )  # fmt: skip
    made = plan(work, step(work, "B1", 10, "L1", run=(0, 1)), step(work, "B2", 10, "L2", run=(40, 41)))
    assert [r.order for r in orders(work, made)] == ["late", "early"]


# --- what it waits for now -------------------------------------------------------------------


def chain() -> ShopBuilder:
    return (
        ShopBuilder().person("Ann", "turning").equipment("jaws").service("anodiser", [(100, 200, 900)])
        .batch("B0", pieces=50).op("L1")
        .batch("B1", pieces=10)
    )  # fmt: skip


def test_a_running_step_names_its_machine() -> None:
    work = chain().op("L1", begun=Begun.DONE).op("L2", begun=Begun.RUNNING, begun_machine="L2").order("O1", "B1", due=5).build()  # fmt: skip
    row = only(work, step(work, "B0", 10, "L1", run=(0, 50)), step(work, "B1", 20, "L2", run=(0, 10)))
    assert row.waits_for == "on L2 op 20"


def test_a_machine_is_waited_for_behind_another_batch() -> None:
    work = chain().op("L1").order("O1", "B1", due=15).build()
    behind = at(work, "B0", 10).index
    row = only(
        work, step(work, "B0", 10, "L1", run=(0, 50)),
        step(work, "B1", 10, "L1", run=(50, 60), waited_for="machine", waited_on=behind),
    )  # fmt: skip
    assert row.waits_for == "waits for L1 behind B0 op 10"
    assert row.reason == "waits 50 min for L1 behind B0"


def test_work_that_is_away_says_until_when() -> None:
    work = chain().outside("anodiser", begun=Begun.OUT, back_min=8 * DAY + 60).order("O1", "B1", due=5).build()
    row = only(work, step(work, "B0", 10, "L1", run=(0, 50)), step(work, "B1", 10, start=0, run=(0, 8 * DAY + 60)))
    assert row.waits_for == "at anodiser until Tue 31 Mar 2026 10:00"


def test_a_collection_is_named_with_its_time() -> None:
    work = chain().outside("anodiser").order("O1", "B1", due=5).build()
    row = only(work, step(work, "B0", 10, "L1", run=(0, 50)), step(work, "B1", 10, start=0, run=(200, 900), trip=0))
    assert row.waits_for == "waits for the collection by anodiser on Mon 23 Mar 2026 11:20"


def test_a_component_is_named_with_where_it_is() -> None:
    work = (
        ShopBuilder().batch("B1", part="burr", pieces=5).op("L1", begun=Begun.RUNNING, begun_machine="L1")
        .batch("B2", part="grinder").op("L2").need("B2", 10, "B1").order("O1", "B2", due=500).build()
    )  # fmt: skip
    row = only(
        work, step(work, "B1", 10, "L1", run=(0, 5)),
        step(work, "B2", 10, "L2", run=(5, 6), waited_for="component", waited_on=0),
    )  # fmt: skip
    assert row.waits_for == "waits for component burr (on L1 op 10)"


@pytest.mark.parametrize(
    ("why", "words"),
    [
        ("person", "waits for a person for turning at L1 op 10, Mon 23 Mar 2026 09:00"),
        ("equipment", "waits for equipment jaws"),
        ("release", "waits for its release to op 10, Mon 23 Mar 2026 09:00"),
        ("not before", "held back by decision to Mon 23 Mar 2026 09:00"),
        ("held back", "held back on purpose to Mon 23 Mar 2026 09:00, it would only lie about"),
        ("step before", "begins op 10 at L1, Mon 23 Mar 2026 09:00"),
        ("anything new", "begins op 10 at L1, Mon 23 Mar 2026 09:00"),
    ],
)
def test_every_other_cause_has_words(why: str, words: str) -> None:
    work = chain().op("L1", skill="turning", equipment={"jaws": 1}).order("O1", "B1", due=5).build()
    row = only(work, step(work, "B0", 10, "L1", run=(0, 50)), step(work, "B1", 10, "L1", run=(60, 70), waited_for=why))
    assert row.waits_for == words


@pytest.mark.parametrize(
    ("source", "words"),
    [
        (Source(1, receipt="R7", at_min=60), "waits for receipt R7 on Mon 23 Mar 2026 09:00"),
        (Source(1, receipt="not on order"), "not on order"),
    ],
)
def test_an_order_for_bought_parts_waits_for_the_receipt(source: Source, words: str) -> None:
    work = ShopBuilder().order("O1", due=10).build()
    work = replace(work, orders=(replace(work.orders[0], sources=(source,)),))
    assert only(work).waits_for == words


def test_the_component_that_comes_last_is_named_though_a_machine_binds_later() -> None:
    """Now the parts are not here; that the bench will be busy then is another day's trouble."""
    work = (
        ShopBuilder().batch("B1", part="burr", pieces=5).op("L1").batch("B2", part="grinder").op("L2")
        .need("B2", 10, "B1").need("B2", 10, at=4).order("O1", "B2", due=500).build()
    )  # fmt: skip
    steps = step(work, "B1", 10, "L1", run=(0, 5)), step(work, "B2", 10, "L2", run=(50, 51), waited_for="machine")
    assert only(work, *steps).waits_for == "waits for component burr (on L1 op 10)"
    later = (work.needs[0], replace(work.needs[1], at_min=6))
    assert only(replace(work, needs=later), *steps).waits_for == "waits for bought bought, R2 on Mon 23 Mar 2026 08:06"
    here = (work.needs[0], replace(work.needs[1], at_min=0))
    done = replace(work.operations[0], begun=Begun.DONE)
    work = replace(work, needs=here, operations=(done, work.operations[1]))
    assert only(work, steps[1]).waits_for == "waits for L2"


# --- why it is late --------------------------------------------------------------------------


def test_an_order_whose_own_steps_take_too_long_says_so() -> None:
    assert "too little time" in simple(due=60).reason
    assert "takes 1 h 40 min, 1 h to the due date" in simple(due=60).reason


def test_an_order_due_before_the_plan_start_says_so() -> None:
    assert simple(due=0).reason == "was due before the plan start"


def test_the_reason_names_the_causes_with_the_most_minutes_on_the_way() -> None:
    """The way runs back through the component that binds: 30 minutes for L1 there, 10 for L3 here, 1 for a person."""
    work = (
        ShopBuilder().person("Ann", "turning").batch("B0", pieces=30).op("L1").batch("B9", pieces=60).op("L3")
        .batch("B1", pieces=10).op("L1").batch("B2", pieces=10).op("L2").need("B2", 10, "B1")
        .op("L3").order("O1", "B2", due=35).build()
    )  # fmt: skip
    row = only(
        work, step(work, "B0", 10, "L1", run=(0, 30)), step(work, "B9", 10, "L3", run=(0, 60)),
        step(work, "B1", 10, "L1", run=(30, 40)), step(work, "B2", 10, "L2", run=(40, 50)),
        step(work, "B2", 20, "L3", run=(60, 70)),
    )  # fmt: skip
    assert row.reason == "its B1 waits 30 min for L1 behind B0; it waits 10 min for L3 behind B9"


@pytest.mark.parametrize("held_to", [0, 600, 890])
def test_a_start_held_back_is_not_why_an_order_is_late(held_to: int) -> None:
    """B1 waits for L2 until 910 whenever its first step is done; the release is not blamed either."""
    work = (
        ShopBuilder().batch("B0").op("L2").batch("B1", pieces=10).op("L1").op("L2").order("O1", "B1", due=915).build()
    )
    first = step(work, "B1", 10, "L1", run=(held_to, held_to + 10))
    if held_to:
        first = replace(first, waited_for="held back", held_until=held_to)
    row = only(
        work, step(work, "B0", 10, "L2", run=(0, 910)), first,
        step(work, "B1", 20, "L2", run=(910, 920), waited_for="machine", waited_on=0),
    )  # fmt: skip
    assert row.reason == "waits 15 h for L2 behind B0"


def test_a_receipt_after_the_due_date_is_the_reason() -> None:
    work = ShopBuilder().batch("B1").op("L1").order("O1", "B1", due=10, receipt_at=70).build()
    assert only(work, step(work, "B1", 10, "L1", run=(0, 1))).reason == "waits 1 h 10 min for receipt R"


def test_every_order_of_a_large_plan_has_a_row_that_agrees_with_the_cost() -> None:
    work = made_work()
    made: Plan = made_plan(work)
    rows = orders(work, made)
    assert len(rows) == len(work.orders)
    weights = {o.number: o.weight for o in work.orders}
    assert sum(weights[r.order] * max(0, r.late_min or 0) for r in rows) == made.cost.late
    assert all(r.waits_for and bool(r.reason) == r.late for r in rows)
    states = ("on ", "in op ", "at ", "waits for ", "held back ", "begins op ", "ready now", "finished", "not ")
    assert all(r.waits_for.startswith(states) for r in rows), {r.waits_for for r in rows}


def test_a_step_that_found_no_place_is_beyond_the_known_calendars() -> None:
    row = simple(due=60, run=(0, NEVER))
    assert (row.expected, row.expected_at) == ("beyond the known calendars", None)
