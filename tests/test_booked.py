"""What bookings of the tiny shop say of times: each by hand, from both sides of each rule.

The lathe L2 and the bench D1 are open from 08:00 to 12:00 and 12:30 to 16:30 (Friday 08:00 to 12:30, Saturday the 28th 08:00 to 12:00);
L1 from 08:00 to 20:00, and then runs on for two hours at most with nobody there. Before there was a store B-1 ran on L1, and B-2 was being
set on M1.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from days import Day, at

from planner.booked import with_history
from planner.booked.history import AT_NIGHT, BACKWARDS, OUTSIDE_HOURS, PIECES_COMING
from planner.booked.steps import MOVED, STOPPED
from planner.risk.learning import lesson_of
from planner.shop import BookedBatch, BookedTime, History
from planner.store.edit import change_row
from planner.store.folder import write_out

CARRIER, BODY = "O-1/GR-120-1", "O-1/GR-110-1"  # 42 carriers, 20 bodies; the first step of both is turning


@pytest.fixture
def day(day: Day) -> Day:
    """Nobody is said to be setting B-2, so that Ada may begin elsewhere."""
    row = day.row("progress", batch="B-2", operation="20")
    change_row(day.store, "Ann", at("08:00"), "progress", row.id, row.version, {"person": ""})
    return day


def history(day: Day) -> History:
    """What bookings say, without what stands in the tables."""
    shop = day.shop
    bare = replace(shop, history=History())
    found = with_history(day.place, bare).history
    told = shop.history
    return replace(found, times=found.times[len(told.times) :], turns=found.turns[len(told.turns) :])


def minutes(day: Day) -> list[tuple[str, int, int]]:
    return [(t.what, t.planned_min, t.actual_min) for t in history(day).times]


def set_up(day: Day, begin: str = "09:00", end: str = "09:50", on: int = 23, machine: str = "L2") -> None:
    """The first step of the carriers on L2: 30 minutes and 5 of changeover; 2 minutes a piece."""
    day.book("start", CARRIER, 10, begin, on, machine=machine, person="Ada")
    day.book("setup done", CARRIER, 10, end, on)


# --- setups and runs ----------------------------------------------------------------------------------


def test_a_setup_and_a_run_stand_beside_their_plan(day: Day) -> None:
    set_up(day)
    day.book("good", CARRIER, 10, "10:30", good=5)
    day.book("finish", CARRIER, 10, "11:50")
    assert history(day).times == (
        BookedTime(date(2026, 3, 23), "setup", "lathes", 35, 50, False, f"batch {CARRIER} operation 10"),
        BookedTime(date(2026, 3, 23), "run", "lathes", 84, 120, False, f"batch {CARRIER} operation 10"),
    )
    assert history(day).unclear == ()


def test_breaks_nights_and_closed_days_do_not_count(day: Day) -> None:
    """Set over the midday break; run from Friday 12:00 over Saturday's four hours to Monday 08:30."""
    set_up(day, "11:30", "12:45", 27 - 4)
    assert minutes(day) == [("setup", 35, 45)]
    day.undo(), day.undo()
    set_up(day, "11:20", "12:00", 27)
    day.book("finish", CARRIER, 10, "08:30", 30)
    assert minutes(day) == [("setup", 35, 40), ("run", 84, 30 + 240 + 30)]


def test_downtime_does_not_count(day: Day) -> None:
    set_up(day)
    day.happen("down", "L2", "10:00", until=at("11:00"), reason="belt")
    day.book("finish", CARRIER, 10, "11:50")
    assert minutes(day)[1] == ("run", 84, 60)


def test_downtime_that_becomes_known_after_the_plan_counts_too(planned: Day) -> None:
    """The plan's own tables do not have it."""
    planned.book("setup done", "B-2", 20, "09:00")
    planned.happen("down", "M1", "10:00", until=at("11:00"), reason="belt")
    planned.book("finish", "B-2", 20, "11:30")
    found = with_history(planned.place, planned.followed.shop).history.times
    assert [t.actual_min for t in found if t.name.startswith("batch")] == [90]


def test_a_setup_counts_while_its_setter_is_there_too(day: Day) -> None:
    """Ben comes at 12:00: on L1, which is open from 08:00, he sets from then on; who does it is not always said."""
    day.book("stop", "B-1", 10, "10:00", torn_down=True)
    day.book("start", CARRIER, 10, "11:00", machine="L1", person="Ben")
    day.book("setup done", CARRIER, 10, "13:00")
    assert minutes(day) == [("setup", 40 + 20, 60)]
    day.undo(), day.undo()
    day.book("start", CARRIER, 10, "11:00", machine="L1")
    day.book("setup done", CARRIER, 10, "13:00")
    assert minutes(day) == [("setup", 60, 120)]


@pytest.mark.parametrize(("handover", "actual"), [("10", 30 + 60 - 10), ("", 30)])
def test_a_setup_that_was_handed_over_counts_on(day: Day, handover: str, actual: int) -> None:
    """Ada goes at 16:30, Ben stays until 20:00; where nothing is handed over she finishes it herself."""
    row = day.row("settings", name="handover_min")
    change_row(day.store, "Ann", at("08:30"), "settings", row.id, row.version, {"value": handover})
    day.book("stop", "B-1", 10, "10:00", torn_down=True)
    day.book("start", CARRIER, 10, "16:00", machine="L1", person="Ada")
    day.book("setup done", CARRIER, 10, "17:30")
    assert minutes(day) == [("setup", 60, actual)]


def test_without_setup_done_there_is_neither_setup_nor_run(day: Day) -> None:
    day.book("start", CARRIER, 10, "09:00", machine="L2", person="Ada")
    day.book("stop", CARRIER, 10, "11:00", torn_down=True)
    assert minutes(day) == []
    set_up(day, "11:00", "11:40")
    assert minutes(day) == [("setup", 30, 40)]  # half-way set for the carriers before: no family is on the machine


def test_where_nothing_is_to_be_set_the_run_begins_at_once(day: Day) -> None:
    set_up(day)
    day.book("finish", CARRIER, 10, "11:00")
    day.book("start", "O-2/GR-120-1", 10, "11:00", machine="L2")
    day.book("finish", "O-2/GR-120-1", 10, "12:00")
    assert minutes(day) == [("setup", 35, 50), ("run", 84, 70), ("run", 52, 60)]


def test_an_undone_booking_does_not_count(day: Day) -> None:
    set_up(day)
    entry = day.book("finish", CARRIER, 10, "11:50")
    day.undo(entry.id)
    assert minutes(day) == [("setup", 35, 50)]
    day.book("finish", CARRIER, 10, "11:30")
    assert minutes(day)[1] == ("run", 84, 100)


def test_a_run_in_two_parts_is_one(day: Day) -> None:
    """Torn down and set again in between; the pieces of the first part are said only at the end."""
    set_up(day)
    day.book("stop", CARRIER, 10, "10:30", torn_down=True)
    day.book("start", CARRIER, 10, "13:00", machine="L2", person="Ada")
    day.book("setup done", CARRIER, 10, "13:30")
    day.book("finish", CARRIER, 10, "15:00")
    assert minutes(day) == [("setup", 35, 50), ("setup", 35, 30), ("run", 84, 40 + 90)]


def test_a_run_in_two_parts_on_two_machines_says_nothing(day: Day) -> None:
    set_up(day)
    day.book("stop", CARRIER, 10, "10:30", torn_down=True)
    day.book("stop", "B-1", 10, "10:30", torn_down=True)
    set_up(day, "10:30", "11:30", machine="L1")
    day.book("finish", CARRIER, 10, "12:30")
    assert [t.what for t in history(day).times] == ["setup", "setup"]
    assert history(day).unclear == ((MOVED, 1),)


@pytest.mark.parametrize(("good", "runs", "unclear"), [(42, [("run", 84, 100)], ()), (41, [], ((STOPPED, 1),))])
def test_after_a_stop_nobody_knows_when_it_went_on(day: Day, good: int, runs: list, unclear: tuple) -> None:
    """Unless all had been made before it."""
    set_up(day)
    day.book("stop", CARRIER, 10, "11:30", good=good)
    day.book("finish", CARRIER, 10, "15:00")
    assert minutes(day)[1:] == runs
    assert history(day).unclear == unclear


def test_a_setup_that_was_stopped_says_nothing(day: Day) -> None:
    day.book("start", CARRIER, 10, "09:00", machine="L2", person="Ada")
    day.book("stop", CARRIER, 10, "09:20")
    day.book("setup done", CARRIER, 10, "11:00")
    day.book("finish", CARRIER, 10, "12:00")
    assert minutes(day) == [("run", 84, 60)]
    assert history(day).unclear == ((STOPPED, 1),)


def test_a_run_counts_from_the_first_off_that_passed(day: Day) -> None:
    """What is made for first-offs, and set again when one failed, is no part of it: 25 of 4 minutes are left then."""
    day.book("stop", "B-1", 10, "10:00", torn_down=True)
    day.book("start", "B-1", 10, "10:00", machine="L1", person="Ada")
    day.book("setup done", "B-1", 10, "11:00")
    day.book("first-off failed", "B-1", 10, "11:30", setup_min=10)
    day.book("setup done", "B-1", 10, "11:50")
    day.book("first-off passed", "B-1", 10, "12:15")
    day.book("good", "B-1", 10, "13:00", good=9)
    day.book("finish", "B-1", 10, "14:15")
    assert minutes(day) == [("setup", 45 + 5, 60), ("run", 100, 120)]


def test_pieces_to_be_done_again_are_made_twice(day: Day) -> None:
    set_up(day)
    day.book("good", CARRIER, 10, "10:30", good=20)
    day.book("rework", CARRIER, 10, "10:40", rework=8)
    day.book("scrap", CARRIER, 10, "10:50", scrap=2, of_good=True)
    day.book("finish", CARRIER, 10, "11:50")
    assert minutes(day)[1] == ("run", 100, 120)


def test_what_was_begun_before_there_was_a_store_is_told_as_far_as_it_can_be(day: Day) -> None:
    day.book("finish", "B-1", 10, "11:00")  # since when, nobody knows
    day.book("setup done", "B-2", 20, "09:00")
    day.book("finish", "B-2", 20, "11:00")
    assert minutes(day) == [("run", 98, 120)]
    assert history(day).batches == () and history(day).groups == ()


def test_batch_inspection_is_planned_as_long_as_the_plan_has_it(day: Day) -> None:
    """Approving first-offs is the checkers' other work: 13 pieces of 90 seconds are 20 minutes, and a quarter more."""
    outside(day, "10:00", 31)
    day.book("start", "B-1", 50, "10:00", 31, machine="D1", person="Dai")
    day.book("setup done", "B-1", 50, "10:15", 31)
    day.book("finish", "B-1", 50, "10:45", 31)
    assert minutes(day)[-1] == ("run", 25, 30)


# --- hours that cannot be right ---------------------------------------------------------------------------


@pytest.mark.parametrize(("end", "runs"), [("17:00", 1), ("17:01", 0)])
def test_a_booking_far_outside_the_hours_says_nothing(day: Day, end: str, runs: int) -> None:
    """L2 closes at 16:30."""
    set_up(day)
    day.book("finish", CARRIER, 10, end)
    assert [t.what for t in history(day).times] == ["setup", *["run"] * runs]
    assert history(day).unclear == (() if runs else ((OUTSIDE_HOURS, 1),))


@pytest.mark.parametrize(("end", "actual"), [("08:59", None), ("09:00", 600 + 120 + 60)])
def test_a_run_that_ended_at_night_says_nothing(day: Day, end: str, actual: int | None) -> None:
    """Nobody saw when; booked an hour into the day or later, it had gone on by day. At night it runs for two hours."""
    day.book("stop", "B-1", 10, "08:00", torn_down=True)
    day.book("start", "B-1", 10, "08:00", machine="L1")
    day.book("setup done", "B-1", 10, "09:00")
    day.book("first-off passed", "B-1", 10, "10:00")
    day.book("finish", "B-1", 10, end, 24)
    assert [t.actual_min for t in history(day).times if t.what == "run"] == ([] if actual is None else [actual])
    assert history(day).unclear == (((AT_NIGHT, 1),) if actual is None else ())


def test_an_end_before_the_beginning_says_nothing(day: Day) -> None:
    set_up(day)
    day.book("finish", CARRIER, 10, "09:49")
    assert history(day).unclear == ((BACKWARDS, 1),)


@pytest.mark.parametrize(("begin", "unclear"), [("10:59", ((PIECES_COMING, 1),)), ("11:00", ())])
def test_a_run_that_may_have_waited_for_pieces_says_nothing(day: Day, begin: str, unclear: tuple) -> None:
    """Bodies are moved on by twenty: milling may begin while turning goes on, until 11:00."""
    day.book("setup done", "B-2", 20, "08:20")
    day.book("finish", "B-2", 20, "09:00")
    day.book("start", "B-1", 20, "09:30", 24, machine="M1", person="Ada")
    day.book("setup done", "B-1", 20, begin, 24)
    day.book("finish", "B-1", 10, "11:00", 24)
    day.book("finish", "B-1", 20, "15:00", 24)
    assert history(day).unclear == unclear
    assert [t.what for t in history(day).times if "B-1" in t.name] == ["setup", *(["run"] if not unclear else [])]


# --- by the tables as they are now -----------------------------------------------------------------------


def test_a_time_that_was_put_right_counts_as_right_at_once(day: Day) -> None:
    set_up(day)
    day.book("finish", CARRIER, 10, "11:50")
    row = day.row("routing_machines", part="GR-120", operation=10, machine="L2")
    step = day.row("routings", part="GR-120", operation=10)
    changed = row if row["cycle_sec"] else step
    change_row(day.store, "Ann", at("12:00"), changed.sheet, changed.id, changed.version, {"cycle_sec": "180"})
    assert minutes(day)[1] == ("run", 126, 120)


def test_a_part_is_made_for_the_first_time_or_not_as_it_was_then(day: Day) -> None:
    row = day.row("parts", part="GR-120")
    change_row(day.store, "Ann", at("08:30"), "parts", row.id, row.version, {"first_time": "yes"})
    set_up(day)
    row = day.row("parts", part="GR-120")
    change_row(day.store, "Ann", at("10:00"), "parts", row.id, row.version, {"first_time": "no"})
    day.book("finish", CARRIER, 10, "11:50")
    assert [(t.what, t.first_time) for t in history(day).times] == [("setup", True), ("run", False)]


# --- outside ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("back", "on", "days"),
    [
        ("10:30", 33, 5),  # Thursday 2 April: ready on Tuesday's afternoon or Wednesday's, 5 (as usual) or 6
        ("09:00", 33, 5),  # before the delivery of that day is due: they were early
        ("10:30", 31, 4),  # Tuesday: ready by Monday
        ("10:30", 40, 8),  # Thursday the 9th: not ready for Tuesday the 7th, and closed over Easter
        ("15:30", 39, 8),  # fetched on the Wednesday before
    ],
)
def test_outside_work_takes_the_working_days_that_fit_its_delivery(day: Day, back: str, on: int, days: int) -> None:
    """Out on Tuesday the 24th at 15:00, deliveries on Tuesdays and Thursdays at 10:00, usually five days."""
    outside(day, back, on)
    (turn,) = history(day).turns
    assert (turn.supplier, turn.process, turn.days) == ("Bright Coat", "hard anodise", days)
    assert turn.day == at(back, on).date()


def outside(day: Day, back: str, on: int) -> None:
    day.book("finish", "B-1", 10, "08:10")
    day.book("setup done", "B-2", 20, "08:20")
    day.book("finish", "B-2", 20, "08:30")
    day.book("start", "B-1", 20, "08:00", 24, machine="M1")
    day.book("setup done", "B-1", 20, "09:00", 24)
    day.book("finish", "B-1", 20, "13:00", 24)
    day.book("start", "B-1", 30, "13:00", 24, machine="D1")
    day.book("finish", "B-1", 30, "14:00", 24)
    day.book("sent out", "B-1", 40, "15:00", 24)
    day.book("came back", "B-1", 40, back, on)


# --- how full machines are, scrap ----------------------------------------------------------------------------


def test_scrap_is_known_of_batches_that_were_booked_from_first_to_last(day: Day) -> None:
    set_up(day)
    day.book("scrap", CARRIER, 10, "10:00", scrap=3)
    day.book("finish", CARRIER, 10, "11:00")
    day.book("setup done", "B-2", 20, "09:00")
    day.book("finish", "B-2", 20, "11:00")
    day.book("start", CARRIER, 20, "11:00", machine="M1")
    day.book("setup done", CARRIER, 20, "11:40")
    day.book("finish", CARRIER, 20, "14:00", scrap=1, good=38)
    assert history(day).batches == (BookedBatch("GR-120", 42, 4),)


def test_how_full_a_group_is_needs_four_weeks_and_forgets_no_end(day: Day) -> None:
    """Weeks of 23 March, 30 March, 13 April and 20 April; nothing was booked in that of 6 April."""
    set_up(day, "09:00", "09:50")
    day.book("finish", CARRIER, 10, "11:00")
    for number, on in enumerate((31, 45)):
        day.book("start", ("O-2/GR-120-1", "O-3-1")[number], 10, "09:00", on, machine="L2")
        day.book("finish", ("O-2/GR-120-1", "O-3-1")[number], 10, "10:00", on)
    assert history(day).groups == ()
    day.book("finish", "B-1", 10, "10:00", 51)
    (lathes,) = history(day).groups
    assert (lathes.group, lathes.machines, lathes.held_min) == ("lathes", 2, (120, 60, 60))
    l1 = open_minutes(720, 270, [(23, 9 * 60), (51, 10 * 60)])
    l2 = open_minutes(480, 270, [(23, 9 * 60), (51, 10 * 60)]) + 240  # Saturday the 28th
    assert lathes.open_min == l1 + l2


def open_minutes(full: int, friday: int, ends: list[tuple[int, int]]) -> int:
    """From Monday the 23rd at 09:00 to Monday 20 April at 10:00, without the week of 6 April and Good Friday."""
    (_, first), (_, last) = ends
    weeks = [4 * full + friday, 4 * full, 4 * full + friday]
    return sum(weeks) - (first - 480) + (last - 480)


def test_a_hold_whose_end_was_forgotten_counts_as_planned(day: Day) -> None:
    """42 pieces of 2 minutes and 30 of setting are 114; held from the first day to the last it would be weeks."""
    set_up(day)
    for number, on in enumerate((30, 44, 51)):
        name = ("O-2/GR-120-1", "O-3-1", "")[number]
        if name:
            day.book("stop", "B-1", 10, "08:00", on, torn_down=True) if number == 0 else None
            day.book("start", name, 10, "09:00", on, machine="L1")
            day.book("setup done", name, 10, "10:00", on) if number == 0 else None
            day.book("finish", name, 10, "11:00", on)
    day.book("finish", CARRIER, 10, "09:00", 51)
    (lathes,) = history(day).groups
    assert lathes.held_min == (120, 120, 114)


# --- where it goes ------------------------------------------------------------------------------------------


def test_a_folder_has_what_its_tables_say_and_no_more(day: Day, tmp_path) -> None:
    set_up(day)
    shop = day.shop
    assert with_history(None, shop) is shop
    write_out(day.store, tmp_path / "out")
    assert with_history(tmp_path / "out", shop) is shop
    assert [t.actual_min for t in shop.history.times] == [80, 190, 90]
    assert [t.actual_min for t in with_history(day.place, shop).history.times] == [80, 190, 90, 50]


def test_without_bookings_a_store_is_as_its_tables(day: Day) -> None:
    assert with_history(day.place, day.shop) == day.shop


def test_a_run_many_times_its_plan_is_left_out_of_what_is_learned(day: Day) -> None:
    """Forgotten until Thursday: 84 planned minutes, and more than five times as many open ones."""
    set_up(day)
    day.book("finish", CARRIER, 10, "09:00", 26)
    shop = with_history(day.place, day.shop)
    (late,) = [t for t in shop.history.times if t.planned_min == 84]
    assert late.actual_min > 5 * 84
    assert late not in lesson_of(shop).times
    assert len(lesson_of(shop).times) == len(shop.history.times) - 1
