"""Starts held back: nothing is lost by it, each rule from both sides of its edge, and always the same."""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from builders import ShopBuilder, as_plan, at, days
from hypothesis import given, settings
from hypothesis import strategies as st
from intake_folders import Folder, add
from random_shops import decided, random_work

from planner.answers.feeds import batch_end, order_finish
from planner.main_job import make_plan, read_work
from planner.plan import Plan
from planner.search import later, search, start_later
from planner.search.holding import hold_starts
from planner.search.later import Leeway, timed_again
from planner.timetable import Timetable
from planner.verify import verify
from planner.work import Begun, Kind, Work

SHOPS = st.integers(0, 100_000)
DAY = days(60, (0, 480))


def first_plan(work: Work) -> Plan:
    return search(work, trials=1)


def timed(work: Work) -> Plan:
    """All in the order of the operations, on the machine that ends soonest."""
    table = Timetable(work)
    assert table.time(table.repaired([])) == 0
    return as_plan(work, table)


def held(work: Work, plan: Plan) -> dict[str, int]:
    """Minute by batch and step, of all that is held back."""
    names = {s.operation: work.operations[s.operation] for s in plan.steps}
    return {
        f"{work.batches[names[s.operation].batch].name}/{names[s.operation].number}": s.held_until
        for s in plan.steps if s.held_until is not None
    }  # fmt: skip


def finishes(work: Work, plan: Plan) -> list[int]:
    ends = [order_finish(work, plan.step_of(), order) for order in work.orders]
    assert None not in ends
    return [end for end in ends if end is not None]


# --- what every shop keeps to ------------------------------------------------------------------


@settings(max_examples=60)
@given(number=SHOPS, safety=st.sampled_from([0, 60, 960]))
def test_nothing_is_lost_by_holding_starts_back(number: int, safety: int) -> None:
    """Allowed by every rule, no tier of the cost higher, no order later unless it stays the safety time before its due,
    no component less than that before its use."""
    work = replace(random_work(number), safety_min=safety)
    plan = first_plan(work)
    later = start_later(work, plan)
    assert verify(work, later) == []
    assert later.cost.first <= plan.cost.first
    assert later.cost.second <= plan.cost.second
    hours = Leeway(timed_again(work, plan))
    for order, was, now in zip(work.orders, finishes(work, plan), finishes(work, later), strict=True):
        assert now <= max(was, hours.sooner(order.due_min))
    before, after = plan.step_of(), later.step_of()
    for need in work.needs:
        if need.batch is not None and need.operation in after:
            was_end, end = batch_end(work, before, need.batch), batch_end(work, after, need.batch)
            assert was_end is not None and end is not None
            assert end <= max(was_end, hours.sooner(after[need.operation].start))


@settings(max_examples=60)
@given(number=SHOPS)
def test_only_free_first_steps_are_held_and_no_less_than_half_a_day(number: int) -> None:
    work = decided(random_work(number), random.Random(number))
    plan = first_plan(work)
    later = start_later(work, plan)
    assert verify(work, later) == []
    for step in later.steps:
        op = work.operations[step.operation]
        if step.held_until is None:
            continue
        own = [work.operations[i] for i in work.batches[op.batch].operations]
        assert op is own[0] and all(o.begun is Begun.NO for o in own)
        assert (op.pin_machine, op.pin_person, op.not_before_min) == (None, None, 0)
        assert step.start == step.held_until or op.kind is Kind.OUTSIDE


@settings(max_examples=40)
@given(number=SHOPS)
def test_the_same_plan_gives_the_same_again(number: int) -> None:
    work = random_work(number)
    plan = first_plan(work)
    once, twice = start_later(work, plan), start_later(work, plan)
    assert (once.steps, once.cost, once.sequence) == (twice.steps, twice.cost, twice.sequence)


@settings(max_examples=30)
@given(number=SHOPS, after=st.integers(0, 3))
def test_stopped_early_the_plan_is_still_allowed(number: int, after: int) -> None:
    work = random_work(number)
    asked = []

    def stop() -> bool:
        asked.append(None)
        return len(asked) > after

    assert verify(work, start_later(work, first_plan(work), stop=stop)) == []


def _not_before(work: Work, op: int, minute: int) -> Work:
    later = [replace(o, not_before_min=minute) if o.index == op else o for o in work.operations]
    return replace(work, operations=tuple(later))


@settings(max_examples=60)
@given(number=SHOPS)
def test_what_starts_at_the_latest_makes_nothing_late(number: int) -> None:
    """Each operation alone, timed again with the whole list. A begun step is never held back: its start is moved instead."""
    work = random_work(number)
    plan = first_plan(work)
    limits = [max(end, o.due_min) for o, end in zip(work.orders, finishes(work, plan), strict=True)]
    table = timed_again(work, plan)
    sequence, choice = table.list.copy(), table.choice.copy()
    free = [s.operation for s in plan.steps if work.operations[s.operation].begun in (Begun.NO, Begun.PART)]
    latest = Leeway(table).latest(np.array(free, np.int64))
    for op, minute in zip(free, latest.tolist(), strict=True):
        again = Timetable(_not_before(work, op, minute) if work.operations[op].begun is Begun.PART else work)
        until = np.zeros(len(work.operations), np.int64)
        until[op] = minute
        again.hold(until)
        assert again.time(sequence, choice) == 0
        made = replace(plan, steps=again.steps())
        assert all(end <= limit for end, limit in zip(finishes(work, made), limits, strict=True))
        assert made.step_of()[op].start >= minute or work.operations[op].kind is Kind.OUTSIDE
        assert minute >= plan.step_of()[op].start or work.operations[op].kind is Kind.OUTSIDE


def test_looking_at_leeway_changes_nothing() -> None:
    for number in range(300, 330):
        work = random_work(number)
        plan = first_plan(work)
        table = timed_again(work, plan)
        free = np.array([s.operation for s in plan.steps if work.operations[s.operation].begun is Begun.NO], np.int64)
        Leeway(table).latest(free)
        assert table.steps() == plan.steps


# --- by hand -----------------------------------------------------------------------------------


def one(due: int, safety: int, pieces: int = 60) -> Work:
    """An hour's work on a day's shift of 8 hours from minute 0, due some minutes from the plan start."""
    return (
        ShopBuilder(safety_min=safety).calendar("day", DAY, shop=True)
        .machine("M1", DAY).batch("B1", pieces=pieces).op("M1", cycle=60).order("O1", "B1", due=due)
        .build()
    )  # fmt: skip


@pytest.mark.parametrize(
    ("safety", "start"),
    [(0, 7 * 1440 + 60), (1, 7 * 1440 + 59), (60, 7 * 1440), (61, 4 * 1440 + 420), (480, 4 * 1440 + 60)],
)
def test_a_lone_batch_ends_the_safety_time_before_it_is_due(safety: int, start: int) -> None:
    """Due two hours into the second Monday: an hour's run has to start an hour in, less the safety time in working hours;
    but not on Friday with the rest on Monday, which would be longer in progress."""
    work = one(7 * 1440 + 120, safety)
    later = start_later(work, timed(work))
    assert held(work, later) == {"B1/10": start}
    assert later.steps[0].start == start
    assert later.steps[0].waited_for == "held back"


@pytest.mark.parametrize(("due", "is_held"), [(779, False), (780, True)])
def test_less_than_half_a_day_is_not_worth_while(due: int, is_held: bool) -> None:
    """The shop is open round the clock: a run of an hour that is due after 780 minutes can wait for 720."""
    work = ShopBuilder(safety_min=0).machine("M1").batch("B1", pieces=60).op("M1").order("O1", "B1", due=due).build()
    assert bool(held(work, start_later(work, timed(work)))) == is_held


def test_a_late_order_and_what_feeds_none_are_left_alone() -> None:
    work = (
        ShopBuilder(safety_min=0).machine("M1").machine("M2").batch("B1", pieces=60).op("M1").order("O1", "B1", due=59)
        .batch("B2", pieces=60).op("M2").build()
    )  # fmt: skip
    assert held(work, start_later(work, timed(work))) == {}


@pytest.mark.parametrize(("safety", "start"), [(0, 2880), (1, 2879), (600, 2280)])
def test_a_first_step_waits_for_its_turn_at_a_full_machine(safety: int, start: int) -> None:
    """B2's second step waits for M2 until 3,000, an order that is late keeps its finish: sawn two hours before, less the
    safety time."""
    work = (
        ShopBuilder(safety_min=safety).machine("M1").machine("M2")
        .batch("B1", pieces=3000).op("M2").order("O1", "B1", due=3000)
        .batch("B2", pieces=120).op("M1").op("M2").order("O2", "B2", due=3000)
        .build()
    )  # fmt: skip
    plan = timed(work)
    later = start_later(work, plan)
    assert held(work, later) == {"B2/10": start}
    assert later.cost.late == plan.cost.late == 120
    assert later.cost.wip == plan.cost.wip - start


@pytest.mark.parametrize(("safety", "component", "parent"), [(0, 4820, 4880), (100, 4620, 4780)])
def test_a_component_is_there_the_safety_time_before_its_parent(safety: int, component: int, parent: int) -> None:
    """The parent runs two hours to 5,000 less the safety time, and its component an hour, ending that before."""
    work = (
        ShopBuilder(safety_min=safety).machine("M1").machine("M2")
        .batch("C", pieces=60).op("M1").batch("P", pieces=120).op("M2").need("P", 10, "C").order("O1", "P", due=5000)
        .build()
    )  # fmt: skip
    assert held(work, start_later(work, timed(work))) == {"C/10": component, "P/10": parent}


def test_a_held_start_lets_others_on_its_machine_go_first() -> None:
    """B1 stands before B2 on the only machine; it has weeks, B2 is due as soon as it can be."""
    work = (
        ShopBuilder(safety_min=0).machine("M1").batch("B1", pieces=60).op("M1").order("O1", "B1", due=20_000)
        .batch("B2", pieces=60).op("M1").order("O2", "B2", due=120).build()
    )  # fmt: skip
    plan = timed(work)
    assert [s.start for s in plan.steps] == [0, 60]
    later = start_later(work, plan)
    assert [s.start for s in later.steps] == [19_940, 0]
    assert later.sequence == (1, 0)


@pytest.mark.parametrize("fields", [{"pin_machine": "M1"}, {"not_before_min": 10}, {"begun": Begun.PART}])
def test_pinned_and_begun_work_is_left_alone(fields: dict) -> None:
    work = ShopBuilder(safety_min=0).machine("M1").batch("B1", pieces=60).op("M1", **fields).order("O1", "B1", due=9000).build()  # fmt: skip
    assert held(work, start_later(work, timed(work))) == {}


def test_a_shop_may_start_everything_as_early_as_it_can() -> None:
    work = replace(one(5000, 0), start_early=True)
    plan = timed(work)
    assert start_later(work, plan) is plan
    assert held(work, start_later(replace(work, start_early=False), plan))


def test_no_time_left_holds_nothing_back() -> None:
    work = one(5000, 0)
    assert held(work, start_later(work, timed(work), seconds=0.0)) == {}


def test_the_latest_start_is_to_the_minute() -> None:
    """One minute more would make the order late, on a machine with breaks and behind another batch."""
    shift = days(30, (0, 240), (270, 510))
    work = (
        ShopBuilder().machine("M1", shift).machine("M2", shift)
        .batch("B1", pieces=100).op("M1", setup=30).op("M2", setup=20).order("O1", "B1", due=1440 + 400)
        .batch("B2", pieces=100).op("M2").order("O2", "B2", due=1440 + 510)
        .build()
    )  # fmt: skip
    plan = timed(work)
    op = at(work, "B1", 10).index
    table = timed_again(work, plan)
    sequence, choice = table.list.copy(), table.choice.copy()
    (latest,) = Leeway(table).latest(np.array([op])).tolist()
    for minute, late in ((latest, False), (latest + 1, True)):
        again = Timetable(_not_before(work, op, minute) if work.operations[op].begun is Begun.PART else work)
        until = np.zeros(len(work.operations), np.int64)
        until[op] = minute
        again.hold(until)
        again.time(sequence, choice)
        assert (again.cost().late > 0) == late


def test_a_plan_that_its_list_does_not_give_is_refused() -> None:
    work = one(5000, 0)
    plan = timed(work)
    moved = replace(plan.steps[0], waited_for="not before")
    with pytest.raises(ValueError, match="not what its list"):
        timed_again(work, replace(plan, steps=(moved,)))


@pytest.mark.parametrize(("start_early", "is_held"), [("no", True), ("yes", False)])
def test_the_shop_s_settings_decide(start_early: str, is_held: bool, tmp_path: Path) -> None:
    """With no safety time the tiny shop has starts that can wait for half a day, unless the search has seen to it itself."""
    rows = [add("settings", f"name={name}|value={value}") for name, value in (("safety_hours", 0), ("start_early", start_early))]  # fmt: skip
    folder = Folder(tmp_path / "shop").edit(*rows).path
    job = make_plan(folder, proposals=False, trials=50)
    assert (job.work.safety_min, job.work.start_early) == (0, not is_held)
    assert bool(held(job.work, job.plan)) == is_held
    stopped = make_plan(folder, proposals=False, seconds=5.0, stop=lambda: True)
    assert bool(held(stopped.work, stopped.plan)) == is_held


def test_the_sample_shop_has_less_in_progress() -> None:
    _, work = read_work(Path(__file__).resolve().parent.parent / "sample_shop")
    plan = search(work, trials=20)
    later = start_later(work, plan)
    assert verify(work, later) == []
    assert later.cost.first <= plan.cost.first
    assert later.cost.wip < plan.cost.wip
    assert sum(s.start for s in later.steps) > sum(s.start for s in plan.steps)


@pytest.mark.parametrize(("safety", "start"), [(0, 4 * 1440 - 10), (1, 1440 + 479 - 10)])
def test_a_due_time_beyond_the_shop_s_hours_is_no_limit_by_itself(safety: int, start: int) -> None:
    """The machine is open round the clock, the shop calendar ends on the second day: only a safety time is counted in it."""
    work = (
        ShopBuilder(safety_min=safety).calendar("day", days(2, (0, 480)), shop=True)
        .machine("M1").batch("B1", pieces=10).op("M1").order("O1", "B1", due=4 * 1440).build()
    )  # fmt: skip
    later = start_later(work, timed(work))
    assert held(work, later) == {"B1/10": start}


@pytest.mark.parametrize("due", [100, 480, 700, 90 * 1440])
def test_no_safety_time_before_a_due_time_is_that_time(due: int) -> None:
    """Within the shop's hours, at their end, while it is closed and after all of them."""
    work = one(due, 0)
    assert Leeway(timed_again(work, timed(work))).sooner(due) == due


def test_where_room_for_bookings_runs_out_no_start_is_passed_over(monkeypatch: pytest.MonkeyPatch) -> None:
    """Those that came after it are looked at once there is more room."""
    shop = ShopBuilder()
    for i in range(12):
        shop.batch(f"B{i}").op("MN"[i % 2], 0, 3600).order(f"O{i}", f"B{i}", due=20_000)
    work = shop.build()
    expected = start_later(work, timed(work))
    assert all(s.held_until for s in expected.steps)
    calls = []

    def runs_out(data, state, *rest):
        calls.append(True)
        if len(calls) % 2:
            state.full[0] = 1
            return 0
        return hold_starts(data, state, *rest)

    monkeypatch.setattr(later, "hold_starts", runs_out)
    assert start_later(work, timed(work)).steps == expected.steps
