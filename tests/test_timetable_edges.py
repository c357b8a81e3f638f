"""Corners of the timing rules that random shops once fell into, each as small as it gets."""

from __future__ import annotations

import pytest
from builders import DAY, ShopBuilder, at, days

from planner.plan import Step
from planner.search import search
from planner.timetable import Timetable
from planner.verify import verify
from planner.work import Begun, Work

HOURS = days(5, (0, 240), (270, 510))


def steps(work: Work) -> dict[tuple[str, int], Step]:
    """The steps of a plan that passes the verifier, by batch and number."""
    plan = search(work, trials=20)
    assert verify(work, plan) == []
    return {
        (work.batches[work.operations[s.operation].batch].name, work.operations[s.operation].number): s
        for s in plan.steps
    }


def test_what_is_over_of_a_minute_waits_for_the_next_sublot() -> None:
    """Five pieces of 20 s in sublots of 2, 2, 1: at 2 min (3 x 90 s rounded up), 6 and 8: the last minute needs the last piece."""
    shop = ShopBuilder().batch("B1", pieces=5)
    shop.op("giver", 0, 90, transfer_pieces=2).op("taker", 0, 20)
    taker = steps(shop.order("O1", "B1", due=0).build())["B1", 20]
    assert taker.bursts[-1].start == 8
    assert taker.run_end == 9


def test_pieces_used_up_in_setting_bring_no_cycles() -> None:
    """Eleven pieces of 700 s in sublots of 5, 5, 1 for a step that sets with one: ten cycles of a minute, of which the first
    sublot (at 59 min) brings four, the second (at 117) nine, and the last (at 129) the tenth."""
    shop = ShopBuilder().batch("B1", pieces=11)
    shop.op("giver", 0, 700, transfer_pieces=5).op("taker", 0, 60, pieces=10)
    taker = steps(shop.order("O1", "B1", due=0).build())["B1", 20]
    assert [(b.start, b.run_min_before) for b in taker.bursts] == [(59, 0), (117, 4), (129, 9)]
    assert taker.run_end == 130


def test_a_sublot_all_of_which_is_used_up_in_setting_begins_no_run() -> None:
    """Twelve pieces of 60 s in sublots of 2 for a step that sets with two: the run begins with the second."""
    shop = ShopBuilder().batch("B1", pieces=12)
    shop.op("giver", 0, 60, transfer_pieces=2).op("taker", 0, 60, pieces=10)
    taker = steps(shop.order("O1", "B1", due=0).build())["B1", 20]
    assert (taker.run_start, taker.run_end) == (4, 14)


def test_a_run_of_one_minute_with_a_first_off_waits_for_all_its_sublots() -> None:
    shop = ShopBuilder().person("Ann", "check").batch("B1", pieces=4)
    shop.op("giver", 0, 600, transfer_pieces=2).op("taker", 0, 15, first_off_skill="check", first_off_min=5)
    taker = steps(shop.order("O1", "B1", due=0).build())["B1", 20]
    assert (taker.run_start, taker.run_end) == (40, 46)


def test_a_first_cycle_to_be_approved_is_rounded_up_as_a_whole() -> None:
    """90 s are two minutes before the approval though the next piece is not there yet."""
    shop = ShopBuilder().person("Ann", "check").batch("B1", pieces=4)
    shop.op("giver", 0, 600, transfer_pieces=1).op("taker", 0, 90, first_off_skill="check", first_off_min=3)
    taker = steps(shop.order("O1", "B1", due=0).build())["B1", 20]
    assert taker.first_off is not None
    assert (taker.run_start, taker.first_off.cycle_end, taker.first_off.end) == (10, 12, 15)
    assert taker.bursts[-1].start == 40


def test_hand_work_whose_setting_is_skipped_and_that_has_no_run_takes_no_time() -> None:
    """The second batch of the same part finds the bench set and has no cycle time."""
    shop = ShopBuilder().person("Cy", "fit").batch("B1", part="P").manual("bench", 0, skill="fit", setup=15)
    shop.batch("B2", part="P").manual("bench", 0, skill="fit", setup=15)
    found = steps(shop.order("O1", "B1", due=0).order("O2", "B2", due=0).build())
    assert sorted((s.start, s.run_end, len(s.stints)) for s in found.values()) == [(0, 15, 1), (15, 15, 0)]


def test_begun_work_with_nothing_left_holds_no_machine() -> None:
    shop = ShopBuilder().batch("B1", pieces=5)
    shop.op("mill", 20, 60, begun=Begun.RUNNING, begun_machine="mill", pieces_left=0, wait_min=30).op("saw", 0, 60)
    found = steps(shop.order("O1", "B1", due=0).build())
    assert (found["B1", 10].machine, found["B1", 10].run_end) == (None, 0)
    assert found["B1", 20].start == 30


def test_a_giver_with_nothing_left_gives_no_sublots() -> None:
    """All its pieces come together, after its wait."""
    shop = ShopBuilder().batch("B1", pieces=6)
    shop.op("mill", 0, 60, begun=Begun.RUNNING, begun_machine="mill", pieces_left=0, wait_min=90, transfer_pieces=2)
    shop.op("saw", 0, 60)
    assert steps(shop.order("O1", "B1", due=0).build())["B1", 20].start == 90


@pytest.mark.parametrize(("cycle", "start"), [(60, 2017), (0, DAY * 2 + 15)])
def test_a_move_to_a_step_without_length_counts_in_the_shop_s_hours(cycle: int, start: int) -> None:
    """With length: 15 attended minutes of the bench, open round the clock; without: of the shop, from Wednesday 08:00."""
    shop = ShopBuilder().calendar("shop", HOURS, shop=True).person("Cy", "fit")
    shop.batch("B1", release=2000).op("mill", 0, 120, move_min=15).manual("bench", cycle, skill="fit")
    assert steps(shop.order("O1", "B1", due=0).build())["B1", 20].start == start


def test_the_last_step_may_have_the_most_sublots() -> None:
    """A hundred sublots into the last operation of all: there is room for each of its bursts."""
    shop = ShopBuilder().batch("B1", pieces=100)
    shop.op("giver", 0, 600, transfer_pieces=1).op("taker", 0, 60)
    work = shop.order("O1", "B1", due=0).build()
    assert len(steps(work)["B1", 20].bursts) == 100
    table = Timetable(work)
    assert at(work, "B1", 20).index == len(table.data.op) - 1


def test_what_has_no_length_is_on_no_machine_though_it_found_no_place() -> None:
    """Behind a step that never finds hours stands one without a minute of work; it must not count as the bench's last."""
    shop = (
        ShopBuilder()
        .machine("M1", days(1, (0, 60)))
        .person("Cy", "fit")
        .batch("B1")
        .op("M1", 0, 60 * 90, may_pause=False)
    )
    shop.manual("bench", 0, skill="fit").batch("B2").manual("bench", 600, skill="fit")
    work = shop.order("O1", "B1", due=0).order("O2", "B2", due=0).build()
    table = Timetable(work)
    assert table.time([0, 1, 2]) == 2
    assert table.state.on[1] == -1
    assert table.state.prev[2] == -1
