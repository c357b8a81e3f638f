"""A plan has one readable step for every operation still to be done, and is for this work."""

from __future__ import annotations

from dataclasses import replace

import pytest
from builders import ShopBuilder, as_plan, broken, plan, step

from planner.plan import Bound, Burst, Cost, Plan, State, Stint
from planner.timetable import Timetable
from planner.verify import verify
from planner.work import Begun, Work


@pytest.fixture
def work() -> Work:
    return (
        ShopBuilder()
        .service("plate", [(100, 120, 500)])
        .batch("B1", pieces=2).op("L1", begun=Begun.DONE).op("L1").op("L1").outside("plate")
        .build()
    )  # fmt: skip


@pytest.fixture
def good(work: Work) -> Plan:
    return plan(
        work,
        step(work, "B1", 20, "L1", run=(0, 2)),
        step(work, "B1", 30, "L1", run=(2, 4)),
        step(work, "B1", 40, start=4, trip=0, run=(120, 500)),
    )


def rules(work: Work, made: Plan) -> set[str]:
    return {breach.rule for breach in verify(work, made)}


def test_a_plan_without_fault_has_no_breach(work: Work, good: Plan) -> None:
    assert verify(work, good) == []


def test_a_missing_step_is_named(work: Work, good: Plan) -> None:
    found = verify(work, replace(good, steps=good.steps[:2]))
    assert [b.message for b in found if b.rule == "complete"] == ["batch B1 operation 40 is to be done"]


def test_a_step_planned_twice_is_named(work: Work, good: Plan) -> None:
    found = verify(work, replace(good, steps=(*good.steps, good.steps[2])))
    assert [(b.rule, b.found) for b in found] == [("complete", "2 steps")]


def test_a_step_of_a_finished_operation_is_a_breach(work: Work, good: Plan) -> None:
    done = replace(good.steps[0], operation=0)
    assert "complete" in rules(work, replace(good, steps=(done, *good.steps)))


def test_a_plan_for_other_data_is_a_breach(work: Work, good: Plan) -> None:
    assert rules(work, replace(good, fingerprint="0" * 64)) == {"complete"}


def test_steps_out_of_order_are_a_breach(work: Work, good: Plan) -> None:
    assert rules(work, replace(good, steps=good.steps[::-1])) == {"complete"}


@pytest.mark.parametrize("sequence", [(1, 1, 2), (1, 2, 4), (-1, 2), (None,), ([],)])
def test_a_list_with_an_operation_twice_or_unknown_is_a_breach(work: Work, good: Plan, sequence: tuple) -> None:
    assert rules(work, replace(good, sequence=sequence)) == {"complete"}


@pytest.mark.parametrize(
    "fields",
    [
        {"operation": 99}, {"operation": -1}, {"operation": "2"}, {"machine": 5}, {"machine": -1}, {"start": None}, {"start": 1.5},
        {"end": True}, {"setup": None}, {"setup": ((0, 0, 5),)}, {"setup": (Stint(7, 0, 5),)}, {"stints": (Stint(-2, 0, 5),)},
        {"bursts": (Burst(0, "x"),)}, {"first_off": 3}, {"trip": 1.0},
    ],
)  # fmt: skip
def test_a_step_that_cannot_be_read_is_a_breach_and_no_error(work: Work, good: Plan, fields: dict) -> None:
    wrong = replace(good.steps[0], **fields)
    assert "complete" in rules(work, replace(good, steps=(wrong, *good.steps[1:])))


@pytest.mark.parametrize("trip", [-1, 1])
def test_a_collection_that_there_is_not_is_a_breach(work: Work, good: Plan, trip: int) -> None:
    wrong = replace(good.steps[2], trip=trip)
    assert "complete" in rules(work, replace(good, steps=(*good.steps[:2], wrong)))


def test_something_that_is_no_step_is_a_breach(work: Work, good: Plan) -> None:
    assert rules(work, replace(good, steps=(*good.steps, None))) == {"complete"}


@pytest.mark.parametrize("state", [State.IMPOSSIBLE, State.NOTHING])
def test_only_a_plan_that_says_there_is_none_may_be_empty(work: Work, good: Plan, state: State) -> None:
    empty = replace(good, steps=(), sequence=(), cost=Cost(0, 0, 0, 0, 0))
    assert verify(work, replace(empty, state=state)) == []
    assert rules(work, empty) == {"complete"}
    assert "complete" in rules(work, replace(good, steps=good.steps[:1], state=state))


def test_minutes_beyond_every_calendar_are_a_breach_and_no_error(work: Work, good: Plan) -> None:
    far = replace(good.steps[1], start=10**30, run_start=10**30, run_end=10**30 + 2, end=10**30 + 2)
    assert rules(work, replace(good, steps=(good.steps[0], far, good.steps[2]))) != set()


def test_cost_and_bound_that_are_no_numbers_are_a_breach_and_no_error(work: Work, good: Plan) -> None:
    assert rules(work, replace(good, cost=replace(good.cost, late=None))) == {"bound", "cost"}
    assert rules(work, replace(good, bound=Bound(None, "none"))) == {"bound"}  # type: ignore[arg-type]


def test_a_work_without_operations_has_an_empty_good_plan() -> None:
    work = ShopBuilder().build()
    assert broken(work) == []


def test_hand_work_of_no_length_is_one_moment() -> None:
    """The bench is set for the part already, and nothing is to be done: no stint says when, so all its moments are the same."""
    shop = ShopBuilder().person("Ann", "fit")
    for name in "AB":
        shop.batch(name, part="P").manual("bench", 0, skill="fit", setup=15)
    work = shop.order("O", "A", "B", due=0).build()
    table = Timetable(work)
    table.time([0, 1])
    made = as_plan(work, table)
    assert verify(work, made) == []
    first, second = made.steps
    assert (second.start, second.run_start, second.run_end, second.stints) == (15, 15, 15, ())
    late = replace(made, steps=(first, replace(second, run_start=700, run_end=999, end=999)))
    assert any("one moment" in breach.expected for breach in verify(work, late))
