"""Where one order waits for all: what stands behind an operation is never reckoned longer than it takes."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from published import INSTANCES, instance_work
from random_shops import in_one_order, random_work
from trials import short, tried

from planner.by_ref import by_ref
from planner.compiling import compiled
from planner.search.behind import NO_WAY, fill_latest
from planner.search.dispatch import RULES, dispatch
from planner.timetable import Timetable
from planner.timetable.state import F_RUN_END
from planner.work import Work


@compiled
def fill(data, st, cur, latest):
    fill_latest(by_ref(data), by_ref(st), cur, len(cur) - 1, latest)


def ends(work: Work, rule: int = 0) -> tuple[int, list[int]]:
    """When the order is ready, and by operation the least that it would be for that one's end and all behind it."""
    table = Timetable(work)
    sequence = dispatch(table, RULES[rule % len(RULES)])
    choice = table.choice.copy()
    table.reset()
    assert table.retime(sequence, choice, 0) == 0
    latest = np.zeros(len(work.operations), np.int64)
    fill(table.data, table.state, sequence, latest)
    planned = [int(op) for op in sequence if latest[op] < NO_WAY]
    order = work.orders[0]
    ready = int(table.cost().late) // order.weight + order.due_min
    return ready, [int(table.state.res[op, F_RUN_END] - latest[op]) for op in planned]


@settings(max_examples=150)
@given(number=st.integers(0, 100_000))
def test_never_longer_than_it_takes(number: int) -> None:
    """Under all rules and in any hours."""
    ready, least = ends(in_one_order(random_work(number)), number)
    assert least
    assert max(least) <= ready


@settings(max_examples=60)
@given(number=st.integers(0, 100_000), heat=st.sampled_from([0.0, 30.0, 2_000.0]), days=st.sampled_from([1, 3, 280]))
def test_no_move_is_dropped_that_would_be_kept(number: int, heat: float, days: int) -> None:
    """The same moves with the same chances, all timed to the end or dropped as soon as it is clear: the same is kept."""
    work = short(in_one_order(random_work(number)), days)
    assert tried(work, 1, heat) == tried(work, 1 << 40, heat)


def test_no_move_is_dropped_that_would_be_kept_in_a_published_job_shop() -> None:
    assert tried(instance_work(INSTANCES[1]), 1, 5.0) == tried(instance_work(INSTANCES[1]), 1 << 40, 5.0)


def test_where_machines_never_close_it_is_what_it_takes() -> None:
    """Every operation on the longest path of a job shop (ft06, its source in ``data/job_shops.json``) ends as late as it can."""
    ready, least = ends(instance_work(INSTANCES[0]))
    assert sum(minute == ready for minute in least) >= 6
    assert max(least) == ready
