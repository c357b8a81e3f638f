"""The tiny shop reads into the records it describes; everything wrong is told at once, and nothing else."""

from __future__ import annotations

import csv
import random
from datetime import date, datetime, time
from pathlib import Path

import pytest
from intake_folders import TINY_SHOP, Folder, add, place, put

from planner.faults import DataFaults
from planner.intake import read_shop
from planner.intake.tables import TABLES
from planner.shop import Absence, Alternative, BatchRule, Component, ExtraShift, Hours, Pin, Process, Shop


@pytest.fixture(scope="module")
def shop() -> Shop:
    return read_shop(TINY_SHOP)


def test_the_tiny_shop_fills_every_table(shop: Shop) -> None:
    """So that no table is left untried."""
    for table in TABLES:
        assert len((TINY_SHOP / f"{table.name}.csv").read_text(encoding="utf-8").splitlines()) > 1, table.name
    assert (len(shop.machines), len(shop.people), len(shop.orders), len(shop.batches)) == (5, 4, 5, 2)


def test_settings_are_as_written_and_otherwise_their_defaults(shop: Shop) -> None:
    settings = shop.settings
    assert (settings.plan_start, settings.zone) == (datetime(2026, 3, 23, 8), "Europe/London")
    assert (settings.handover_min, settings.dispatch_cutoff) == (10, time(16, 0))
    assert (settings.setter_may_approve, settings.confidence_percent) == (False, 0)
    assert (settings.start_early, settings.safety_hours) == (False, 16)


def test_closed_days_of_all_calendars_are_in_each(shop: Shop) -> None:
    """``*`` counts for every calendar, a name for that one; an empty last day is the first."""
    closed = {name: [(c.first, c.last) for c in calendar.closed] for name, calendar in shop.calendars.items()}
    friday = (date(2026, 4, 3), date(2026, 4, 3))
    summer = (date(2026, 8, 3), date(2026, 8, 7))
    assert all(friday in days for days in closed.values())
    assert [name for name, days in closed.items() if summer in days] == ["late"]


def test_windows_are_local_times_and_24_00_is_midnight(shop: Shop) -> None:
    hours = shop.calendars["turning"].hours
    assert hours[0] == Hours(0, time(8), time(20), True)
    assert hours[1] == Hours(0, time(20), time(0), False)
    assert shop.calendars["day"].extra == (ExtraShift(date(2026, 3, 28), time(8), time(12), True),)


def test_leave_and_downtime_are_with_whom_they_concern(shop: Shop) -> None:
    assert shop.people["Cleo"].leave == (Absence(datetime(2026, 3, 26, 8), datetime(2026, 3, 26, 16, 30), "dentist"),)
    assert [name for name, machine in shop.machines.items() if machine.downtime] == ["M1"]


def test_a_step_has_every_machine_of_its_group_unless_some_are_listed(shop: Shop) -> None:
    """Listed machines have their own times, or the step's where theirs are empty."""
    body, carrier = shop.routings["GR-110"].operations[0], shop.routings["GR-120"].operations[0]
    assert body.alternatives == (Alternative("L1", 45, 240), Alternative("L2", 45, 240))
    assert carrier.alternatives == (Alternative("L2", 30, 120), Alternative("L1", 40, 100))


def test_operations_stand_in_order_of_number(tmp_path: Path) -> None:
    """As numbers, not as texts: 100 comes after 20."""
    folder = Folder(tmp_path / "shop").edit(
        put("routings", 10, "operation", "100"), put("structure", 2, "operation", "100")
    )
    assert [op.number for op in folder.read().routings["GR-100"].operations] == [20, 100]


def test_a_step_is_as_its_row_says(shop: Shop) -> None:
    turn, mill, _, anodise, check = shop.routings["GR-110"].operations
    assert (turn.family, turn.first_off_skill, turn.first_off_min, turn.setting_pieces) == ("bar 32", "inspect", 15, 2)
    assert (turn.transfer_pieces, turn.unattended_limit_min, turn.equipment) == (20, 120, (("collets 32", 1),))
    assert (mill.pieces_per_cycle, mill.setup_ahead, mill.equipment) == (2, True, (("jaws grinder", 2),))
    assert (anodise.supplier, anodise.process, anodise.charge_key) == ("Bright Coat", "hard anodise", "alloy 6082")
    assert (anodise.piece_price_pence, anodise.move_min, anodise.move_calendar) == (185, 15, "day")
    assert (check.sample_pieces, check.skill, check.charge_key) == (13, "inspect", None)
    assert shop.routings["GR-120"].operations[2].wait_min == 720


def test_parts_structure_and_supply_are_as_written(shop: Shop) -> None:
    assert shop.parts["GR-110"].rule == BatchRule(20, 10, 120)
    assert (shop.parts["GR-120"].split_minimum, shop.parts["GR-120"].combine_within_days) == (20, 7)
    assert (shop.parts["GR-110"].split_minimum, shop.parts["GR-110"].combine_within_days) == (None, None)
    assert (shop.parts["GR-120"].revision, shop.parts["GR-120"].yield_percent) == ("02", 97.5)
    assert shop.structure[0] == Component("GR-100", "GR-120", 1, 10)
    assert shop.stock == {"GR-900": 30, "GR-120": 5}
    assert [(r.reference, r.quantity, r.due) for r in shop.receipts] == [("PO-17", 60, date(2026, 4, 1))]
    assert shop.suppliers["Bright Coat"].processes == (Process("hard anodise", 5, 8500, 450),)
    assert [(c.weekday, c.capacity_pieces) for c in shop.suppliers["Bright Coat"].collections] == [(1, 150), (3, None)]


def test_a_due_date_stays_a_date_and_a_due_moment_a_moment(shop: Shop) -> None:
    assert type(shop.orders["O-1"].due) is date
    assert shop.orders["O-2"].due == datetime(2026, 4, 24, 12)
    assert (shop.orders["O-1"].material_date, shop.orders["O-2"].material_date) == (date(2026, 3, 23), None)
    assert (shop.orders["O-2"].priority, shop.orders["O-2"].note) == ("urgent", "by noon, please")


def test_progress_is_with_its_batch_in_order_of_operation(shop: Shop) -> None:
    done, running = shop.batches["B-2"].progress
    assert (done.operation, done.state, done.good, done.scrap) == (10, "done", 39, 1)
    assert (running.operation, running.state, running.machine, running.setup_left_min) == (20, "running", "M1", 15)
    assert (shop.batches["B-2"].order, shop.batches["B-1"].order) == ("O-3", None)
    assert shop.pins[1] == Pin("O-1-1", 10, None, "Dai", datetime(2026, 4, 8, 8), "Dai is trained on the press")


@pytest.mark.parametrize(("written", "read"), [("", "bar 32"), ("bar 32", "bar 32")])
def test_the_family_of_a_step_that_is_set_is_on_the_machine(tmp_path: Path, written: str, read: str) -> None:
    """Left empty it is that of the step, or the next setup would have no changeover."""
    assert (
        Folder(tmp_path / "shop").edit(put("machines", 2, "on_family", written)).read().machines["L1"].on_family == read
    )


def test_row_order_changes_only_the_order_of_records(tmp_path: Path, shop: Shop) -> None:
    folder = Folder(tmp_path / "shop")
    for table in TABLES:
        path = folder.path / f"{table.name}.csv"
        with path.open(encoding="utf-8", newline="") as file:
            heading, *rows = csv.reader(file)
        random.Random(7).shuffle(rows)
        with path.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows([heading, *rows])
    mixed = folder.read()
    assert mixed.orders == shop.orders
    assert mixed.batches == shop.batches
    assert mixed.changeovers == shop.changeovers
    assert {p: [op.number for op in r.operations] for p, r in mixed.routings.items()} == {
        p: [op.number for op in r.operations] for p, r in shop.routings.items()
    }


def test_every_fault_is_told_at_once_in_order_of_file_and_row(tmp_path: Path) -> None:
    """Files, cells and contradictions together; the message has a line for each."""
    folder = Folder(tmp_path / "shop").edit(
        put("orders", 4, "quantity", "1,250"),
        put("orders", 2, "due", "17/04/2026"),
        put("structure", 2, "component", "GR-130"),
        put("machines", 5, "calendar", "dya"),
        add("stock", "part=GR-900|quantity=1"),
    )
    (folder.path / "odd.csv").write_text("a\n", encoding="utf-8")
    with pytest.raises(DataFaults) as caught:
        folder.read()
    places = [place(fault) for fault in caught.value.faults]
    assert places == [
        ("machines.csv", 5, "calendar"),
        ("odd.csv", None, ""),
        ("orders.csv", 2, "due"),
        ("orders.csv", 4, "quantity"),
        ("stock.csv", 4, "part"),
        ("structure.csv", 2, "component"),
    ]
    assert len(str(caught.value).splitlines()) == len(places)


def free_columns() -> list[object]:
    return [
        pytest.param(table.name, column.name, id=f"{table.name}-{column.name}")
        for table in TABLES
        for column in table.columns
        if column.name not in table.key and (table.name, column.name) != ("settings", "value")
    ]


@pytest.mark.parametrize(("table", "column"), free_columns())
def test_a_cell_the_spreadsheet_could_not_work_out_is_the_only_fault(tmp_path: Path, table: str, column: str) -> None:
    """In no column that is not a key does it make other rows look wrong."""
    fault = Folder(tmp_path / "shop").edit(put(table, 2, column, "#REF!")).only_fault()
    assert place(fault) == (f"{table}.csv", 2, column)


@pytest.mark.parametrize("table", [table.name for table in TABLES])
def test_odd_cells_make_faults_or_a_shop_and_nothing_else(tmp_path: Path, table: str) -> None:
    """Each column in turn, keys as well, with what people and spreadsheets put there."""
    columns = next(t.columns for t in TABLES if t.name == table)
    folder = Folder(tmp_path / "shop")
    path = folder.path / f"{table}.csv"
    original = path.read_bytes()
    for column in columns:
        for value in ("", "0", "7", "x", "*", ";", "#N/A"):
            folder.edit(put(table, 2, column.name, value))
            for fault in folder.faults():
                assert fault.expected and fault.mend
            path.write_bytes(original)
