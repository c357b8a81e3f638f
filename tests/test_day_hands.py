"""Who begins a step on the tiny shop: known, skilled, here, and not needed elsewhere; the rest is told and entered.

Ada (08:00 to 16:30) is setting B-2 operation 20 on M1 when the store is made, Monday 08:00. Ben works from 12:00 to 20:00. The carriers O-1/GR-120-1
ask for 35 minutes of setting on L2, where the bodies ask for none on L1.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from days import Day, at
from intake_folders import Folder, put

from planner.explode import explode
from planner.store import ShopPlace
from planner.store.folder import take_in

CARRIERS = ("O-1/GR-120-1", 10)


def begin(day: Day, person: str, time: str = "09:00", on: int = 23) -> str:
    return day.book("start", *CARRIERS, time, on, machine="L2", person=person).words


def not_begun(day: Day, person: str, time: str = "09:00", on: int = 23) -> str:
    return day.refused("start", *CARRIERS, time, on, machine="L2", person=person)


# --- at something else ---------------------------------------------------------------------------


def test_who_is_setting_cannot_set_another_machine(day: Day) -> None:
    words = not_begun(day, "Ada")
    assert words.startswith(
        "Ada is setting batch B-2 operation 20 on M1 (15 min left), and cannot be at batch O-1/GR-120-1"
    )
    assert "name somebody else" in words
    assert "Ada" not in begin(day, "Ben", "12:00")


@pytest.mark.parametrize("what", ["setup done", "stop"])
def test_who_has_set_or_stopped_can(day: Day, what: str) -> None:
    day.book(what, "B-2", 20)
    assert "35 min to set" in begin(day, "Ada")


def test_who_is_setting_can_start_what_asks_for_no_setter(day: Day) -> None:
    """The same step as before on L1: nothing is to be set there."""
    day.book("finish", "B-1", 10, "08:30")
    name = next(b.name for b in explode(day.shop).batches if b.part == "GR-110" and b.name != "B-1")
    assert "nothing to set" in day.book("start", name, 10, "08:30", machine="L1", person="Ada").words


def test_a_machine_that_runs_leaves_its_setter_free(day: Day) -> None:
    """Ada set B-1 on L1, which runs; L1 and L2 are two, and one person minds two."""
    day.book("setup done", "B-2", 20)
    assert "minds" not in begin(day, "Ada")


def test_more_machines_than_one_person_minds_are_told(tmp_path: Path, place: ShopPlace) -> None:
    folder = Folder(tmp_path / "shop").edit(put("groups", 2, "machines_per_person", "1"))
    day = Day(take_in(folder.path, place, "Ann"), place)
    day.book("setup done", "B-2", 20)
    assert "Ada then minds L1, L2: one person minds 1 machine of lathes." in begin(day, "Ada")


@pytest.mark.parametrize(("time", "on", "bound"), [("16:29", 23, True), ("16:30", 23, False), ("09:00", 24, False)])
def test_a_setup_may_have_been_handed_over_at_the_end_of_a_shift(day: Day, time: str, on: int, bound: bool) -> None:
    """Not at noon: a break does not end a shift."""
    if bound:
        assert "Ada is setting" in not_begun(day, "Ada", "12:30", on)
        assert "Ada is setting" in not_begun(day, "Ada", time, on)
    else:
        assert "somebody else is taken to have gone on with that" in begin(day, "Ada", time, on)


def test_without_handing_over_who_began_a_setup_ends_it(tmp_path: Path, place: ShopPlace) -> None:
    folder = Folder(tmp_path / "shop").edit(put("settings", 8, "value", ""))
    day = Day(take_in(folder.path, place, "Ann"), place)
    assert "Ada is setting" in not_begun(day, "Ada", "09:00", 24)
    day.book("setup done", "B-2", 20, "09:00", day=24)
    begin(day, "Ada", "09:00", 24)


@pytest.fixture
def deburring(day: Day) -> Day:
    """Ben deburrs B-1 on D1 (08:00 to 16:30) from Wednesday 13:00 on."""
    day.book("setup done", "B-2", 20, "09:00")
    day.book("finish", "B-2", 20, "09:30")
    day.book("finish", "B-1", 10, "09:30")
    day.book("start", "B-1", 20, "08:00", day=24, machine="M1")
    day.book("setup done", "B-1", 20, "09:00", day=24)
    day.book("finish", "B-1", 20, "15:00", day=24)
    day.book("start", "B-1", 30, "13:00", day=25, person="Ben")
    return day


@pytest.mark.parametrize(("time", "on", "bound"), [("16:29", 25, True), ("16:30", 25, False), ("12:00", 26, False)])
def test_work_by_hand_has_one_person_to_the_end_of_a_stretch(deburring: Day, time: str, on: int, bound: bool) -> None:
    if bound:
        assert "Ben is at batch B-1 operation 30 on D1" in not_begun(deburring, "Ben", time, on)
    else:
        assert "somebody else is taken to have gone on with that" in begin(deburring, "Ben", time, on)


@pytest.mark.parametrize("what", ["stop", "finish"])
def test_who_has_stopped_work_by_hand_is_free(deburring: Day, what: str) -> None:
    deburring.book(what, "B-1", 30, "14:00", day=25)
    assert "by the bookings" not in begin(deburring, "Ben", "14:00", 25)


def test_who_went_on_after_a_stop_is_at_it_again(deburring: Day) -> None:
    deburring.book("stop", "B-1", 30, "14:00", day=25)
    deburring.book("good", "B-1", 30, "14:30", day=25, good=1)
    assert "Ben is at batch B-1 operation 30" in not_begun(deburring, "Ben", "14:30", 25)


# --- here, and allowed ---------------------------------------------------------------------------


@pytest.mark.parametrize(("time", "away"), [("09:59", False), ("10:00", True), ("10:59", True), ("11:00", False)])
def test_who_is_away_is_away(day: Day, time: str, away: bool) -> None:
    day.book("setup done", "B-2", 20)
    day.happen("away", "Ada", "09:30", since=at("10:00"), until=at("11:00"), reason="school")
    if away:
        assert "Ada is away until 2026-03-23 11:00 (school): say that they are back" in not_begun(day, "Ada", time)
    else:
        begin(day, "Ada", time)


@pytest.mark.parametrize(("time", "told"), [("11:59", True), ("12:00", False), ("19:59", False), ("20:00", True)])
def test_outside_their_hours_people_are_entered_and_it_is_told(day: Day, time: str, told: bool) -> None:
    assert ("is outside the hours of Ben." in begin(day, "Ben", time)) == told


def test_a_step_that_is_pinned_to_somebody_is_theirs(planned: Day) -> None:
    planned.book("setup done", "B-2", 20)
    name = next(b.name for b in planned.followed.work.batches if b.part == "GR-120" and not b.is_open)
    planned.decide("pin", name, 10, person="Ben")
    words = planned.refused("start", name, 10, machine="L2", person="Ada")
    assert "is pinned to Ben: lift that first" in words
    planned.book("start", name, 10, "12:00", machine="L2", person="Ben")
