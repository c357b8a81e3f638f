"""Hours that are kept for the next plan are those of its shop."""

from __future__ import annotations

from dataclasses import replace

from builders import as_plan
from random_shops import random_work

from planner.timetable import Timetable
from planner.verify import verify
from planner.verify.shop_hours import of_shop
from planner.work import Hours

DAY, NIGHT = ((0, 240), (270, 510)), ((510, 1440),)
ANN, BEN = ((0, 300),), ((200, 510),)


def test_hours_are_those_asked_for_and_made_once() -> None:
    shop = of_shop((Hours(DAY, NIGHT), Hours(DAY)), (ANN, BEN))
    assert shop is of_shop((Hours(DAY, NIGHT), Hours(DAY)), (ANN, BEN))
    assert shop.attended[1].windows == DAY
    assert shop.run_hours(0, 60).windows == (*DAY, (510, 570))
    assert shop.run_hours(0, 0).windows == shop.run_hours(1, 60).windows == DAY
    assert shop.common(0, 0).windows == ((0, 240), (270, 300))
    assert shop.common(0, 1).windows == ((200, 240), (270, 510))
    assert shop.common(0, -1) is shop.attended[0]


def test_a_shop_with_other_hours_has_its_own() -> None:
    """Each thing changed alone: a machine's attended or unattended hours, a person's."""
    machines, people = (Hours(DAY, NIGHT),), (ANN,)
    first = of_shop(machines, people)
    for others in (((Hours(DAY[:1], NIGHT),), people), ((Hours(DAY),), people), (machines, (BEN,))):
        assert of_shop(*others) is not first
    assert of_shop((Hours(DAY[:1]),), people).attended[0].windows == DAY[:1]


def test_what_was_allowed_is_a_fault_where_nobody_is_there_any_more() -> None:
    """Verified straight after each other, and once more as at first."""
    work = random_work(7)
    table = Timetable(work)
    table.time(table.repaired(list(range(len(work.operations)))))
    plan = as_plan(work, table)
    gone = replace(work, people=tuple(replace(person, hours=()) for person in work.people))
    assert [bool(verify(w, plan)) for w in (work, gone, work)] == [False, True, False]
