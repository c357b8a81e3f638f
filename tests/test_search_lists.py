"""From what the solver says to lists: where it moved nothing, the plan is still there; where it did, turns are as it says."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
from builders import ALWAYS, ShopBuilder
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from random_shops import random_work

from planner.search.climb import Climber
from planner.search.cpsat import Cpsat
from planner.search.dispatch import RULES, dispatch
from planner.search.freed import KINDS, around_what_costs
from planner.search.lists import lists_of
from planner.search.solver import Moved, place_anew
from planner.search.starts import Starts
from planner.timetable import Timetable
from planner.timetable.state import F_MACHINE, F_START
from planner.work import Person


def searched(number: int) -> Timetable:
    """A random shop with a list that is far from the order of start times."""
    table = Timetable(random_work(number, jobs=8))
    sequence = dispatch(table, RULES[0])
    choice = table.choice.copy()
    table.reset()
    climber = Climber(table, sequence, choice, number)
    climber.run(300)
    climber.restart(climber.best, climber.best_choice)
    return table


def as_now(table: Timetable) -> Moved:
    return Moved({int(i): int(table.state.res[i, F_START]) for i in table.list}, {}, 0.0)


@settings(max_examples=60)
@given(number=st.integers(0, 100_000))
def test_nothing_moved_is_the_plan_as_it_was(number: int) -> None:
    table = searched(number)
    before, cost = table.list.copy(), table.cost()
    lists = lists_of(table, as_now(table))
    assert len(lists) == 3
    for sequence, choice in lists[1:]:
        assert np.array_equal(sequence, before)
        table.retime(sequence, choice, 0)
        assert table.cost() == cost


def test_in_order_of_start_it_can_be_another_plan_where_people_are_short() -> None:
    """So it is not enough: else a neighbourhood would have to be better than what that loses."""
    found = 0
    for number in range(40):
        table = searched(number)
        cost = table.cost().first
        sequence, choice = lists_of(table, as_now(table))[0]
        found += table.retime(sequence, choice, 0) > 0 or table.cost().first > cost
    assert found > 0


@settings(max_examples=40)
@given(number=st.integers(0, 100_000), seed=st.integers(0, 9))
def test_turns_on_machines_are_as_the_solver_says(number: int, seed: int) -> None:
    table = searched(number)
    freed = around_what_costs(table, random.Random(seed), 12, KINDS[seed % len(KINDS)])
    assume(freed)
    moved = place_anew(table, Starts(table), freed, Cpsat(), 1, None)
    assume(moved is not None)
    now, place = table.state.res.copy(), {int(op): i for i, op in enumerate(table.list)}
    for sequence, choice in lists_of(table, moved)[1:]:
        assert sorted(sequence.tolist()) == sorted(place)
        assert np.array_equal(table.repaired(sequence), sequence)
        on: dict[int, list[int]] = {}
        for op in map(int, sequence):
            alt = moved.alt.get(op, -1)
            assert choice[op] == (alt if alt >= 0 else table.choice[op])
            machine = int(table.data.alt[alt]["machine"]) if alt >= 0 else int(now[op, F_MACHINE])
            if machine >= 0:
                on.setdefault(machine, []).append(op)
        for ops in on.values():
            begun = [op for op in ops if op in table.begun_first]
            starts = [(moved.start.get(op, int(now[op, F_START])), place[op]) for op in ops if op not in begun]
            assert starts == sorted(starts)


def twice_on_one() -> Timetable:
    work = ShopBuilder().batch("A", pieces=1).op("M", cycle=600).op("M", cycle=600).order("O", "A", due=5).build()
    table = Timetable(work)
    table.time([0, 1])
    return table


def test_turns_that_go_round_in_a_circle_give_no_near_list() -> None:
    """The second step before the first on their machine, which no plan can have, is left to the order of start."""
    table = Timetable(replace(twice_on_one().work, people=(Person("Ann", frozenset(), ALWAYS),)))
    table.time([0, 1])
    lists = lists_of(table, Moved({0: 20, 1: 10}, {}, 0.0))
    assert [sequence.tolist() for sequence, _ in lists] == [[0, 1]]


def test_near_lists_are_for_shops_with_people() -> None:
    table = twice_on_one()
    assert len(lists_of(table, Moved({0: 0, 1: 10}, {}, 0.0))) == 1


def in_the_way() -> Timetable:
    """X waits behind the first of three steps of A, which has time to spare."""
    shop = ShopBuilder()
    for name, machines in (("A", "MNP"), ("X", "M")):
        shop = shop.batch(name, pieces=1)
        for machine in machines:
            shop = shop.op(machine, cycle=600)
    table = Timetable(shop.order("OX", "X", due=5).order("OA", "A", due=1000).build())
    table.time(table.repaired([]))
    return table


@pytest.mark.parametrize(("kind", "parts"), [("batches", ["A", "A", "A", "X"]), ("waits", ["A", "X"])])
def test_a_neighbourhood_of_whole_batches_has_all_steps_of_what_is_in_the_way(kind: str, parts: list[str]) -> None:
    table = in_the_way()
    freed = around_what_costs(table, random.Random(1), 2, kind)
    assert sorted(table.work.batches[table.work.operations[op].batch].name for op in freed) == parts
