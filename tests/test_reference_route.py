"""A whole route from tables to dates, to the minute: sawing to assembly, with an outside step between.

Worked by hand from a textbook sort of sum: Monday to Friday 08:00-12:00 and 12:30-16:30, Europe/London, Good Friday 3 and
Easter Monday 6 April 2026 closed, the clocks changing on Sunday 29 March; 100 wanted, 108 started. The clock change and
the bank holidays are those of the calendar of England (gov.uk; Easter by Gauss's rule).
"""

from __future__ import annotations

from pathlib import Path

import pytest
from intake_folders import Edit, Folder, add, put

from planner.explode import explode
from planner.search import search
from planner.verify import verify

ROUTE = Path(__file__).parent / "data" / "reference_route"
MISSED = add("pins", "batch=O1/PART-1|operation=40|not_before=2026-03-26 13:41|reason=one minute too late")
MADE = add("pins", "batch=O1/PART-1|operation=40|not_before=2026-03-26 13:40|reason=just in time")
PINS = Path("pins.csv")


def dates(tmp_path: Path, *edits: Edit) -> dict[int, tuple[str, str]]:
    """By step number, local start of setting (or collection) and end of run (or return)."""
    folder = Folder(tmp_path / "shop", ROUTE)
    (folder.path / PINS).write_text("batch,operation,machine,person,not_before,reason\n", encoding="utf-8")
    work = explode(folder.edit(*edits).read())
    plan = search(work, trials=50)
    assert verify(work, plan) == []
    return {
        work.operations[s.operation].number: (
            f"{work.local(s.run_start if s.trip is not None else s.start):%a %d %b %H:%M}",
            f"{work.local(s.run_end):%a %d %b %H:%M}",
        )
        for s in plan.steps
    }


AFTER_ANODISING = {
    50: ("Thu 26 Mar 15:00", "Tue 07 Apr 10:00"),
    60: ("Tue 07 Apr 10:00", "Tue 07 Apr 11:12"),
    70: ("Tue 07 Apr 11:12", "Wed 08 Apr 12:32"),
}


def test_each_step_after_the_other(tmp_path: Path) -> None:
    """Saw 64 working minutes, lathe 738, mill 492, inspection 80; collected Thursday, five days at the anodiser (27, 30,
    31 March, 1, 2 April), back on the next delivery day; final check 72, assembly of 100 530 minutes."""
    assert dates(tmp_path) == {
        10: ("Mon 23 Mar 08:00", "Mon 23 Mar 09:04"),
        20: ("Mon 23 Mar 09:04", "Tue 24 Mar 13:52"),
        30: ("Tue 24 Mar 13:52", "Wed 25 Mar 14:04"),
        40: ("Wed 25 Mar 14:04", "Wed 25 Mar 15:24"),
        **AFTER_ANODISING,
    }


def test_overlapping_gains_a_day_at_the_mill_and_nothing_at_the_door(tmp_path: Path) -> None:
    """Four sublots of 27, 15 working minutes of moving, the mill set ahead: the mill is through on Tuesday 15:55."""
    found = dates(tmp_path, put("routings", 3, "transfer_pieces", "27"), put("routings", 3, "move_min", "15"))
    assert found[30][1] == "Tue 24 Mar 15:55"
    assert {n: found[n] for n in (50, 60, 70)} == AFTER_ANODISING


def test_at_the_cutoff_to_the_minute_the_van_is_made(tmp_path: Path) -> None:
    found = dates(tmp_path, MADE)
    assert found[40] == ("Thu 26 Mar 13:40", "Thu 26 Mar 15:00")
    assert found[50] == AFTER_ANODISING[50]


def test_one_minute_late_for_the_van_costs_five_working_days(tmp_path: Path) -> None:
    """Collected Tuesday 31 March; five days (1, 2, 7, 8, 9 April); back Tuesday 14 April."""
    found = dates(tmp_path, MISSED)
    assert found[40][1] == "Thu 26 Mar 15:01"
    assert found[50] == ("Tue 31 Mar 15:00", "Tue 14 Apr 10:00")


@pytest.mark.parametrize(("late", "due"), [(False, "2026-04-08 12:32"), (True, "2026-04-08 12:31")])
def test_the_order_is_late_from_the_minute_after_its_end(tmp_path: Path, late: bool, due: str) -> None:
    folder = Folder(tmp_path / "shop", ROUTE).edit(put("orders", 2, "due", due))
    work = explode(folder.read())
    assert search(work, trials=20).cost.late == int(late)


def test_start_quantity_is_rounded_up_once(tmp_path: Path) -> None:
    """100 wanted at 93 per cent: 107.53, so 108."""
    work = explode(Folder(tmp_path / "shop", ROUTE).read())
    assert {b.part: b.start_pieces for b in work.batches} == {"PART": 108, "ASSEMBLY": 100}
