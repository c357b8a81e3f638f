"""State, pieces and scrap of the steps of begun batches."""

from __future__ import annotations

from datetime import date, datetime

import pytest
from explode_shops import machine_step, manual_step, open_batch, order, outside_step, part, shop

from planner.explode import explode
from planner.faults import DataFaults
from planner.shop import Progress
from planner.work import Begun, Operation, Work

STEPS = (
    machine_step(10, setting_pieces=1),
    machine_step(20, "LATHE2"),
    manual_step(30, sample_pieces=20),
    outside_step(40),
)


def begun(*progress: Progress, quantity: int = 100) -> Work:
    return explode(shop((), routings={"P": STEPS}, batches=(open_batch("B1", "P", quantity, progress=progress),)))


def pieces(work: Work) -> list[tuple[int, int]]:
    return [(op.pieces, op.pieces_left) for op in work.operations]


def states(work: Work) -> list[Begun]:
    return [op.begun for op in work.operations]


def test_nothing_begun_leaves_all_pieces_at_every_step() -> None:
    assert pieces(begun()) == [(100, 100), (100, 100), (20, 20), (100, 100)]
    assert states(begun()) == [Begun.NO] * 4


def test_scrap_is_missing_at_its_own_step_and_all_later_ones() -> None:
    """60 good and 4 scrapped of 100 at step 10: 36 left there, 96 come on."""
    work = begun(Progress(10, "part", good=60, scrap=4))
    assert pieces(work) == [(100, 36), (96, 96), (20, 20), (96, 96)]


def test_scrap_of_several_steps_adds_up() -> None:
    work = begun(Progress(10, "done", good=90, scrap=10), Progress(20, "running", machine="LATHE2", good=30, scrap=75))
    assert pieces(work) == [(100, 0), (90, 0), (15, 15), (15, 15)]


def test_more_done_than_planned_leaves_nothing_and_never_less() -> None:
    assert pieces(begun(Progress(10, "part", good=105)))[0] == (100, 0)


def test_setting_pieces_of_later_steps_go_through_the_earlier_ones() -> None:
    steps = (machine_step(10), machine_step(20, setting_pieces=3), machine_step(30, setting_pieces=2))
    open_ = open_batch("B1", "P", 50, progress=(Progress(10, "done", good=54, scrap=1),))
    work = explode(shop((), routings={"P": steps}, batches=(open_,)))
    assert pieces(work) == [(55, 0), (51, 51), (49, 49)]
    assert work.batches[0].setting_pieces == 5


def test_steps_before_a_begun_one_are_done_unless_a_row_says_otherwise() -> None:
    assert states(begun(Progress(30, "part", good=3)))[:3] == [Begun.DONE, Begun.DONE, Begun.PART]
    between = begun(Progress(10, "done"), Progress(30, "part", good=3))
    assert states(between)[:3] == [Begun.DONE, Begun.DONE, Begun.PART]
    overlap = begun(
        Progress(10, "running", machine="LATHE", good=60), Progress(20, "running", machine="LATHE2", good=20)
    )
    assert states(overlap)[:2] == [Begun.RUNNING, Begun.RUNNING]
    assert pieces(overlap)[:2] == [(100, 40), (100, 80)]


def test_a_running_step_keeps_machine_person_setting_left_and_first_off() -> None:
    op = begun(Progress(20, "running", "LATHE2", "Ann", 12, True, good=5)).operations[1]
    machine = sorted(("LATHE", "LATHE2", "BENCH")).index("LATHE2")
    assert (op.begun_machine, op.begun_person, op.setup_left_min, op.first_off_passed) == (machine, 0, 12, True)


def test_setting_left_counts_only_while_running() -> None:
    assert begun(Progress(20, "part", setup_left_min=12)).operations[1].setup_left_min == 0


def out(collected: datetime) -> tuple[Operation, Work]:
    work = begun(Progress(40, "out", collected=collected))
    return work.operations[3], work


def test_work_at_the_outside_firm_is_back_by_its_rule() -> None:
    """Collected Thursday 19 March 15:00, five working days: ready Thursday 26th 15:00, back Tuesday 31st 10:00."""
    op, work = out(datetime(2026, 3, 19, 15))
    assert (op.begun, str(work.local(op.back_min))) == (Begun.OUT, "2026-03-31 10:00:00+01:00")
    assert work.assumptions == ("Open batch B1 feeds no order: planned, with no due date.",)


def test_overdue_work_comes_with_the_next_delivery_and_is_said() -> None:
    """Collected Tuesday 10 March: due back Thursday 19th, before the plan starts on Monday 23rd."""
    op, work = out(datetime(2026, 3, 10, 15))
    assert str(work.local(op.back_min)) == "2026-03-24 10:00:00+00:00"
    assert (
        "Batch B1 operation 40 should be back from Bright already: taken to come with the next delivery."
        in work.assumptions
    )


def test_work_that_is_never_back_within_the_calendars_is_a_fault() -> None:
    with pytest.raises(DataFaults, match="a delivery from Bright within the known calendars"):
        out(datetime(2026, 6, 29, 15))


def test_an_order_takes_what_was_not_scrapped_of_a_finished_batch_only() -> None:
    """A batch whose last step counts more good pieces than the allowance foresaw gives them all."""
    open_ = open_batch("B1", "P", 100, progress=(Progress(10, "running", machine="LATHE", good=99),))
    work = explode(shop((), (part("P", yield_percent=90.0),), batches=(open_,)))
    assert work.batches[0].good_expected == 99
    assert work.batches[0].release_min == 0


def test_two_running_on_one_machine_is_a_fault_that_names_both() -> None:
    row = (Progress(10, "running", machine="LATHE"),)
    batches = (open_batch("B1", "P", 5, progress=row), open_batch("B2", "P", 5, progress=row))
    with pytest.raises(
        DataFaults, match=r"LATHE.*one running operation on it, not B1 operation 10 and B2 operation 10"
    ):
        explode(shop(batches=batches))


def test_done_and_torn_down_work_may_name_the_machine_that_runs_another() -> None:
    """The machine of a row counts only while it runs there."""
    batches = [
        open_batch(f"B{n}", "P", 5, progress=(Progress(10, state, machine="LATHE", good=1),))
        for n, state in enumerate(("done", "part", "running"))
    ]
    work = explode(shop(batches=tuple(batches)))
    assert states(work) == [Begun.DONE, Begun.PART, Begun.RUNNING]


def test_running_on_a_machine_that_cannot_do_it_is_a_fault() -> None:
    with pytest.raises(DataFaults, match="B1 operation 10: BENCH"):
        begun(Progress(10, "running", machine="BENCH"))


def test_a_begun_batch_ignores_a_material_date_to_come() -> None:
    open_ = open_batch("B1", "P", 5, material_date=date(2026, 4, 20), progress=(Progress(10, "part", good=1),))
    assert explode(shop(batches=(open_,))).batches[0].release_min == 0


@pytest.mark.parametrize("state", ["part", "done"])
def test_a_batch_that_is_scrapped_wholly_has_nothing_left_to_plan(state: str) -> None:
    """No setups for no pieces; its order gets a new batch."""
    open_ = open_batch("B1", "P", 10, order="C1", progress=(Progress(10, state, scrap=10),))
    work = explode(
        shop((order("C1", "P", 10),), routings={"P": (machine_step(10), machine_step(20))}, batches=(open_,))
    )
    assert {b.name: {work.operations[i].begun for i in b.operations} for b in work.batches} == {
        "B1": {Begun.DONE},
        "C1-1": {Begun.NO},
    }
    assert "Open batch B1 has no good pieces to count on." in work.assumptions


def test_a_torn_down_step_with_all_pieces_through_is_done_and_a_running_one_still_runs() -> None:
    assert states(begun(Progress(10, "part", good=98, scrap=2)))[0] == Begun.DONE
    assert states(begun(Progress(10, "part", good=97, scrap=2)))[0] == Begun.PART
    running = begun(Progress(10, "running", machine="LATHE", good=98, scrap=2)).operations[0]
    assert (running.begun, running.pieces_left) == (Begun.RUNNING, 0)


def test_a_batch_on_its_way_is_counted_on_for_its_yield_and_no_more() -> None:
    """Half done: 100 at 50 % bring 50, however many are still alive; with 60 scrapped only 40 are."""

    def good(scrap: int) -> int:
        open_ = open_batch("B1", "P", 100, progress=(Progress(10, "done", scrap=scrap),))
        steps = {"P": (machine_step(10), machine_step(20))}
        return explode(shop((), (part("P", yield_percent=50.0),), steps, batches=(open_,))).batches[0].good_expected

    assert [good(0), good(50), good(60)] == [50, 50, 40]


def test_nothing_is_set_for_a_batch_that_is_all_scrapped() -> None:
    """Though a later step would use up pieces in its setting."""
    routing = (machine_step(10), machine_step(20), machine_step(30, setting_pieces=2))
    batch = open_batch("B1", "P", 10, progress=(Progress(10, "done", good=0, scrap=12),))
    work = explode(shop((), routings={"P": routing}, batches=(batch,)))
    assert states(work) == [Begun.DONE] * 3
