"""Each timing rule from both sides of its edge, on shops of two or three steps. Times are worked by hand.

Hours are 08:00-12:00 and 12:30-16:30 (minutes 0-240 and 270-510 of each day, Monday to Friday) unless said otherwise.
Every plan also passes the verifier.
"""

from __future__ import annotations

import pytest
from builders import ShopBuilder, as_plan, days

from planner.plan import Step
from planner.search import search
from planner.timetable import Timetable
from planner.verify import verify
from planner.work import Begun, Work

HOURS = days(12, (0, 240), (270, 510))
NEXT = 1440  # Tuesday 08:00


def steps(work: Work, order: list[int] | None = None, placing: bool = False) -> list[Step]:
    """Steps when the operations are timed in this order (or in their own), which must be an allowed plan."""
    table = Timetable(work)
    assert table.time(table.repaired(order or []), placing=placing) == 0
    assert verify(work, as_plan(work, table)) == []
    return list(table.steps())


def one(shop: ShopBuilder, due: int = 0) -> Step:
    return steps(shop.order("O1", "B1", due=due).build())[-1]


# --- 1 machine, 2 setup ------------------------------------------------------------------------


def test_a_machine_is_held_over_closed_time() -> None:
    """500 minutes from Monday 08:00 end on Tuesday 08:20; the next begins there though the night was free."""
    shop = ShopBuilder().machine("M", HOURS)
    for name in ("B1", "B2"):
        shop.batch(name).op("M", 0, 60 * 500)
    found = steps(shop.order("O", "B1", "B2", due=0).build())
    assert [(s.start, s.run_end) for s in found] == [(0, NEXT + 20), (NEXT + 20, 2 * NEXT + 40)]


@pytest.mark.parametrize(("minutes", "end"), [(240, 240), (241, 271)])
def test_setup_pauses_in_a_break(minutes: int, end: int) -> None:
    shop = ShopBuilder().machine("M", HOURS).person("Ann", "set", HOURS).batch("B1").op("M", minutes, 60, skill="set")
    assert one(shop).setup[0].end == end


def test_the_setter_is_the_one_with_whom_setup_ends_soonest() -> None:
    """Ann comes at 08:30, Ben at 08:29."""
    shop = ShopBuilder().person("Ann", "set", [(30, 500)]).person("Ben", "set", [(29, 500)])
    step = one(shop.batch("B1").op("M", 20, 60, skill="set"))
    assert (step.setup[0].person, step.setup[0].end) == (1, 49)


def test_of_equal_ends_the_later_start_is_taken() -> None:
    """Ann could begin before her break and end with Ben; Ben starts later and is held less."""
    shop = ShopBuilder().person("Ann", "set", [(0, 10), (30, 500)]).person("Ben", "set", [(30, 500)])
    shop.machine("M", [(5, 500)])
    step = one(shop.batch("B1").op("M", 20, 60, skill="set"))
    assert (step.setup[0].person, step.setup[0].start, step.setup[0].end) == (0, 5, 45)


def test_a_setter_does_nothing_else_until_the_setting_ends() -> None:
    shop = ShopBuilder().person("Ann", "set")
    shop.batch("B1").op("M1", 30, 60, skill="set").batch("B2").op("M2", 30, 60, skill="set")
    found = steps(shop.order("O", "B1", "B2", due=0).build())
    assert [s.start for s in found] == [0, 30]


@pytest.mark.parametrize(("handover", "end"), [(None, NEXT + 20), (10, 120)])
def test_another_takes_over_at_shift_end_where_that_is_allowed(handover: int | None, end: int) -> None:
    """100 minutes of setting begun at 0; Ann leaves at 80, Ben is there from 80: 20 and the handover are left."""
    shop = ShopBuilder(handover_min=handover).person("Ann", "set", [(0, 80), (NEXT, NEXT + 80)])
    shop.person("Ben", "set", [(80, 150)])
    step = one(shop.batch("B1").op("M", 100, 60, skill="set"))
    assert step.setup[-1].end == (110 if handover else end)
    assert len(step.setup) == (2 if handover else 1)


@pytest.mark.parametrize(("part", "minutes"), [("P", 0), ("Q", 45)])
def test_the_same_part_and_step_on_the_machine_needs_no_setup(part: str, minutes: int) -> None:
    """Otherwise the base and the changeover from what stands on it."""
    shop = ShopBuilder().machine("M", on=("P", "A", 10), on_family="bar 20").changeover("M", "bar 20", "bar 32", 25)
    assert one(shop.batch("B1", part=part).op("M", 20, 60, family="bar 32")).setup_min == minutes


def test_changeover_goes_by_direction() -> None:
    shop = ShopBuilder().changeover("M", "a", "b", 5).changeover("M", "b", "a", 50).machine("M", on_family="a")
    shop.batch("B1").op("M", 0, 60, family="b").batch("B2").op("M", 0, 60, family="a")
    found = steps(shop.order("O", "B1", "B2", due=0).build())
    assert [s.changeover_min for s in found] == [5, 50]


# --- 3 first-off -----------------------------------------------------------------------------------


@pytest.mark.parametrize(("may", "approver", "end"), [(False, 1, 65), (True, 0, 15)])
def test_the_setter_approves_only_where_that_is_allowed(may: bool, approver: int, end: int) -> None:
    """Setting 0-5, first piece 5-10, five minutes of checking: Ann at once, or Ben who comes at 60."""
    shop = ShopBuilder(setter_may_approve=may).person("Ann", ["set", "check"]).person("Ben", "check", [(60, 500)])
    shop.batch("B1", pieces=3).op("M", 5, 300, skill="set", first_off_skill="check", first_off_min=5)
    step = one(shop)
    assert step.first_off is not None
    assert (step.first_off.approver, step.first_off.end, step.bursts[1].start) == (approver, end, end)


def test_a_first_off_interrupts_batch_inspection_which_takes_longer_for_it() -> None:
    """100 minutes of inspection are planned as 125; the approval at 10 does not wait for their end."""
    shop = ShopBuilder(inspection_stretch_percent=125).person("Ann", "check")
    shop.batch("B1").manual("bench", 6000, skill="check")
    shop.batch("B2", pieces=2).op("M", 0, 600, first_off_skill="check", first_off_min=7)
    found = steps(shop.order("O", "B1", "B2", due=0).build())
    assert found[0].run_end == 125
    assert found[1].first_off is not None
    assert (found[1].first_off.start, found[1].run_end) == (10, 27)


# --- 4 run --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("limit", "end"), [(0, NEXT + 60), (59, NEXT + 1), (60, 570), (61, 570)])
def test_unattended_running_goes_on_up_to_its_limit(limit: int, end: int) -> None:
    """540 minutes from 08:00: 480 attended and 60 more, at night (16:30 on) as far as the limit lets it."""
    shop = ShopBuilder().machine("M", HOURS, days(12, (510, 1440)))
    assert one(shop.batch("B1").op("M", 0, 60 * 540, unattended_limit_min=limit)).run_end == end


def test_a_run_starts_only_where_someone_is_there() -> None:
    """Ready at 16:30: it waits for the morning though the machine could run at night."""
    shop = ShopBuilder().machine("M", HOURS, days(12, (510, 1440)))
    assert one(shop.batch("B1", release=510).op("M", 0, 600, unattended_limit_min=600)).run_start == NEXT
    again = ShopBuilder().machine("M", HOURS, days(12, (510, 1440)))
    assert one(again.batch("B1", release=509).op("M", 0, 600, unattended_limit_min=600)).run_start == 509


@pytest.mark.parametrize(("minutes", "run_start"), [(80, 430), (81, NEXT)])
def test_a_run_that_may_not_pause_fits_into_one_stretch(minutes: int, run_start: int) -> None:
    """Ready at 14:40, 110 minutes before the day ends; setting takes 30 of them, and is done that day all the same."""
    shop = ShopBuilder().machine("M", HOURS).batch("B1", release=400)
    step = one(shop.op("M", 30, 60 * minutes, may_pause=False))
    assert (step.start, step.run_start) == (400, run_start)


@pytest.mark.parametrize(("most", "start"), [(30, 0), (29, 270)])
def test_a_break_of_the_stated_length_does_not_end_a_stretch(most: int, start: int) -> None:
    """Four hours and one minute from 08:00 cross the half hour at noon; the afternoon has four hours and two minutes."""
    hours = [*days(1, (0, 240), (270, 512))]
    shop = ShopBuilder(break_max_min=most).machine("M", hours)
    assert one(shop.batch("B1").op("M", 0, 60 * 241, may_pause=False)).run_start == start


@pytest.mark.parametrize(("pieces", "minutes"), [(6, 6), (7, 8)])
def test_cycles_and_minutes_are_rounded_up_once(pieces: int, minutes: int) -> None:
    """Two pieces a cycle of 110 s: three cycles are 5.5 minutes, four 7.33."""
    assert one(ShopBuilder().batch("B1", pieces=pieces).op("M", 0, 110, pieces_per_cycle=2)).run_end == minutes


# --- 5 hand work ---------------------------------------------------------------------------------------


def test_hand_work_goes_over_to_another_person_where_a_stretch_ends() -> None:
    """Ann to 100, Ben after her: nobody is held overnight."""
    shop = ShopBuilder().person("Ann", "fit", [(0, 100)]).person("Ben", "fit", [(100, 400)])
    step = one(shop.batch("B1").manual("bench", 60 * 150, skill="fit"))
    assert [(s.person, s.start, s.end) for s in step.stints] == [(0, 0, 100), (1, 100, 150)]


def test_two_pieces_of_hand_work_need_two_people() -> None:
    shop = ShopBuilder().person("Ann", "fit")
    shop.batch("B1").manual("a", 600, skill="fit").batch("B2").manual("b", 600, skill="fit")
    assert [s.start for s in steps(shop.order("O", "B1", "B2", due=0).build())] == [0, 10]


# --- 6 equipment ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("count", "second"), [(1, 15), (2, 0)])
def test_equipment_is_held_from_setting_to_run_end(count: int, second: int) -> None:
    shop = ShopBuilder().equipment("jaws", count)
    for n in (1, 2):
        shop.batch(f"B{n}").op(f"M{n}", 5, 600, equipment={"jaws": 1})
    assert steps(shop.order("O", "B1", "B2", due=0).build())[1].start == second


def test_a_setup_is_skipped_only_while_the_equipment_stayed() -> None:
    """The same part follows itself on M1, but its only jaws were on M2 in between: full setup."""
    shop = ShopBuilder().equipment("jaws", 1)
    shop.batch("B1", part="P").op("M1", 5, 600, equipment={"jaws": 1})
    shop.batch("B2", part="Q").op("M2", 5, 600, equipment={"jaws": 1})
    shop.batch("B3", part="P").op("M1", 5, 600, equipment={"jaws": 1})
    work = shop.order("O", "B1", "B2", "B3", due=0).build()
    assert [(s.start, s.setup_min) for s in steps(work)] == [(0, 5), (15, 5), (30, 5)]
    assert [(s.start, s.setup_min) for s in steps(work, [0, 2, 1])] == [(0, 5), (25, 5), (15, 0)]


# --- 7 moves, sublots, setting ahead ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("calendar", "start"), [("day", NEXT + 13), (None, NEXT + 13), ("always", NEXT)], ids=["named", "machine", "always"]
)
def test_a_move_counts_in_its_calendar(calendar: str | None, start: int) -> None:
    """Through at 16:28, 15 minutes: in the shop's or the machine's hours 08:13 the next day, in a calendar without nights
    over by 08:00."""
    shop = ShopBuilder().machine("M2", HOURS).calendar("day", HOURS).calendar("always", [(0, 100_000)])
    shop.batch("B1").op("M1", 0, 60 * 508, move_min=15, move_calendar=calendar).op("M2", 0, 60)
    assert one(shop).start == start


def test_waiting_is_elapsed_time() -> None:
    """12 hours of curing from 16:00 are over at 04:00; work begins at 08:00."""
    shop = ShopBuilder().machine("M2", HOURS).batch("B1").op("M1", 0, 60 * 480, wait_min=720).op("M2", 0, 60)
    found = steps(shop.order("O1", "B1", due=0).build())
    assert (found[0].end, found[1].start) == (1200, NEXT)


def test_setting_ahead_takes_the_latest_slot_that_does_not_delay_the_run() -> None:
    shop = ShopBuilder().batch("B1").op("M1", 0, 60 * 100).op("M2", 30, 60, setup_ahead=True)
    step = one(shop)
    assert (step.start, step.run_start) == (70, 100)
    plain = ShopBuilder().batch("B1").op("M1", 0, 60 * 100).op("M2", 30, 60)
    assert one(plain).run_start == 130


# --- 8 outside ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("minutes", "trip"), [(300, 0), (301, 1)])
def test_the_cutoff_is_made_to_the_minute(minutes: int, trip: int) -> None:
    shop = ShopBuilder().service("anodise", [(300, 360, 5000), (1740, 1800, 6500)])
    step = one(shop.batch("B1").op("M", 0, 60 * minutes).outside("anodise"))
    assert (step.trip, step.run_end) == (trip, (5000, 6500)[trip])


@pytest.mark.parametrize(("room", "trips"), [(10, [0, 0]), (9, [0, 1])])
def test_a_batch_goes_where_there_is_room_and_is_never_split(room: int, trips: list[int]) -> None:
    shop = ShopBuilder().service("anodise", [(300, 360, 5000), (1740, 1800, 6500)], room=room)
    shop.batch("B1", pieces=5).outside("anodise").batch("B2", pieces=5).outside("anodise")
    assert [s.trip for s in steps(shop.order("O", "B1", "B2", due=0).build())] == trips


# --- 9 needs, 10 release, 11 begun work, placing -----------------------------------------------------------


def test_a_parent_starts_when_its_last_component_is_there() -> None:
    shop = ShopBuilder().batch("B1").op("M1", 0, 60 * 70, wait_min=5).batch("B2").op("M2", 10, 60)
    shop.need("B2", 10, "B1").need("B2", 10, at=74)
    assert steps(shop.order("O", "B2", due=0).build())[1].start == 75


@pytest.mark.parametrize(("release", "pin", "start"), [(50, 0, 50), (50, 60, 60)])
def test_nothing_starts_before_its_release_or_the_time_it_is_held_to(release: int, pin: int, start: int) -> None:
    assert one(ShopBuilder().batch("B1", release=release).op("M", 5, 60, not_before_min=pin)).start == start


def test_started_work_is_first_on_its_machine_and_goes_on_with_what_is_left() -> None:
    shop = ShopBuilder().batch("B1", pieces=10).op("M", 50, 60)
    shop.batch("B2", pieces=10).op(
        "M", 50, 60, begun=Begun.RUNNING, begun_machine="M", pieces_left=4, setup_left_min=20
    )
    work = shop.order("O", "B1", "B2", due=0).build()
    assert [(s.start, s.run_end) for s in steps(work)] == [(24, 84), (0, 24)]


def test_started_work_without_setting_left_may_go_on_at_night() -> None:
    shop = ShopBuilder().machine("M", [(60, 400)], [(-100, 60)]).batch("B1", pieces=10)
    shop.op("M", 50, 60, begun=Begun.RUNNING, begun_machine="M", pieces_left=4, unattended_limit_min=200)
    assert one(shop).run_end == 4


@pytest.mark.parametrize(("minutes", "start"), [(30, 0), (31, 90)])
def test_placing_takes_the_first_gap_that_is_long_enough(minutes: int, start: int) -> None:
    """A gap of 30 minutes before a batch that is released at 30."""
    shop = ShopBuilder().batch("B1", release=30).op("M", 0, 60 * 60).batch("B2").op("M", 0, 60 * minutes)
    work = shop.order("O", "B1", "B2", due=0).build()
    assert steps(work, [0, 1], placing=True)[1].start == start
    assert steps(work, [0, 1])[1].start == 90


def test_placing_leaves_the_follower_s_changeover_as_it_is() -> None:
    """The gap is long enough, but the follower's setting would be another: behind it, then."""
    shop = ShopBuilder().changeover("M", "a", "b", 5).changeover("M", "b", "b", 0).changeover("M", "b", "a", 7)
    shop.changeover("M", "a", "a", 0).machine("M", on_family="b")
    shop.batch("B1", release=300).op("M", 10, 60, family="b").batch("B2").op("M", 10, 60, family="a")
    shop.batch("B3").op("M", 10, 60, family="b")
    found = steps(shop.order("O", "B1", "B2", "B3", due=0).build(), [0, 1, 2], placing=True)
    assert found[1].start >= found[0].run_end
    assert found[2].run_end <= found[0].start


def test_a_plan_of_one_trial_times_every_operation() -> None:
    work = ShopBuilder().batch("B1").op("M", 5, 60).order("O1", "B1", due=0).build()
    assert len(search(work, trials=1).steps) == 1


@pytest.mark.parametrize(
    ("minutes", "room", "collect"), [(45, None, 120), (60, None, 120), (61, None, 2000), (45, 4, 120)]
)
def test_a_van_that_comes_later_may_want_it_sooner(minutes: int, room: int | None, collect: int) -> None:
    """A special collection at 120 takes what is ready at 60; the usual van at 150 wants it by 30. Room on neither changes that."""
    shop = ShopBuilder().service("anodise", [(60, 120, 5000), (30, 150, 5000), (2000, 2000, 6500)])
    step = one(shop.batch("B1").op("M", 0, 60 * minutes).outside("anodise"))
    assert step.start == collect


@pytest.mark.parametrize(("minutes", "collect"), [(30, 150), (31, 2000)])
def test_a_full_van_does_not_let_one_be_caught_that_wanted_it_sooner(minutes: int, collect: int) -> None:
    shop = ShopBuilder().service("anodise", [(60, 120, 5000), (30, 150, 5000), (2000, 2000, 6500)], room=5)
    shop.batch("A", pieces=5).outside("anodise").batch("B1", pieces=5).op("M", 0, 12 * minutes).outside("anodise")
    assert steps(shop.order("O", "A", "B1", due=0).build(), [0, 1, 2])[-1].start == collect
