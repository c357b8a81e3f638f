"""Timing only what a change touches is timing the whole list: times, bookings and cost terms, kept or taken back."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from builders import ShopBuilder, at
from hypothesis import given, settings
from hypothesis import strategies as st
from published import INSTANCES, instance_work
from random_shops import in_one_order, random_work, shortened

from planner.search.climb import Climber
from planner.search.dispatch import RULES, dispatch
from planner.timetable import Timetable
from planner.timetable.changes import T_CHANGE, T_LATE, T_LOST, T_PENCE, T_SETUP, T_WIP
from planner.timetable.state import F_BURSTS, F_STINTS
from planner.work import Work


def bookings(table: Timetable) -> list[list[tuple[int, ...]]]:
    books = (table.state.people, table.state.things)
    rows = ((b, p) for b in books for p in range(len(b.used)))
    return [sorted(tuple(r) for r in b.at[p, : b.used[p]].tolist()) for b, p in rows]


def snapshot(table: Timetable) -> tuple:
    planned, state = table.data.op["planned"] == 1, table.state
    links = [a.tolist() for a in (state.on, state.prev, state.next, state.first, state.last)]
    rows = [(int(table.data.op[op]["burst_lo"]), int(state.res[op, F_BURSTS])) for op in np.flatnonzero(planned)]
    bursts = [state.burst[lo : lo + n].tolist() for lo, n in rows]
    lost = table.unplaced()
    return (
        state.res[planned, : F_STINTS + 1].tolist(),
        bursts,
        bookings(table),
        links,
        state.van_used.tolist(),
        table.cost(),
        lost,
    )


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
        assert (total[T_LATE], total[T_CHANGE], total[T_LOST]) == (cost.late, cost.change, len(table.unplaced()))
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


@settings(max_examples=30)
@given(number=st.integers(0, 100_000), share=st.sampled_from([0.3, 0.6, 0.8, 0.95]))
def test_the_same_where_not_everything_finds_a_place(number: int, share: float) -> None:
    check(shortened(random_work(number), share), number, calls=12, trials=7)


@settings(max_examples=25)
@given(number=st.integers(0, 100_000))
def test_the_same_where_setters_approve_their_own_first_piece(number: int) -> None:
    check(replace(random_work(number), setter_may_approve=True), number, calls=12, trials=7)


def test_a_setter_s_own_first_off_where_the_setup_comes_to_lie_where_it_was() -> None:
    """Ann sets A for 10 minutes and looks at its first piece, 10 minutes later, for 10 minutes: behind C, which takes 20, she sets
    when the first-off was. The two bookings are told apart, so hand work waits for the setting and not for the first-off alone."""
    shop = ShopBuilder(setter_may_approve=True).person("Ann", ["set", "check"])
    shop.batch("A", pieces=3).op("M", 10, 600, skill="set", first_off_skill="check", first_off_min=10)
    shop.batch("C").op("M", 0, 1200)
    work = shop.batch("H").manual("bench", 1500, skill="check").order("O", "A", "C", "H", due=0).build()
    for number in range(6):
        check(work, number, calls=150, trials=1)


def test_what_found_no_place_finds_one_when_somebody_comes_free() -> None:
    """Ann, there until 100, is wanted for A (60 minutes) and B (60); C keeps the machine for 150. With C first, Ben, there from 200 on,
    sets A, and B has Ann."""
    shop = ShopBuilder().person("Ann", ["s", "t"], [(0, 100)]).person("Ben", "s", [(200, 300)])
    shop.batch("A").op("M", 60, 60, skill="s").batch("C").op("M", 0, 60 * 150)
    work = shop.batch("B").manual("bench", 3600, skill="t").order("O", "A", "B", "C", due=0).build()
    table = Timetable(work)
    a, c, b = (at(work, name, 10).index for name in "ACB")
    assert table.time([a, c, b]) == 1
    climber = Climber(table, np.array([a, c, b]), table.choice.copy(), 1)
    climber.run(200)
    assert climber.best_total[T_LOST] == 0
    for number in range(6):
        check(work, number, calls=60, trials=1)


def test_the_same_in_published_job_shops() -> None:
    """Runs that need nothing but their machine are timed in short; one order (ft06, la01, mk01), then an order each."""
    for instance in INSTANCES[:4]:
        check(instance_work(instance), 1, calls=20, trials=200)
