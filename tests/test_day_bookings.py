"""Bookings on the tiny shop: each does what is known by hand to the tables, and what cannot be is refused.

B-1 (50 bodies GR-110) runs on L1, operation 10: 22 good, 1 scrap, first-off passed, 20 are moved on at a time. B-2 (40 carriers
GR-120) is being set on M1, operation 20: 15 minutes left; one of the 40 was scrapped before.
"""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from days import Day, at
from intake_folders import Folder, add, put

from planner.day.clock import moment_in, wall_clock
from planner.day.refusal import Refused
from planner.explode import explode
from planner.store import Store
from planner.store.edit import change_row, remove_row
from planner.store.folder import take_in
from planner.work import Begun


def operation(day: Day, batch: str, number: int):  # type: ignore[no-untyped-def]
    work = explode(day.shop)
    return work.operations[work.places[batch, number]]


# --- on the machine ----------------------------------------------------------------------------


def test_good_and_scrap_add_up_and_the_rest_is_left(day: Day) -> None:
    day.book("good", "B-1", 10, "09:00", good=10)
    day.book("scrap", "B-1", 10, "09:10", scrap=2)
    assert day.step("B-1", 10)["good"] == "32"
    assert day.step("B-1", 10)["scrap"] == "3"
    assert (operation(day, "B-1", 10).begun, operation(day, "B-1", 10).pieces_left) == (Begun.RUNNING, 15)
    assert operation(day, "B-1", 30).pieces == 47


def test_a_booking_moves_the_plan_start_on_and_never_back(day: Day) -> None:
    day.book("good", "B-1", 10, "09:40", good=1)
    day.book("good", "B-1", 10, "09:00", good=1)
    assert day.shop.settings.plan_start == at("09:40")


def test_more_than_there_is_cannot_be_made(day: Day) -> None:
    assert "22 good and 1 scrap are booked, 28 more is too many" in day.refused("good", "B-1", 10, good=28)
    assert day.refused("start", "B-1", 10, machine="L1") == "Batch B-1 operation 10 is on L1 already."
    assert day.book("good", "B-1", 10, good=27).words == "27 pieces good of batch B-1 operation 10."


def test_nothing_is_made_while_it_is_set(day: Day) -> None:
    assert "15 min left" in day.refused("good", "B-2", 20, good=1)
    day.book("setup done", "B-2", 20)
    day.book("good", "B-2", 20, good=1)
    assert "nothing left to set" in day.refused("setup done", "B-2", 20)


def test_finishing_takes_what_is_left_as_good(day: Day) -> None:
    entry = day.book("finish", "B-1", 10, "11:00")
    assert "27 pieces taken as good" in entry.words
    assert day.step("B-1", 10) == {"state": "done", "machine": "L1", "setup_left_min": "0", "first_off_passed": "yes",
                                   "good": "49", "scrap": "1"}  # fmt: skip
    assert operation(day, "B-1", 20).pieces_left == 49


def test_finishing_with_numbers_asks_for_every_piece(day: Day) -> None:
    assert "2 pieces of batch B-1 operation 10 are neither" in day.refused("finish", "B-1", 10, good=24, scrap=1)
    day.book("finish", "B-1", 10, good=24, scrap=3)
    assert (day.step("B-1", 10)["good"], day.step("B-1", 10)["scrap"]) == ("46", "4")


def test_a_step_is_not_done_before_it_was_started(day: Day) -> None:
    day.book("finish", "B-1", 10, "09:00")
    day.book("setup done", "B-2", 20, "09:00")
    day.book("finish", "B-2", 20, "09:30")
    day.book("start", "B-1", 20, "10:00", machine="M1", day=24)
    assert "was started at 2026-03-24 10:00" in day.refused("setup done", "B-1", 20, "09:59", day=24)
    day.book("setup done", "B-1", 20, "10:00", day=24)


# --- starting ----------------------------------------------------------------------------------


def test_a_step_starts_with_the_setup_that_its_machine_asks_for(day: Day) -> None:
    """L2 stands with bar 40: 30 min base and 5 from bar 40 to bar 40; L1 asks 40 and 20 from bar 32."""
    day.book("setup done", "B-2", 20)
    day.book("start", "O-1/GR-120-1", 10, machine="L2", person="Ada")
    assert day.step("O-1/GR-120-1", 10)["setup_left_min"] == "35"
    assert (day.row("machines", machine="L2")["on_part"], day.row("machines", machine="L2")["on_operation"]) == (
        "GR-120",
        "10",
    )


def test_the_same_step_again_asks_for_no_setup(day: Day) -> None:
    day.book("start", "O-1/GR-120-1", 10, machine="L2")
    day.book("setup done", "O-1/GR-120-1", 10)
    day.book("finish", "O-1/GR-120-1", 10, "10:00")
    assert "nothing to set" in day.book("start", "O-2/GR-120-1", 10, "10:00", machine="L2").words
    day.book("good", "O-2/GR-120-1", 10, "10:30", good=1)


def test_starting_releases_a_planned_batch_under_its_name(day: Day) -> None:
    before = explode(day.shop)
    planned = next(b for b in before.batches if b.name == "O-1/GR-120-1")
    words = day.book("start", "O-1/GR-120-1", 10, machine="L2").words
    assert f"released with {planned.start_pieces} pieces" in words
    after = explode(day.shop)
    released = next(b for b in after.batches if b.name == "O-1/GR-120-1")
    assert (released.is_open, released.start_pieces, released.good_expected) == (
        True,
        planned.start_pieces,
        planned.good_expected,
    )
    assert {b.name for b in after.batches} == {b.name for b in before.batches}


def test_what_is_not_planned_is_not_known(day: Day) -> None:
    assert "Did you mean 'B-1'" in day.refused("start", "B1", 10)
    assert "its operations are 10, 20, 30" in day.refused("start", "B-1", 15)


def test_a_busy_machine_takes_nothing_else(day: Day) -> None:
    assert "L1 is busy with batch B-1 operation 10" in day.refused("start", "O-1/GR-120-1", 10, machine="L1")
    day.book("finish", "B-1", 10, "10:30")
    assert "before that" in day.refused("start", "O-1/GR-120-1", 10, "10:00", machine="L1")
    day.book("start", "O-1/GR-120-1", 10, "10:30", machine="L1")


def test_a_machine_that_cannot_and_a_machine_that_is_down_are_refused(day: Day) -> None:
    assert "M1 cannot do" in day.refused("start", "O-1/GR-120-1", 10, machine="M1")
    assert "Say on which machine" in day.refused("start", "O-1/GR-120-1", 10)
    day.book("finish", "B-1", 10, "09:00")
    day.book("setup done", "B-2", 20, "09:00")
    day.book("finish", "B-2", 20, "09:30")
    assert "down until 2026-03-25 12:00 (spindle check)" in day.refused(
        "start", "B-1", 20, "11:59", machine="M1", day=25
    )
    day.book("start", "B-1", 20, "12:00", machine="M1", day=25)


def test_the_step_before_comes_first_unless_it_hands_pieces_on(day: Day) -> None:
    """Operation 10 of B-1 moves 20 on at a time, so 20 may begin, as far as there are pieces; 30 may not."""
    day.book("setup done", "B-2", 20)
    day.book("finish", "B-2", 20)
    assert "operation 20 before it has not begun" in day.refused("start", "B-1", 30, machine="D1")
    day.book("start", "B-1", 20, day=24, machine="M1")
    day.book("setup done", "B-1", 20, "09:30", day=24)
    assert "22 pieces can be made" in day.refused("good", "B-1", 20, "10:00", day=24, good=23)
    day.book("good", "B-1", 20, "10:00", day=24, good=22)
    assert "operation 10 before it is not" in day.refused("finish", "B-1", 20, "10:00", day=24)


def test_a_step_that_is_held_does_not_start(day: Day) -> None:
    day.book("setup done", "B-2", 20)
    day.book("finish", "B-2", 20)
    assert "held until 2026-03-24 08:00 (after the spindle is warm)" in day.refused("start", "B-1", 20, machine="M1")


def test_a_step_does_not_start_where_it_is_not_to_go(day: Day) -> None:
    """Carriers may be turned on L1 or L2; barred from L1, L2 is the only one left and needs not be said."""
    day.book("finish", "B-1", 10)
    barred = day.decide("not on", "O-1/GR-120-1", 10, machine="L1")
    assert "is not to go on L1: lift that first" in day.refused("start", "O-1/GR-120-1", 10, machine="L1")
    assert "started on L2" in day.book("start", "O-1/GR-120-1", 10).words
    day.undo()
    day.undo(barred.id)
    assert "started on L1" in day.book("start", "O-1/GR-120-1", 10, machine="L1").words


def test_a_machine_that_is_down_for_no_stated_reason(day: Day) -> None:
    day.happen("down", "L2", until=at("12:00"))
    assert "L2 is down until 2026-03-23 12:00: say" in day.refused("start", "O-1/GR-120-1", 10, machine="L2")


def test_whoever_sets_can_set(day: Day) -> None:
    assert "does not have the skill 'set lathes'" in day.refused(
        "start", "O-1/GR-120-1", 10, machine="L2", person="Cleo"
    )
    assert "There is no person 'Adda'" in day.refused("start", "O-1/GR-120-1", 10, machine="L2", person="Adda")


def test_equipment_is_where_it_is(tmp_path, place) -> None:  # type: ignore[no-untyped-def]
    """There is one collet set 32 and B-1 holds it on L1; when that stands still, L2 takes it over."""
    folder = Folder(tmp_path / "shop").edit(put("routings", 7, "equipment", "collets 32"))
    day_ = Day(take_in(folder.path, place, "Ann"), place)
    words = day_.refused("start", "O-1/GR-120-1", 10, machine="L2")
    assert "needs collets 32, which is in use: batch B-1 operation 10 on L1" in words
    day_.book("finish", "B-1", 10)
    assert day_.row("machines", machine="L1")["on_equipment"] == "collets 32"
    day_.book("start", "O-1/GR-120-1", 10, machine="L2")
    assert day_.row("machines", machine="L1")["on_equipment"] == ""
    assert day_.row("machines", machine="L2")["on_equipment"] == "collets 32"


# --- first-off ----------------------------------------------------------------------------------


@pytest.fixture
def on_l1(day: Day) -> Day:
    """L1 free, and a new batch of bodies on it, set, its first-off open."""
    day.book("finish", "B-1", 10, "08:30")
    day.book("start", body(day), 10, "08:30", machine="L1", person="Ada")
    return day


def body(day: Day) -> str:
    """A batch of GR-110 other than B-1, planned or released."""
    return next(b.name for b in explode(day.shop).batches if b.part == "GR-110" and b.name != "B-1")


def test_only_the_first_cycle_is_made_before_the_first_off(on_l1: Day) -> None:
    name = body(on_l1)
    assert "nothing left to set" in on_l1.refused("setup done", name, 10)  # the same step follows itself
    assert "first-off of" in on_l1.refused("good", name, 10, good=2)
    on_l1.book("first-off passed", name, 10, person="Cleo")
    assert on_l1.step(name, 10)["good"] == "1"
    on_l1.book("good", name, 10, good=2)
    assert "passed already" in on_l1.refused("first-off passed", name, 10)


def test_a_step_with_an_open_first_off_is_not_done(on_l1: Day) -> None:
    assert "first-off" in on_l1.refused("finish", body(on_l1), 10)


def test_a_first_off_that_failed_is_scrap_and_stays_open(on_l1: Day) -> None:
    name = body(on_l1)
    on_l1.book("good", name, 10, good=1)
    on_l1.book("first-off failed", name, 10, setup_min=10)
    step = on_l1.step(name, 10)
    assert (step["good"], step["scrap"], step["setup_left_min"], step["first_off_passed"]) == ("0", "1", "10", "no")
    assert "being set" in on_l1.refused("first-off passed", name, 10)
    on_l1.book("setup done", name, 10)
    on_l1.book("first-off passed", name, 10)
    assert on_l1.step(name, 10)["good"] == "1"


def test_who_set_it_does_not_pass_it(on_l1: Day) -> None:
    assert "does not have the skill" in on_l1.refused("first-off passed", body(on_l1), 10, person="Ada")
    assert "asks for no first-off" in on_l1.refused("first-off passed", "B-2", 20)


# --- stopping and going on -----------------------------------------------------------------------


def test_a_stop_leaves_it_set_and_a_tear_down_does_not(day: Day) -> None:
    day.book("stop", "B-1", 10, good=3)
    assert operation(day, "B-1", 10).begun is Begun.RUNNING
    day.book("stop", "B-1", 10, torn_down=True)
    assert (operation(day, "B-1", 10).begun, operation(day, "B-1", 10).pieces_left) == (Begun.PART, 24)
    assert "was stopped and torn down" in day.refused("good", "B-1", 10, good=1)
    machine = day.row("machines", machine="L1")
    assert (machine["on_part"], machine["on_equipment"], machine["on_family"]) == ("", "", "bar 32")


def test_work_that_was_torn_down_is_set_again_and_its_first_piece_passed_again(day: Day) -> None:
    """45 min base on L1 and 5 from bar 32 to bar 32."""
    day.book("stop", "B-1", 10, torn_down=True)
    day.book("start", "B-1", 10, "10:00", machine="L1")
    step = day.step("B-1", 10)
    assert (step["setup_left_min"], step["good"], step["set_again"], step["first_off_passed"]) == (
        "50",
        "22",
        "yes",
        "no",
    )
    day.book("setup done", "B-1", 10, "10:50")
    assert "first-off of batch B-1" in day.refused("good", "B-1", 10, "11:00", good=2)
    day.book("first-off passed", "B-1", 10, "11:00")
    assert day.step("B-1", 10)["good"] == "23"
    assert "26 pieces taken as good" in day.book("finish", "B-1", 10, "12:00").words


# --- rework --------------------------------------------------------------------------------------


def test_rework_at_the_same_step_is_left_to_do(day: Day) -> None:
    assert "has 22 good" in day.refused("rework", "B-1", 10, rework=23)
    day.book("rework", "B-1", 10, rework=4)
    assert (day.step("B-1", 10)["good"], operation(day, "B-1", 10).pieces_left) == ("18", 31)


def test_rework_from_an_earlier_step_is_a_batch_of_its_own(day: Day) -> None:
    """39 carriers come to operation 20 of B-2; 5 of them go back to the lathe."""
    day.book("setup done", "B-2", 20)
    day.book("good", "B-2", 20, good=10)
    day.book("rework", "B-2", 20, rework=5, rework_at=10)
    batches = {b.name: b for b in explode(day.shop).batches}
    assert (batches["B-2"].start_pieces, batches["B-2/R1"].start_pieces) == (35, 5)
    assert (operation(day, "B-2", 20).pieces_left, operation(day, "B-2/R1", 10).pieces_left) == (24, 5)
    assert day.row("batches", batch="B-2/R1")["order"] == "O-3"


# --- waits and outside work ------------------------------------------------------------------------


def test_a_wait_between_steps_runs_from_the_moment_of_the_booking(tmp_path, place) -> None:  # type: ignore[no-untyped-def]
    """A rest of 720 minutes after operation 20, and a check after it: from 11:00 the check may begin at 23:00."""
    cells = "part=GR-120|operation=40|description=check|kind=manual|group=bench|setup_min=0|cycle_sec=30|skill=inspect"
    folder = Folder(tmp_path / "shop").edit(add("routings", cells))
    day_ = Day(take_in(folder.path, place, "Ann"), place)
    day_.book("setup done", "B-2", 20)
    assert "Operation 40 not before 2026-03-23 23:00" in day_.book("finish", "B-2", 20, "11:00").words
    assert day_.step("B-2", 30)["state"] == "done"
    assert operation(day_, "B-2", 40).not_before_min == 12 * 60
    assert "held until 2026-03-23 23:00" in day_.refused("start", "B-2", 40, "22:59", machine="D1")
    day_.book("start", "B-2", 40, "23:00", machine="D1")


def test_a_wait_over_the_night_on_which_the_clocks_change_is_as_long_as_any(tmp_path, place) -> None:  # type: ignore[no-untyped-def]
    """12 hours from Saturday at 22:00: until 11:00 by the clock, which went forward."""
    cells = "part=GR-120|operation=40|description=check|kind=manual|group=bench|setup_min=0|cycle_sec=30|skill=inspect"
    folder = Folder(tmp_path / "shop").edit(add("routings", cells))
    day_ = Day(take_in(folder.path, place, "Ann"), place)
    day_.book("setup done", "B-2", 20)
    assert "Operation 40 not before 2026-03-29 11:00" in day_.book("finish", "B-2", 20, "22:00", day=28).words


@pytest.fixture
def for_the_van(day: Day) -> Day:
    """B-1 deburred on Wednesday at 10:00."""
    day.book("finish", "B-1", 10, "09:00")
    day.book("setup done", "B-2", 20, "09:00")
    day.book("finish", "B-2", 20, "09:30")
    day.book("start", "B-1", 20, "08:00", day=24, machine="M1")
    day.book("setup done", "B-1", 20, "09:00", day=24)
    day.book("finish", "B-1", 20, "15:00", day=24)
    day.book("start", "B-1", 30, "08:00", day=25)
    day.book("finish", "B-1", 30, "10:00", day=25)
    return day


def test_outside_work_goes_out_and_comes_back(for_the_van: Day) -> None:
    """Out on Thursday 26 March with 5 working days' turn over Easter: back on Tuesday 7 April 10:00, with summer time from the 29th."""
    day_ = for_the_van
    assert "is not out" in day_.refused("came back", "B-1", 40, day=26)
    assert "book it sent out" in day_.refused("start", "B-1", 40, day=26)
    assert "operation 30 was done at 2026-03-25 10:00" in day_.refused("sent out", "B-1", 40, day=25).replace(
        "Op", "op"
    )
    day_.book("sent out", "B-1", 40, "15:00", day=26)
    out = operation(day_, "B-1", 40)
    assert out.begun is Begun.OUT
    assert at("15:00", 26) + timedelta(minutes=out.back_min + 60) == datetime(2026, 4, 7, 10)
    assert "49 pieces went out" in day_.refused("came back", "B-1", 40, "10:00", day=31, good=48)
    day_.book("came back", "B-1", 40, "10:00", day=31, good=47, scrap=2)
    assert operation(day_, "B-1", 40).begun is Begun.DONE
    assert operation(day_, "B-1", 50).pieces == 13


def test_a_finished_batch_says_so(for_the_van: Day) -> None:
    day_ = for_the_van
    day_.book("sent out", "B-1", 40, "15:00", day=26)
    day_.book("came back", "B-1", 40, "10:00", day=31)
    day_.book("start", "B-1", 50, "10:00", day=31, machine="D1")
    day_.book("setup done", "B-1", 50, "10:10", day=31)
    assert "Batch B-1 is finished: 49 good pieces" in day_.book("finish", "B-1", 50, "11:00", day=31).words
    assert day_.step("B-1", 50)["good"] == "13"


# --- components -----------------------------------------------------------------------------------


def test_components_leave_the_stock_when_the_step_that_needs_them_begins(day: Day) -> None:
    """25 grinders take 25 carriers: 5 are in stock, 39 of B-2 are kept for the 60 of O-3 until that is said otherwise."""
    day.book("setup done", "B-2", 20)
    day.book("finish", "B-2", 20, "10:00")
    assert "rests until 2026-03-23 22:00" in day.refused("finish", "B-2", 30, "12:00")
    day.book("finish", "B-2", 30, "08:00", day=24)
    assert "20 of GR-120 missing" in day.refused("start", "O-2-1", 10, "09:00", day=24)
    row = day.row("batches", batch="B-2")
    change_row(day.store, "Ann", at("09:00", 24), "batches", row.id, row.version, {"order": ""})
    day.book("start", "O-2-1", 10, "09:00", day=24)
    assert (day.stock("GR-120"), day.row("batches", batch="B-2")["quantity"]) == (0, "20")
    assert not [
        n for n in explode(day.shop).needs if n.part == "GR-120" and operation(day, "O-2-1", 10).index == n.operation
    ]
    day.book("setup done", "O-2-1", 10, "09:10", day=24)
    day.book("stop", "O-2-1", 10, "10:00", day=24, good=10, torn_down=True)
    assert day.stock("GR-120") == 15  # for the grinders that are not made


def test_bought_pieces_that_nobody_ordered_are_taken_as_here(tmp_path, place) -> None:  # type: ignore[no-untyped-def]
    """As planning does. Those that are ordered are waited for until their day, and then come out of the receipt."""
    burrs_first = (put("structure", 2, "component", "GR-900"), put("structure", 4, "component", "GR-120"))
    folder = Folder(tmp_path / "shop").edit(
        *burrs_first, put("stock", 2, "quantity", "10"), put("pins", 3, "not_before", "")
    )
    day_ = Day(take_in(folder.path, place, "Ann"), place)
    assert "15 of GR-900 missing" in day_.refused("start", "O-2-1", 10, day=31)
    day_.book("start", "O-2-1", 10, "09:00", day=32)
    assert (day_.stock("GR-900"), day_.row("receipts", reference="PO-17")["quantity"]) == (0, "45")
    day_.book("setup done", "O-2-1", 10, "09:10", day=32)
    day_.book("finish", "O-2-1", 10, "12:00", day=32)
    receipt = day_.row("receipts", reference="PO-17")
    remove_row(day_.store, "Ann", at("12:00", 32), "receipts", receipt.id, receipt.version)
    assert (
        "40 pieces of GR-900 are not in stock and taken as here"
        in day_.book("start", "O-1-1", 10, "12:00", day=32).words
    )


# --- undo ------------------------------------------------------------------------------------------


def test_an_undone_booking_leaves_the_tables_as_they_were_but_for_the_time(day: Day) -> None:
    before = day.store.sheets()
    day.book("start", "O-1/GR-120-1", 10, machine="L2")
    day.undo()
    after = day.store.sheets()
    for table in before.sheets:
        if table != "settings":
            assert after[table].records() == before[table].records(), table
    assert day.shop.settings.plan_start == at("09:00")


def test_undo_is_refused_where_something_was_built_on_it(day: Day) -> None:
    first = day.book("finish", "B-1", 10, "09:00")
    second = day.book("start", "O-1/GR-120-1", 10, "09:10", machine="L1")
    with pytest.raises(Refused):
        day.undo(first.id)
    day.undo(second.id)
    day.undo(first.id)
    assert day.step("B-1", 10)["good"] == "22"
    with pytest.raises(Refused, match="undone already"):
        day.undo(first.id)


def test_a_booking_is_undone_on_its_own_day_only(day: Day) -> None:
    entry = day.book("good", "B-1", 10, good=5)
    with pytest.raises(Refused, match="on its own day"):
        day.undo(entry.id, day=24)
    with pytest.raises(Refused, match="nothing of Ben"):
        Day(day.store, day.place, "Ben").undo()


def test_an_undo_can_be_undone(day: Day) -> None:
    day.book("good", "B-1", 10, good=5)
    entry = day.undo()
    day.undo(entry.id)
    assert day.step("B-1", 10)["good"] == "27"


def test_an_entry_is_undone_as_long_as_what_took_it_back_stands(day: Day) -> None:
    """Undo, undo of the undo, and so on: which of them stand is said of each, the last one being the one that counts."""
    entries = [day.book("good", "B-1", 10, good=5)]
    for turn in range(1, 6):
        entries.append(day.undo(entries[-1].id))
        assert day.step("B-1", 10)["good"] == ("22" if turn % 2 else "27")
        standing = [e.undone_by is None for e in day.store.entries() if e.id >= entries[0].id]
        assert standing == [(turn - place) % 2 == 0 for place in range(turn + 1)]
        undone = {e.id: e.undone_by for e in day.store.entries() if e.undone_by is not None}
        assert undone == {entries[place].id: entries[place + 1].id for place in range(turn - 1, -1, -2)}
        with pytest.raises(Refused, match=f"by entry {entries[turn].id}"):
            day.undo(entries[turn - 1].id)


def test_what_was_undone_and_then_taken_back_is_the_last_to_undo_again(day: Day) -> None:
    first = day.book("good", "B-1", 10, good=5)
    day.undo(day.undo().id)
    assert day.undo().undoes == first.id
    with pytest.raises(Refused, match="nothing of Ann"):
        day.undo()


def test_two_count_at_once_and_both_count(day: Day) -> None:
    with Store(day.place) as other:
        day.book("good", "B-1", 10, good=5)
        Day(other, day.place, "Ben").book("good", "B-1", 10, good=7)
    assert day.step("B-1", 10)["good"] == "34"


# --- the moment ---------------------------------------------------------------------------------------


def test_what_is_still_to_come_is_not_booked(day: Day) -> None:
    """The tiny shop's plan start is behind the clock."""
    clock = wall_clock(day.store.sheets())
    if clock > day.shop.settings.plan_start:
        with pytest.raises(Refused, match="still to come"):
            moment_in(day.store, clock + timedelta(days=1))
    assert moment_in(day.store) >= day.shop.settings.plan_start
    assert moment_in(day.store, at("09:00")) == at("09:00")
