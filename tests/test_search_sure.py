"""What is sure of an order's lateness: never more than it comes to, and no move is dropped that would be kept."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from random_shops import random_work
from trials import short, tried

from planner.by_ref import by_ref
from planner.compiling import compiled
from planner.search.dispatch import RULES, dispatch
from planner.search.sure import ENDS, LATE, ORDER, rest_of, sure_late
from planner.timetable import Timetable
from planner.timetable.state import F_END
from planner.work import Work


@compiled
def late_of(data, rest, op, end):
    return sure_late(by_ref(data), rest, op, end)


def timed(work: Work, rule: int) -> Timetable:
    table = Timetable(work)
    sequence = dispatch(table, RULES[rule % len(RULES)])
    choice = table.choice.copy()
    table.reset()
    assert table.retime(sequence, choice, 0) == 0
    return table


@settings(max_examples=200)
@given(number=st.integers(0, 100_000), rule=st.integers(0, 6))
def test_no_order_is_ever_less_late_than_is_sure(number: int, rule: int) -> None:
    """By the end of any operation that it waits for, under all rules and in any hours."""
    work = random_work(number)
    table, rest = timed(work, rule), rest_of(Timetable(work))
    for op in table.list.tolist():
        order = rest[op, ORDER]
        if order >= 0:
            late = table.order_end(order) - work.orders[order].due_min
            assert late_of(table.data, rest, op, int(table.state.res[op, F_END])) <= max(0, late)


@pytest.mark.parametrize("number", range(20))
def test_ends_and_minutes_rise_together(number: int) -> None:
    rest = rest_of(Timetable(random_work(number)))
    for row in rest[rest[:, ORDER] >= 0]:
        assert (np.diff(row[ENDS:LATE]) >= 0).all()
        assert (np.diff(row[LATE:]) >= 0).all()


@settings(max_examples=100)
@given(number=st.integers(0, 100_000), heat=st.sampled_from([0.0, 30.0, 2_000.0]), days=st.sampled_from([1, 3, 280]))
def test_no_move_is_dropped_that_would_be_kept(number: int, heat: float, days: int) -> None:
    """The same moves with the same chances, all timed to the end or dropped as soon as it is clear: the same is kept."""
    work = short(random_work(number), days)
    assert tried(work, 1, heat) == tried(work, 1 << 40, heat)
