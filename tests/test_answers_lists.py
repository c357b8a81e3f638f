"""Lists: each machine's and each person's work in order, whole or for one local day, and as CSV."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from datetime import date
from itertools import pairwise

import pytest
from builders import ShopBuilder, plan, step
from web_fixtures import made_plan, made_work

from planner.answers.lists import MACHINE_COLUMNS, day_span, machine_csv, machine_lists, person_csv, person_lists
from planner.answers.rows import as_rows, safe_cell
from planner.plan import Plan
from planner.work import Work

DAY = 1440


def small() -> tuple[Work, Plan]:
    """A turned part with setup, first-off and jaws, deburred by hand, plated and sold; one for stock after it."""
    work = (
        ShopBuilder(handover_min=10)
        .person("Ann", ["turning", "deburr"]).person("Ida", "inspection").person("Bob", "turning")
        .equipment("jaws", 4).service("plating", [(300, 400, 3000)])
        .batch("B1", pieces=20, part="axle")
        .op("L1", setup=30, cycle=60, skill="turning", family="16 mm", equipment={"jaws": 2}, description="turn",
            first_off_skill="inspection", first_off_min=5)
        .manual("bench", 60, skill="deburr", description="deburr")
        .outside("plating", description="plate")
        .batch("B2", pieces=5, part="knob").op("L1", description="turn")
        .order("O1", "B1", due=5000).order("O2", "B1", due=4000)
        .build()
    )  # fmt: skip
    made = plan(
        work,
        step(work, "B1", 10, "L1", setup=[("Ann", 0, 20), ("Bob", 25, 45)], setup_min=30, changeover_min=12,
             run=(45, 70), bursts=[(45, 0), (51, 1)], first_off=(46, "Ida", 46, 51)),
        step(work, "B1", 20, "bench", stints=[("Ann", 70, 80), ("Ann", 85, 95)]),
        step(work, "B1", 30, start=95, run=(400, 3000), trip=0),
        step(work, "B2", 10, "L1", run=(1500, 1505)),
    )  # fmt: skip
    return work, made


def test_a_machine_line_says_all_that_the_machine_needs_to_know() -> None:
    first = machine_lists(*small())[0]
    assert (first.machine, first.place, first.batch, first.operation, first.pieces) == ("L1", 1, "B1", 10, 20)
    assert (first.start, first.setup_min, first.setup_by) == ("Mon 23 Mar 2026 08:00", 30, ("Ann", "Bob"))
    assert (first.family, first.changeover_min, first.equipment) == ("16 mm", 12, ("jaws x 2",))
    assert first.first_off == "Ida, Mon 23 Mar 08:46"
    assert (first.run_start, first.run_end) == ("Mon 23 Mar 2026 08:45", "Mon 23 Mar 2026 09:10")
    assert first.next_step == "op 20 deburr: bench, Mon 23 Mar 09:10"
    assert (first.orders, first.due) == (("O2", "O1"), "Thu 26 Mar 2026 02:40")


def test_the_step_before_outside_work_names_firm_and_collection() -> None:
    bench = machine_lists(*small(), machine="bench")
    assert [t.next_step for t in bench] == ["op 30 plate: plating, collected Mon 23 Mar 14:40"]
    assert bench[0].people == ("Ann",)


def test_a_last_step_says_what_it_is_for() -> None:
    work = (
        ShopBuilder().batch("B1").op("L1").batch("B2").op("L1").need("B2", 10, "B1").order("O1", "B2", due=9)
        .batch("B3").op("L1").build()
    )  # fmt: skip
    made = plan(work, *(step(work, b, 10, "L1", run=(i, i + 1)) for i, b in enumerate(("B1", "B2", "B3"))))
    assert [t.next_step for t in machine_lists(work, made)] == ["for B2 op 10", "for order O1", "to stock"]


def test_only_the_machine_asked_for_is_listed_and_an_unknown_one_is_refused() -> None:
    work, made = small()
    assert {t.machine for t in machine_lists(work, made, "L1")} == {"L1"}
    with pytest.raises(KeyError):
        machine_lists(work, made, "L9")
    with pytest.raises(KeyError):
        person_lists(work, made, "Eve")


def test_a_day_has_what_holds_the_machine_in_it_and_keeps_its_place() -> None:
    """B2 runs on Tuesday at 09:00; B1 is Monday's."""
    work, made = small()
    assert [(t.batch, t.place) for t in machine_lists(work, made, "L1", date(2026, 3, 23))] == [("B1", 1)]
    assert [(t.batch, t.place) for t in machine_lists(work, made, "L1", date(2026, 3, 24))] == [("B2", 2)]
    assert machine_lists(work, made, "L1", date(2026, 3, 25)) == []


@pytest.mark.parametrize(("run", "listed"), [((900, 960), False), ((900, 961), True), ((2399, 2400), True), ((2400, 2401), False)])  # fmt: skip
def test_a_day_begins_and_ends_at_local_midnight(run: tuple[int, int], listed: bool) -> None:
    """Plan start is Monday 08:00: Tuesday is minutes 960 to 2,400."""
    work = ShopBuilder().batch("B1", pieces=1).op("L1").build()
    made = plan(work, step(work, "B1", 10, "L1", run=run))
    assert bool(machine_lists(work, made, day=date(2026, 3, 24))) == listed


def test_clock_change_days_have_23_and_25_hours() -> None:
    work = ShopBuilder().batch("B1").op("L1").build()
    for day, hours in ((date(2026, 3, 29), 23), (date(2026, 10, 25), 25), (date(2026, 3, 30), 24)):
        start, end = day_span(work, day)
        assert end - start == hours * 60


def test_people_have_their_settings_approvals_and_benchwork_in_order() -> None:
    tasks = person_lists(*small())
    assert [(t.person, t.task, t.start_min, t.end_min) for t in tasks] == [
        ("Ann", "set", 0, 20), ("Ann", "work", 70, 80), ("Ann", "work", 85, 95),
        ("Ida", "first-off", 46, 51), ("Bob", "set (takes over)", 25, 45),
    ]  # fmt: skip
    assert [t.task for t in person_lists(*small(), person="Ida")] == ["first-off"]
    assert person_lists(*small(), day=date(2026, 3, 24)) == []


def test_a_large_plan_lists_every_operation_on_a_machine_once_in_running_order() -> None:
    work = made_work()
    made = made_plan(work)
    tasks = machine_lists(work, made)
    assert len(tasks) == sum(s.machine is not None for s in made.steps)
    for machine in work.machines:
        own = [t for t in tasks if t.machine == machine.name]
        assert [t.place for t in own] == list(range(1, len(own) + 1))
        assert all(a.run_end_min <= b.start_min for a, b in pairwise(own))


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_csv_cells_never_become_formulas(start: str) -> None:
    """Cells that begin so are run as formulas by spreadsheet programs (a common weakness, CWE-1236)."""
    work, made = small()
    hostile = start + "1+1"
    work = replace(work, batches=tuple(replace(b, name=hostile, part=hostile) for b in work.batches))
    rows = list(csv.DictReader(io.StringIO(machine_csv(machine_lists(work, made)), newline="")))
    assert {row["batch"] for row in rows} == {"'" + hostile}
    assert "'" + hostile in person_csv(person_lists(work, made))


@pytest.mark.parametrize(("cell", "written"), [(-5, -5), (None, ""), ("plain", "plain"), ("a=b", "a=b"), (("a", "b"), "a; b"), (("=a",), "'=a")])  # fmt: skip
def test_other_cells_are_left_alone(cell: object, written: object) -> None:
    assert safe_cell(cell) == written


def test_csv_has_a_heading_and_every_line_of_the_list() -> None:
    work, made = small()
    rows = list(csv.reader(io.StringIO(machine_csv(machine_lists(work, made)))))
    assert tuple(rows[0]) == MACHINE_COLUMNS
    assert len(rows) == 4
    assert rows[1][rows[0].index("setup_by")] == "Ann; Bob"


def test_rows_for_json_are_plain() -> None:
    first = as_rows(machine_lists(*small()))[0]
    assert first["setup_by"] == ["Ann", "Bob"]
    assert all(isinstance(v, str | int | list | None) for v in first.values())
