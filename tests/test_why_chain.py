"""The binding chain part by part, on shops whose answer is known by hand. Every chain here is checked by the verifier too."""

from __future__ import annotations

import pytest
from builders import ShopBuilder, days
from why_chains import rows, timed

from planner.work import Begun, Work

SHIFT = days(5, (0, 480))


def kinds(work: Work, name: str, *first: str, hold: dict[str, int] | None = None) -> list[tuple[str, int, int]]:
    return [(kind, a, b) for kind, a, b, _, _ in rows(work, timed(work, *first, hold=hold), name)]


# --- queues ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("release", "queue"),
    [(0, [("waits for machine", 0, 50)]), (49, [("before release", 0, 49), ("waits for machine", 49, 50)]),
     (50, [("before release", 0, 50)]), (51, [("before release", 0, 51)])],
)  # fmt: skip
def test_a_machine_is_waited_for_from_the_release_to_the_end_of_the_batch_before(release: int, queue) -> None:
    work = ShopBuilder().batch("B0", pieces=50).op("L1").batch("B1", pieces=10, release=release).op("L1").build()
    start = queue[-1][2]
    assert kinds(work, "B1", "B0") == [*queue, ("own run", start, start + 10)]


def test_each_batch_that_had_the_machine_is_named_with_its_minutes_and_free_time_kept_for_it_apart() -> None:
    """B2 is before B1 in the list but comes only at 100: from 50 to there the machine stands free for it."""
    work = (
        ShopBuilder().batch("B0", pieces=50).op("L1").batch("B2", pieces=30, release=100).op("L1")
        .batch("B1", pieces=10).op("L1").build()
    )  # fmt: skip
    assert rows(work, timed(work, "B0", "B2"), "B1") == [
        ("waits for machine", 0, 50, "B1 op 10", "L1, behind B0 op 10"),
        ("machine kept free", 50, 100, "B1 op 10", "L1, behind B2 op 10"),
        ("waits for machine", 100, 130, "B1 op 10", "L1, behind B2 op 10"),
        ("own run", 130, 140, "B1 op 10", "L1"),
    ]


FROZEN = 100


def in_line(*kept: tuple[str, str, int], release: int = 0, b2: int = 100, **op: object) -> Work:
    """B0, B2 and B1 on one machine, B2 not before ``b2`` and B1 from ``release`` on, with places kept: (batch, after, weight)."""
    shop = (
        ShopBuilder().batch("B0", pieces=50).op("L1").batch("B2", pieces=30, release=b2).op("L1")
        .batch("B1", pieces=10, release=release).op(["L1", "L2"], **op)
    )  # fmt: skip
    for batch, after, weight in kept:
        shop.kept(batch, 10, "L1", (after, 10), weight)
    return shop.build()


@pytest.mark.parametrize(
    ("kept", "queue"),
    [
        ((("B1", "B2", FROZEN),), [("waits for machine", 0, 50), ("kept in its place", 50, 130)]),
        ((("B1", "B2", FROZEN), ("B2", "B0", FROZEN)), [("kept in its place", 0, 50), ("kept in its place", 50, 130)]),
        ((("B2", "B0", FROZEN),), [("waits for machine", 0, 50), ("machine kept free", 50, 100), ("waits for machine", 100, 130)]),
        ((("B1", "B2", 1),), [("waits for machine", 0, 50), ("machine kept free", 50, 100), ("waits for machine", 100, 130)]),
        ((("B1", "B0", FROZEN),), [("waits for machine", 0, 50), ("machine kept free", 50, 100), ("waits for machine", 100, 130)]),
    ],
    ids=["behind one", "behind both", "not its own place", "not frozen", "not the place it has"],
)  # fmt: skip
def test_minutes_behind_a_batch_in_a_place_that_is_frozen_are_told_apart(kept, queue) -> None:
    work = in_line(*kept, pin_machine="L1")
    assert kinds(work, "B1", "B0", "B2") == [*queue, ("own run", 130, 140)]


@pytest.mark.parametrize(("release", "kind"), [(100, "kept in its place"), (101, "waits for machine")])
def test_behind_what_had_begun_before_it_was_ready_no_place_is_kept(release: int, kind: str) -> None:
    work = in_line(("B1", "B2", FROZEN), release=release, pin_machine="L1")
    assert kinds(work, "B1", "B0", "B2") == [
        ("before release", 0, release),
        (kind, release, 130),
        ("own run", 130, 140),
    ]


def test_behind_what_runs_at_the_plan_start_no_place_is_kept() -> None:
    work = (
        ShopBuilder().batch("B0", pieces=50).op("L1", begun=Begun.RUNNING, begun_machine="L1").batch("B1").op("L1")
        .kept("B1", 10, "L1", ("B0", 10), FROZEN).build()
    )  # fmt: skip
    assert kinds(work, "B1") == [("waits for machine", 0, 50), ("own run", 50, 51)]


def test_a_batch_that_holds_the_machine_overnight_is_waited_for_overnight() -> None:
    work = ShopBuilder().machine("L1", SHIFT).batch("B0", pieces=490).op("L1").batch("B1").op("L1").build()
    assert kinds(work, "B1", "B0") == [("waits for machine", 0, 1450), ("own run", 1450, 1451)]


def test_a_free_machine_that_is_closed_is_closed_time_not_a_wait_for_it() -> None:
    work = ShopBuilder().machine("L1", SHIFT).batch("B0", pieces=480).op("L1").batch("B1").op("L1").build()
    assert kinds(work, "B1", "B0") == [("waits for machine", 0, 480), ("closed", 480, 1440), ("own run", 1440, 1441)]


def test_a_setter_who_is_at_other_work_is_waited_for_and_one_who_is_away_is_closed_time() -> None:
    shop = ShopBuilder().person("Ann", "set", days(5, (20, 480)))
    work = shop.batch("B0").op("L1", 60, skill="set").batch("B1").op("L2", 10, skill="set").build()
    assert rows(work, timed(work, "B0"), "B1") == [
        ("closed", 0, 20, "B1 op 10", "set"),
        ("waits for person", 20, 80, "B1 op 10", "Ann, set, behind B0 op 10"),
        ("own setup", 80, 90, "B1 op 10", "L2"),
        ("own run", 90, 91, "B1 op 10", "L2"),
    ]


def test_work_by_hand_waits_for_whoever_does_it() -> None:
    shop = ShopBuilder().person("Ann", "fit").batch("B0", pieces=30).manual("bench", skill="fit")
    work = shop.batch("B1", pieces=5).manual("desk", skill="fit").build()
    assert rows(work, timed(work, "B0"), "B1")[0] == (
        "waits for person",
        0,
        30,
        "B1 op 10",
        "Ann, fit, behind B0 op 10",
    )


def test_somebody_who_must_leave_for_other_work_soon_is_waited_for_as_well() -> None:
    """Ann could not stay at the bench to the end of her shift: she sets L1 from 10 on, when its batch is released."""
    shop = ShopBuilder().machine("bench", SHIFT).person("Ann", ["fit", "set"], SHIFT)
    work = (
        shop.batch("B0", release=10)
        .op("L1", 20, skill="set")
        .batch("B1", pieces=50)
        .manual("bench", skill="fit")
        .build()
    )
    assert rows(work, timed(work, "B0"), "B1")[:2] == [
        ("waits for person", 0, 30, "B1 op 10", "Ann, fit, behind B0 op 10"),
        ("own run", 30, 80, "B1 op 10", "bench"),
    ]


@pytest.mark.parametrize(("count", "waited"), [(1, 40), (2, 0)])
def test_equipment_is_waited_for_while_another_has_the_last_of_it(count: int, waited: int) -> None:
    shop = ShopBuilder().equipment("jaws", count)
    work = (
        shop.batch("B0", pieces=40).op("L1", equipment={"jaws": 1}).batch("B1").op("L2", equipment={"jaws": 1}).build()
    )
    queue = [("waits for equipment", 0, 40, "B1 op 10", "jaws, behind B0 op 10")] if waited else []
    assert rows(work, timed(work, "B0"), "B1") == [*queue, ("own run", waited, waited + 1, "B1 op 10", "L2")]


def test_equipment_that_is_free_but_soon_needed_by_a_batch_before_it_is_waited_for() -> None:
    shop = ShopBuilder().equipment("jaws")
    work = (
        shop.batch("B0", pieces=40, release=10).op("L1", equipment={"jaws": 1})
        .batch("B1", pieces=20).op("L2", equipment={"jaws": 1}).build()
    )  # fmt: skip
    assert rows(work, timed(work, "B0"), "B1")[0] == ("waits for equipment", 0, 50, "B1 op 10", "jaws, behind B0 op 10")


@pytest.mark.parametrize(("pieces", "start"), [(100, 0), (101, 200)])
def test_a_run_that_may_not_pause_waits_for_a_stretch_long_enough(pieces: int, start: int) -> None:
    work = (
        ShopBuilder().machine("L1", days(5, (0, 100), (200, 480))).batch("B1", pieces=pieces)
        .op("L1", may_pause=False).build()
    )  # fmt: skip
    queue = [("waits for a long enough stretch", 0, 100), ("closed", 100, 200)] if start else []
    assert kinds(work, "B1") == [*queue, ("own run", start, start + pieces)]


# --- own minutes ---------------------------------------------------------------------------------


def test_setting_and_running_pause_in_closed_time_which_is_the_setter_s_or_the_machine_s() -> None:
    shop = ShopBuilder().machine("L1", SHIFT).person("Ann", "set", days(5, (0, 20)))
    work = shop.batch("B1", pieces=470).op("L1", 30, skill="set").build()
    assert rows(work, timed(work), "B1") == [
        ("own setup", 0, 20, "B1 op 10", "L1"),
        ("closed", 20, 480, "B1 op 10", "Ann"),
        ("closed", 480, 1440, "B1 op 10", "L1"),
        ("own setup", 1440, 1450, "B1 op 10", "L1"),
        ("own run", 1450, 1920, "B1 op 10", "L1"),
    ]


@pytest.mark.parametrize(("limit", "night"), [(0, []), (30, [("own run", 480, 510)])])
def test_a_run_goes_on_alone_as_long_as_it_may_and_the_rest_of_the_night_is_closed(limit: int, night) -> None:
    shop = ShopBuilder().machine("L1", SHIFT, days(5, (480, 900)))
    work = shop.batch("B1", pieces=520).op("L1", unattended_limit_min=limit).build()
    assert kinds(work, "B1") == [
        ("own run", 0, 480 + limit), ("closed", 480 + limit, 1440), ("own run", 1440, 1480 - limit),
    ]  # fmt: skip


def test_a_first_piece_waits_for_its_approver_and_is_approved_in_their_hours() -> None:
    """The approver is at work by hand of another skill until 25, then away from 27 to 40."""
    shop = ShopBuilder().person("Ann", ["check", "fit"], days(5, (0, 27), (40, 480)))
    work = (
        shop.batch("B0", pieces=25).manual("bench", skill="fit")
        .batch("B1", pieces=3).op("L2", cycle=600, first_off_skill="check", first_off_min=5).build()
    )  # fmt: skip
    assert rows(work, timed(work, "B0"), "B1") == [
        ("own run", 0, 10, "B1 op 10", "L2"),
        ("waits for approver", 10, 25, "B1 op 10", "Ann, check, behind B0 op 10"),
        ("first-off", 25, 27, "B1 op 10", "Ann"),
        ("closed", 27, 40, "B1 op 10", "Ann"),
        ("first-off", 40, 43, "B1 op 10", "Ann"),
        ("own run", 43, 63, "B1 op 10", "L2"),
    ]


def test_a_first_piece_at_night_finds_nobody_to_approve_it() -> None:
    shop = ShopBuilder().person("Ann", "check", SHIFT)
    work = shop.batch("B1", pieces=2, release=500).op("L2", first_off_skill="check", first_off_min=5).build()
    assert rows(work, timed(work), "B1")[2] == ("closed", 501, 1440, "B1 op 10", "check")


def test_work_under_way_begins_with_what_is_left_of_it() -> None:
    work = (
        ShopBuilder().machine("L1", SHIFT).batch("B1", pieces=10)
        .op("L1", begun=Begun.RUNNING, begun_machine="L1", pieces_left=4, setup_left_min=7).build()
    )  # fmt: skip
    assert kinds(work, "B1") == [("own setup", 0, 7), ("own run", 7, 11)]


def test_steps_that_are_done_or_take_no_time_are_not_in_the_chain() -> None:
    work = (
        ShopBuilder().batch("B1").op("L1", begun=Begun.DONE).op("L2", pieces_left=0).op("L1", cycle=120).op("L3", cycle=0)
        .build()
    )  # fmt: skip
    assert rows(work, timed(work), "B1") == [("own run", 0, 2, "B1 op 30", "L1")]


# --- from step to step ---------------------------------------------------------------------------


def test_a_move_is_counted_in_its_hours_after_the_elapsed_wait() -> None:
    work = ShopBuilder().machine("L2", SHIFT).batch("B1", pieces=470).op("L1", move_min=15, wait_min=5).op("L2").build()
    assert rows(work, timed(work), "B1")[1:5] == [
        ("elapsed wait", 470, 475, "B1 op 10", ""),
        ("move", 475, 480, "B1 op 20", ""),
        ("closed", 480, 1440, "B1 op 20", ""),
        ("move", 1440, 1450, "B1 op 20", ""),
    ]


@pytest.mark.parametrize(("pieces", "collect", "back"), [(100, 150, 500), (101, 350, 900)])
def test_a_collection_is_waited_for_until_it_leaves_and_the_firm_has_it_until_it_is_back(
    pieces: int, collect: int, back: int
) -> None:
    """The cut-off of the first is at 100."""
    shop = ShopBuilder().service("anodiser", [(100, 150, 500), (300, 350, 900)])
    work = shop.batch("B1", pieces=pieces).op("L1").outside("anodiser", wait_min=20).build()
    assert kinds(work, "B1")[1:] == [
        ("waits for collection", pieces, collect), ("outside", collect, back), ("elapsed wait", back, back + 20),
    ]  # fmt: skip


def test_what_is_away_at_the_plan_start_is_at_the_firm_from_then_on() -> None:
    shop = ShopBuilder().service("anodiser", [(100, 150, 500)])
    work = shop.batch("B1").outside("anodiser", begun=Begun.OUT, back_min=77).op("L1").build()
    assert kinds(work, "B1") == [("outside", 0, 77), ("own run", 77, 78)]


@pytest.mark.parametrize(("first", "second"), [(5, 9), (9, 5)])
def test_the_component_that_comes_last_is_the_earlier_part_of_the_chain(first: int, second: int) -> None:
    work = (
        ShopBuilder().batch("C1", pieces=first).op("L1").batch("C2", pieces=second).op("L2")
        .batch("B1").op("L4").need("B1", 10, "C1").need("B1", 10, "C2").order("O1", "B1", due=9).build()
    )  # fmt: skip
    name, machine = ("C1", "L1") if first > second else ("C2", "L2")
    assert rows(work, timed(work), "O1") == [
        ("own run", 0, 9, f"{name} op 10", machine), ("own run", 9, 10, "B1 op 10", "L4"),
    ]  # fmt: skip


@pytest.mark.parametrize(("pieces", "last"), [(4, "B1 op 10"), (6, "C1 op 10")])
def test_a_later_step_waits_for_its_own_component_or_the_step_before_whichever_comes_last(
    pieces: int, last: str
) -> None:
    work = (
        ShopBuilder().batch("C1", pieces=pieces).op("L1").batch("B1", pieces=5).op("L2").op("L3").need("B1", 20, "C1")
        .build()
    )  # fmt: skip
    assert rows(work, timed(work), "B1")[0][3] == last


@pytest.mark.parametrize(("t1", "t2", "left"), [(6, 4, 690), (4, 6, 170)])
def test_with_a_transfer_quantity_the_chain_leaves_the_giver_when_the_sublot_that_was_waited_for_left_it(
    t1: int, t2: int, left: int
) -> None:
    """100 pieces in sublots of 20, set 90 and moved 15: ready at 785 either way. Recursion of two operations with transfer
    batches, worked by hand; common practice, no source."""
    work = (
        ShopBuilder().batch("B1", pieces=100).op("L1", 90, 60 * t1, transfer_pieces=20, move_min=15).op("L2", 60, 60 * t2)
        .build()
    )  # fmt: skip
    assert rows(work, timed(work), "B1") == [
        ("own setup", 0, 90, "B1 op 10", "L1"), ("own run", 90, left, "B1 op 10", "L1"),
        ("move", left, left + 15, "B1 op 20", ""), ("own run", left + 15, 785, "B1 op 20", "L2"),
    ]  # fmt: skip


@pytest.mark.parametrize("busy", [5, 10, 11])
def test_a_setup_ahead_is_in_the_chain_only_where_it_kept_the_pieces_waiting(busy: int) -> None:
    """L1 runs to 20; the setup of 10 on L2 can be from ``busy`` on, when B0 is through there."""
    work = (
        ShopBuilder().batch("B0", pieces=busy).op("L2").batch("B1", pieces=20).op("L1").op("L2", 10, setup_ahead=True)
        .build()
    )  # fmt: skip
    found = kinds(work, "B1", "B0")
    if busy <= 10:
        assert found == [("own run", 0, 20), ("own run", 20, 40)]
    else:
        assert found == [("own run", 0, 11), ("own setup", 11, 21), ("own run", 21, 41)]


# --- dates -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("at", "part"), [(4, []), (5, []), (6, [("waits for receipt", 5, 6)])])
def test_bought_material_is_waited_for_from_when_the_rest_was_there(at: int, part) -> None:
    work = ShopBuilder().batch("B1", pieces=5).op("L1").op("L2").need("B1", 20, at=at).build()
    assert kinds(work, "B1") == [("own run", 0, 5), *part, ("own run", max(5, at), max(5, at) + 5)]


def test_a_decision_and_a_start_held_back_are_told_apart() -> None:
    work = ShopBuilder().batch("B1", pieces=5).op("L1", not_before_min=30).build()
    assert kinds(work, "B1", hold={"B1": 77}) == [
        ("held by decision", 0, 30),
        ("held back on purpose", 30, 77),
        ("own run", 77, 82),
    ]


def test_the_latest_date_takes_all_the_minutes_before_it() -> None:
    work = ShopBuilder().batch("B1", pieces=5, release=10).op("L1", not_before_min=30).need("B1", 10, at=20).build()
    assert kinds(work, "B1")[0] == ("held by decision", 0, 30)


def test_what_lies_for_a_set_time_is_an_elapsed_wait() -> None:
    work = ShopBuilder().batch("B1", pieces=5).op("L1").wait(30).op("L1").build()
    assert kinds(work, "B1") == [("own run", 0, 5), ("elapsed wait", 5, 35), ("own run", 35, 40)]


# --- orders ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("at", "first"), [(9, "own run"), (10, "own run"), (11, "waits for receipt")])
def test_an_order_with_a_receipt_waits_for_whichever_comes_last(at: int, first: str) -> None:
    work = ShopBuilder().batch("B1", pieces=10).op("L1").order("O1", "B1", due=10, receipt_at=at).build()
    found = rows(work, timed(work), "O1")
    assert found[0][0] == first and found[-1][2] == max(10, at)


def test_an_order_follows_the_last_of_its_batches() -> None:
    work = (
        ShopBuilder()
        .batch("B1", pieces=3)
        .op("L1")
        .batch("B2", pieces=4)
        .op("L2")
        .order("O1", "B1", "B2", due=9)
        .build()
    )
    assert [row[3] for row in rows(work, timed(work), "O1")] == ["B2 op 10"]
