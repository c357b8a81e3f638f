"""Which late order the list search works on: the more weighted minutes late, the more often."""

from __future__ import annotations

import numpy as np
import pytest
from random_shops import random_work
from trials import begun

from planner.by_ref import by_ref
from planner.compiling import compiled
from planner.search.pick import _late_end

PICKS = 40_000


@compiled
def count(data, st, ch, picks, seen):
    """How often each operation is what the late order picked waits for last; in the last place: no order was late."""
    np.random.seed(1)
    for _ in range(picks):
        seen[_late_end(by_ref(data), by_ref(st), by_ref(ch))] += 1


def picked(number: int) -> tuple[np.ndarray, dict[int, int]]:
    """Shares of the picks by operation, and the weighted lateness of the orders that wait for it last."""
    work = random_work(number)
    climber = begun(work)
    table = climber.table
    seen = np.zeros(len(work.operations) + 1, np.int64)
    count(table.data, table.state, climber.touched, PICKS, seen)
    late: dict[int, int] = {}
    ends = {step.operation: step.end for step in table.steps()}
    for order in work.orders:
        row = table.data.order[order.index]
        last = max(table.data.source_op[row["lo"] : row["hi"]].tolist(), key=lambda op: ends[op])
        minutes = max(0, ends[last] - order.due_min)
        late[last] = late.get(last, 0) + minutes * order.weight
    return seen / PICKS, late


@pytest.mark.parametrize("number", [2, 5, 11, 23])
def test_by_weighted_lateness(number: int) -> None:
    shares, late = picked(number)
    total = sum(late.values())
    if not total:
        assert shares[-1] == 1.0
        return
    for op in range(len(shares) - 1):
        assert shares[op] == pytest.approx(late.get(op, 0) / total, abs=4 * 0.5 / PICKS**0.5)
    assert shares[-1] == 0.0
