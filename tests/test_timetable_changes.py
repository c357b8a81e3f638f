"""Timing only what a change touches is timing the whole list: times, bookings and cost terms, kept or taken back."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from published import INSTANCES, instance_work
from random_shops import in_one_order, random_work

from planner.search.climb import Climber
from planner.search.dispatch import RULES, dispatch
from planner.timetable import Timetable
from planner.timetable.changes import T_CHANGE, T_LATE, T_LOST, T_PENCE, T_SETUP, T_WIP
from planner.timetable.state import F_STINTS
from planner.work import Work


def bookings(table: Timetable) -> list[list[tuple[int, ...]]]:
    books = (table.state.people, table.state.things)
    rows = ((b, p) for b in books for p in range(len(b.used)))
    return [sorted(tuple(r) for r in b.at[p, : b.used[p]].tolist()) for b, p in rows]


def snapshot(table: Timetable) -> tuple:
    planned, state = table.data.op["planned"] == 1, table.state
    links = [a.tolist() for a in (state.on, state.prev, state.next, state.first, state.last)]
    return state.res[planned, : F_STINTS + 1].tolist(), bookings(table), links, state.van_used.tolist(), table.cost()


def check(work: Work, number: int, calls: int, trials: int) -> None:
    table = Timetable(work)
    sequence = dispatch(table, RULES[number % len(RULES)])
    choice = table.choice.copy()
    table.reset()
    climber = Climber(table, sequence, choice, number)
    for _ in range(calls):
        climber.run(trials)
        total, seen = climber.touched.total.copy(), snapshot(table)
        assert climber.cost == climber.now_cost()
        table.retime(climber.sequence, climber.choice, 0)
        assert snapshot(table) == seen
        cost, p = table.cost(), work.prices
        assert (total[T_LATE], total[T_CHANGE], total[T_LOST]) == (cost.late, cost.change, 0)
        second = total[T_WIP] * p.wip_weight, total[T_SETUP] * p.setup_weight, total[T_PENCE] * p.charge_weight
        assert second == (cost.wip, cost.setup, cost.charges)
        assert np.array_equal(table.repaired(climber.sequence), climber.sequence)


@settings(max_examples=60)
@given(number=st.integers(0, 100_000))
def test_changes_timed_by_consequence_are_the_whole_list_timed(number: int) -> None:
    check(random_work(number), number, calls=12, trials=7)


@settings(max_examples=15)
@given(number=st.integers(0, 100_000))
def test_the_same_after_many_trials(number: int) -> None:
    check(random_work(number), number, calls=3, trials=400)


@settings(max_examples=40)
@given(number=st.integers(0, 100_000))
def test_where_one_order_waits_for_all_moves_that_cannot_pay_are_taken_back_whole(number: int) -> None:
    check(in_one_order(random_work(number)), number, calls=8, trials=60)


def test_the_same_in_published_job_shops() -> None:
    """Runs that need nothing but their machine are timed in short; one order (ft06, la01, mk01), then an order each."""
    for instance in INSTANCES[:4]:
        check(instance_work(instance), 1, calls=20, trials=200)
