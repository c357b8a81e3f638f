"""From when on there is a need to start an operation, and when it has to start at the latest."""

from __future__ import annotations

from dataclasses import replace

import pytest
from builders import ShopBuilder, as_plan, at, days
from random_shops import random_work

from planner.answers.leeway import Room, Rooms
from planner.answers.lists import machine_lists
from planner.plan import Plan
from planner.search import search, start_later
from planner.timetable import Timetable
from planner.work import Begun, Kind, Work


def timed(work: Work) -> Plan:
    table = Timetable(work)
    assert table.time(table.repaired([])) == 0
    return as_plan(work, table)


def chain(**fields) -> Work:
    """Ten minutes on L1, five to move it, twenty on L2; due at 1,000; a bought part for L2 comes at 50."""
    return (
        ShopBuilder(**fields).batch("B1", pieces=10).op("L1", move_min=5).op("L2", cycle=120).need("B1", 20, at=50)
        .order("O1", "B1", due=1000).build()
    )  # fmt: skip


@pytest.mark.parametrize(
    ("safety", "first", "second"),
    [(0, (965, 965), (980, 980)), (100, (865, 965), (880, 980)), (929, (36, 965), (51, 980)), (931, (34, 965), (50, 980)),
     (970, (0, 965), (50, 980))],
)  # fmt: skip
def test_the_latest_less_the_safety_time_but_not_before_all_is_there(
    safety: int, first: tuple[int, int], second: tuple[int, int]
) -> None:
    work = chain(safety_min=safety)
    room = Rooms(work, timed(work)).of([0, 1])
    assert room == {0: Room(*first), 1: Room(*second)}


def test_the_safety_time_is_counted_in_the_hours_of_the_shop() -> None:
    """Due at 10:00 on Tuesday, ten minutes' work, 4 hours of safety: 15:50 on Monday in a shop open 8:00 to 16:00."""
    shift = days(9, (0, 480))
    work = (
        ShopBuilder(safety_min=240).calendar("day", shift, shop=True).machine("L1", shift)
        .batch("B1", pieces=10).op("L1").order("O1", "B1", due=1440 + 120).build()
    )  # fmt: skip
    assert Rooms(work, timed(work)).of([0])[0] == Room(480 - 130, 1440 + 110)


def test_outside_work_has_to_be_ready_for_its_last_collection() -> None:
    work = (
        ShopBuilder(safety_min=0).service("plating", [(100, 150, 500), (200, 250, 600), (300, 350, 700)])
        .batch("B1").op("L1").outside("plating").order("O1", "B1", due=699).build()
    )  # fmt: skip
    plan = timed(work)
    assert plan.step_of()[1].trip == 0
    assert Rooms(work, plan).of([0, 1]) == {0: Room(199, 199), 1: Room(200, 200)}


def test_a_late_order_leaves_no_room_and_work_under_way_has_none() -> None:
    work = (
        ShopBuilder().batch("B1", pieces=10).op("L1", begun=Begun.RUNNING, begun_machine="L1").op("L2")
        .order("O1", "B1", due=5).build()
    )  # fmt: skip
    assert Rooms(work, timed(work)).of([0, 1]) == {1: Room(10, 10)}


def test_a_plan_altered_by_hand_shows_no_room() -> None:
    work = chain()
    plan = timed(work)
    assert len(Rooms(work, plan).of([0, 1])) == 2
    altered = replace(plan, steps=(replace(plan.steps[0], waited_for="person"), plan.steps[1]))
    assert Rooms(work, altered).of([0, 1]) == {}


def test_lists_show_the_room_of_each_line() -> None:
    work = chain(safety_min=100)
    lines = machine_lists(work, timed(work))
    assert [(t.no_need_before_min, t.start_min, t.at_the_latest_min) for t in lines] == [(865, 0, 965), (880, 50, 980)]
    assert lines[0].at_the_latest == "Tue 24 Mar 2026 00:05"
    assert at(work, "B1", 10).index == 0


def test_the_plan_is_never_after_the_latest_and_the_need_never_after_it_either() -> None:
    for number in range(340, 380):
        work = random_work(number)
        plan = start_later(work, search(work, trials=1))
        steps = plan.step_of()
        for op, room in Rooms(work, plan).of(list(steps)).items():
            assert 0 <= room.no_need_before <= room.latest
            assert steps[op].start <= room.latest or work.operations[op].kind is Kind.OUTSIDE
