"""What a kept list does not know goes into its gaps, and an enquiry that is kept gets the date that was told."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
from commands import run
from typer.testing import Result

from planner.answers.feeds import ready_times
from planner.dates import Enquiry
from planner.dates.enquiry import asked, with_order
from planner.dates.keeping import Kept, answer_job
from planner.dates.placing import behind, finish_of, moved_steps, named_steps
from planner.explode import explode
from planner.gaps import Start, start_of
from planner.intake import read_shop
from planner.main_job import Job, load_plan, verified
from planner.plan import AcceptedStep
from planner.proposals.carry import carried
from planner.search import search
from planner.shop import Pin
from planner.store import Store
from planner.verify import verify
from tests.explode_shops import order, part, shop

TINY = Path(__file__).parent / "data" / "tiny_shop"
ASK = ("--part", "GR-120", "--qty", "30", "--trials", "30", "--wanted", "2026-05-04")


def at(hour: int) -> datetime:
    return datetime(2026, 3, 23, hour)


@pytest.fixture
def gap() -> Job:
    """A has the lathe from 08:00 to 10:00, B from 11:00 (not before, by decision) to 12:00."""
    orders = (order("A", "A", 90, at(10)), order("B", "B", 30, at(12)))
    made = shop(orders, (part("A"), part("B"), part("E")), pins=(Pin("B-1", 10, not_before=at(11)),))
    work = explode(made)
    return verified(Job(made, work, search(work, trials=50)))


@pytest.mark.parametrize(("pieces", "ready"), [(30, 180), (31, 331)], ids=["fits", "a minute too long"])
def test_a_search_begins_with_a_new_order_in_the_gap_that_was_told(gap: Job, pieces: int, ready: int) -> None:
    enquiry = Enquiry("E", pieces, earliest=date(2026, 3, 2))
    told = behind(gap, asked(gap, enquiry))
    kept, number = with_order(gap.shop, enquiry)
    work = explode(kept)
    start = start_of(kept, work, carried(gap.work, gap.plan, work))
    plan = start.at_least(search(work, trials=1, start=start.listed))
    assert verify(work, plan) == []
    assert ready_times(work, plan)[number] == ready == finish_of(asked(gap, enquiry), told)
    assert moved_steps(gap.work, gap.plan, work, plan.steps) == []


@pytest.mark.parametrize(
    ("due", "start", "late", "change"),
    [
        (at(8) + timedelta(days=60), 270, 0, 0),
        (at(8) + timedelta(minutes=301 - 19), 270, 57, 0),
        (at(8) + timedelta(minutes=301 - 21), 140, 0, 60),
    ],
    ids=["far off", "late for less than a place costs", "for more"],
)
def test_a_new_order_goes_where_change_has_a_price_only_if_that_saves_more(
    gap: Job, due: datetime, start: int, late: int, change: int
) -> None:
    """In the gap from 10:20 it parts A and B, which costs 60, as much as 20 minutes late; behind B it is ready at minute 301."""
    accepted = tuple(
        AcceptedStep(name, number, "LATHE", (at(8) + timedelta(minutes=step.start)).isoformat())
        for (name, number), step in named_steps(gap.work, gap.plan)
    )
    pins = (*gap.shop.pins, Pin("E-1", 10, not_before=at(10) + timedelta(minutes=20)))
    made = replace(gap.shop, orders=gap.shop.orders | {"E": order("E", "E", 1, due)}, pins=pins)
    work = explode(made, accepted)
    found = start_of(made, work, carried(gap.work, gap.plan, work))
    assert found.cost is not None
    assert (found.cost.late, found.cost.change) == (late, change)
    new = work.places["E-1", 10]
    assert [step.start for step in found.steps if step.operation == new] == [start]
    assert found.at_least(search(work, trials=1, start=found.listed)).cost.first == late + change


def test_a_list_that_knows_all_is_left_as_it_is(gap: Job) -> None:
    listed = carried(gap.work, gap.plan, gap.work)
    assert start_of(gap.shop, gap.work, listed).listed == listed


def test_what_waits_for_something_new_comes_after_it(gap: Job) -> None:
    """A list without its first steps is filled up so that nothing is before what it waits for."""
    work = gap.work
    listed = [row for row in carried(work, gap.plan, work) if work.operations[row.operation].batch != 0]
    start = start_of(gap.shop, work, listed)
    plan = start.at_least(search(work, trials=1, start=start.listed))
    assert plan.complete and verify(work, plan) == []


def test_a_kept_enquiry_takes_nothing_that_another_was_given() -> None:
    """Two in stock: the later order keeps them, though the enquiry is due first."""
    stock = {"A": 2}
    later = order("Z", "A", 2, date(2026, 5, 1))
    kept = replace(order("Q", "A", 2, date(2026, 4, 1)), after_all=True)
    made = replace(shop((kept, later), (part("A"),)), stock=stock)
    assert {order.number: bool(order.sources[0].batch is not None) for order in explode(made).orders} == {
        "Q": True,
        "Z": False,
    }


# --- through the commands -------------------------------------------------------------------------


@pytest.fixture
def planned(tmp_path: Path) -> tuple[Path, Path]:
    folder, plan = tmp_path / "shop", tmp_path / "plan.json"
    shutil.copytree(TINY, folder)
    assert run("plan", folder, "--trials", 60, "--out", plan).exit_code == 0
    return folder, plan


def told_by(found: Result) -> int:
    return json.loads(found.stdout)["behind"]["ready_min"]


def test_planning_with_keep_gives_a_kept_enquiry_the_place_that_was_told(planned: tuple[Path, Path]) -> None:
    folder, plan = planned
    before = load_plan(folder, plan)
    told = told_by(run("date", folder, plan, *ASK, "--keep-as", "E-1", "--json"))
    assert read_shop(folder).orders["E-1"].after_all
    again = folder.parent / "again.json"
    words = ("--keep", plan, "--trials", 1, "--no-proposals", "--out", again)
    assert run("plan", folder, *words).exit_code == 0
    after = load_plan(folder, again)
    ready = ready_times(after.work, after.plan)
    assert ready["E-1"] <= max(told, after.work.orders[-1].due_min)
    was = ready_times(before.work, before.plan)
    assert all(ready[o.number] <= max(was[o.number], o.promised_min) for o in before.work.orders)


def test_the_plan_of_the_answer_is_written_with_the_order_in_it(planned: tuple[Path, Path]) -> None:
    folder, plan = planned
    before, out = load_plan(folder, plan), folder.parent / "told.json"
    told = told_by(run("date", folder, plan, *ASK, "--keep-as", "E-1", "--out", out, "--json"))
    after = load_plan(folder, out)
    assert ready_times(after.work, after.plan)["E-1"] == told
    assert moved_steps(before.work, before.plan, after.work, after.plan.steps) == []
    assert run("orders", folder, out).exit_code == 0
    assert run("date", folder, out, *ASK).exit_code == 0  # the next question, to the plan with it


def test_in_a_store_the_plan_of_the_answer_waits_to_be_accepted(planned: tuple[Path, Path]) -> None:
    folder, plan = planned
    db = folder.parent / "shop.db"
    assert run("store", folder, db).exit_code == 0
    told = told_by(run("date", db, plan, *ASK, "--keep-as", "E-1", "--who", "Mia", "--json"))
    with Store(db) as store:
        waiting = store.waiting()
    assert waiting is not None
    assert run("accept", db, "--who", "Mia").exit_code == 0
    after = load_plan(db)
    assert ready_times(after.work, after.plan)["E-1"] == told


def test_an_answer_that_was_not_given_is_not_kept(planned: tuple[Path, Path]) -> None:
    folder, plan = planned
    before = (folder / "orders.csv").read_bytes()
    refused = run("date", folder, plan, *ASK, "--keep-as", "E-1", "--answer", "hitting")
    assert refused.exit_code == 1 and "There is no answer 'hitting'" in refused.output
    assert (folder / "orders.csv").read_bytes() == before


def test_an_answer_kept_under_another_number_is_the_plan_that_was_told() -> None:
    """Under 'E-7' the order comes before 'W-1', which is due at the same time for as many pieces; as it was asked it came after."""
    made = shop((order("W-1", "P", 90),), (part("P"),))
    work = explode(made)
    job = verified(Job(made, work, search(work, trials=30), ()))
    enquiry = Enquiry("P", 90, wanted=date(2026, 4, 30))
    told = asked(job, enquiry)
    plan = behind(job, told)
    assert plan is not None
    ready = ready_times(told.work, plan)
    kept = Kept("E-7", with_order(made, replace(enquiry, number="E-7"))[0], None)
    with_it = answer_job(job, enquiry, kept, plan)
    assert with_it is not None
    assert ready_times(with_it.work, with_it.plan) == {"W-1": ready["W-1"], "E-7": finish_of(told, plan)}
    assert ready["W-1"] != finish_of(told, plan)


def test_a_plan_with_proposals_has_to_be_as_good_as_the_one_in_the_gaps() -> None:
    """Even if it is for other batches, so that neither stands for the other."""
    work = explode(shop((order("W-1", "P", 90),), (part("P"),)))
    plan = search(work, trials=5)
    begin = Start([], "other", plan.steps, plan.cost)
    assert not begin.is_better_than(plan)
    assert begin.is_better_than(replace(plan, cost=replace(plan.cost, late=plan.cost.late + 1)))
    assert not Start([]).is_better_than(plan)
