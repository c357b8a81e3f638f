"""Each order alone: the bound's ends, whole and of one operation."""

from __future__ import annotations

import pytest
from random_shops import in_one_order, random_work

from planner.search.bound import earliest_end, earliest_ends
from planner.search.dispatch import RULES, dispatch
from planner.timetable import Timetable


@pytest.mark.parametrize("number", range(40))
def test_no_plan_has_an_operation_through_sooner_and_one_alone_is_as_all(number: int) -> None:
    work = random_work(number) if number % 2 else in_one_order(random_work(number))
    table = Timetable(work)
    ends = earliest_ends(table)
    planned = table.repaired([]).tolist()
    assert [earliest_end(table, op) for op in planned] == ends[planned].tolist()
    table.time(dispatch(table, RULES[0]), table.choice)
    assert all(ends[op] <= table.ends()[op] for op in planned)
