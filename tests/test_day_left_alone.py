"""A batch left as it is, entered in a store: from the next plan on, until that is undone, and refused where it cannot be."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from days import Day, at
from test_day_events import event, refused

from planner.day.differences import against_accepted
from planner.day.left_alone import left_alone
from planner.store import Store
from planner.store.edit import add_row

HALVES = {"O-6-1/1", "O-6-1/2"}


@pytest.fixture
def day(in_halves: Path, tmp_path: Path) -> Iterator[Day]:
    place = Path(shutil.copy(in_halves, tmp_path / "shop.db"))
    with Store(place) as store:
        yield Day(store, place)


@pytest.mark.parametrize("name", ["O-6-1", "O-6-1/2"])
def test_a_batch_is_whole_in_the_next_plan_and_until_that_is_undone(day: Day, name: str) -> None:
    words = event(day, "leave alone", name, reason="one machine is enough").words
    assert words == "Batch O-6-1 is left as it is: from the next plan on not split, and not run as one with others."
    assert day.row("left_alone", batch=name)["reason"] == "one machine is enough"
    job = day.plan("09:10", trials=300, accept=True).job
    assert (job.work.proposals, HALVES & {b.name for b in job.work.batches}) == ((), set())
    day.undo(time="09:20")
    assert day.store.sheets().find("left_alone", batch=name) is None


def test_the_accepted_halves_stay_without_it(day: Day) -> None:
    assert {b.name for b in day.plan("09:10", trials=300).job.work.batches} >= HALVES


def test_why_an_order_changes_says_so(day: Day) -> None:
    event(day, "leave alone", "O-6-1")
    found = against_accepted(day.store, day.plan("09:10", trials=300).job)
    assert found is not None
    (order,) = [o for o in found.orders if o.order == "O-6"]
    assert "batch O-6-1 is to be left as it is" in order.why


def test_what_is_no_batch_or_is_left_alone_already_is_refused(day: Day) -> None:
    assert "There is no batch 'O-61'. Did you mean 'O-6-1'?" in refused(day, "leave alone", "O-61")
    event(day, "leave alone", "O-6-1/1")
    for name in ("O-6-1", "O-6-1/1", "O-6-1/2"):
        assert refused(day, "leave alone", name) == "Batch O-6-1 is left alone already."


def test_what_is_released_in_halves_is_refused_and_stays(day: Day) -> None:
    """The whole is none any more; a row that names it is told."""
    for half in sorted(HALVES):
        cells = {"batch": half, "part": "GR-120", "quantity": "57", "order": "O-6"}
        add_row(day.store, "Ann", at("08:10"), "batches", cells)
    for name in ("O-6-1", "O-6-1/1"):
        assert "released already: what is released stays as it is." in refused(day, "leave alone", name)
    add_row(day.store, "Ann", at("09:00"), "left_alone", {"batch": "O-6-1"})
    job = day.plan("09:10", trials=30).job
    assert {b.name for b in job.work.batches} >= HALVES
    assert (
        "Batch O-6-1 cannot be left as it is: O-6-1/1 and O-6-1/2 are released already, and so stays."
        in job.work.left_out
    )


def test_a_released_batch_is_refused(day: Day) -> None:
    assert refused(day, "leave alone", "B-1") == "Batch B-1 is released already: what is released stays as it is."


def test_all_that_is_left_alone_is_listed_with_what_can_be_undone(day: Day) -> None:
    entry = event(day, "leave alone", "O-6-1", reason="why not")
    found = left_alone(day.store)
    assert [(row.batch, row.reason) for row in found] == [("O-1-1", "as the customer checks it"), ("O-6-1", "why not")]
    assert [row.entry and row.entry.id for row in found] == [None, entry.id]
