"""Enquiries kept: provisional orders hold their place until their day, become firm, and files change only then."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from commands import run

from planner.explode import explode
from planner.intake import read_shop
from planner.main_job import read_place
from planner.store.folder import take_in
from tests.explode_shops import order, part, shop

TINY = Path(__file__).parent / "data" / "tiny_shop"
ASK = ("--part", "GR-120", "--qty", "30", "--trials", "60")


@pytest.fixture(scope="module")
def plan_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("plans") / "plan.json"
    assert run("plan", TINY, "--trials", 60, "--out", file).exit_code == 0
    return file


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shutil.copytree(TINY, tmp_path / "shop")
    return tmp_path / "shop"


def bytes_of(folder: Path) -> dict[str, bytes]:
    return {file.name: file.read_bytes() for file in folder.iterdir()}


def test_an_enquiry_leaves_files_byte_equal(folder: Path, plan_file: Path) -> None:
    before, plan = bytes_of(folder), plan_file.read_bytes()
    assert run("date", folder, plan_file, *ASK, "--wanted", "2026-04-01").exit_code == 0
    assert bytes_of(folder) == before
    assert plan_file.read_bytes() == plan


def test_json_has_the_four_answers_and_nothing_else_on_standard_output(plan_file: Path) -> None:
    found = run("date", TINY, plan_file, *ASK, "--wanted", "2026-03-25", "--json")
    answer = json.loads(found.stdout)
    assert set(answer) >= {"behind", "unbroken", "hitting", "part", "assumptions", "notes"}
    assert answer["behind"]["moved"] == []
    assert "plan" not in answer["behind"]


def test_a_kept_enquiry_holds_its_place_and_becomes_firm(folder: Path, plan_file: Path) -> None:
    kept = run(
        "date", folder, plan_file, *ASK, "--wanted", "2026-05-04", "--keep-as", "Q-1", "--hold-until", "2026-04-30"
    )
    assert kept.exit_code == 0, kept.output
    assert read_shop(folder).orders["Q-1"].provisional_until == date(2026, 4, 30)
    assert any(o.number == "Q-1" for o in explode(read_shop(folder)).orders)
    assert run("firm", folder, "Q-1", "--promise", "2026-05-05").exit_code == 0
    firm = read_shop(folder).orders["Q-1"]
    assert (firm.provisional_until, firm.promise) == (None, date(2026, 5, 5))
    again = run("firm", folder, "Q-1")
    assert again.exit_code == 1
    assert "firm order already" in again.output


def test_in_a_store_it_is_an_entry_of_its_history(tmp_path: Path) -> None:
    db, plan = tmp_path / "shop.db", tmp_path / "plan.json"
    assert run("store", TINY, db).exit_code == 0
    assert run("plan", db, "--trials", 30, "--out", plan).exit_code == 0
    words = ("--part", "NEW-1", "--like", "GR-120", "--qty", 30, "--trials", 30, "--wanted", "2026-05-04")
    kept = run("date", db, plan, *words, "--keep-as", "Q-1", "--hold-until", "2026-04-30", "--who", "Mia")
    assert kept.exit_code == 0, kept.output
    order = read_place(db).orders["Q-1"]
    assert (order.part, order.provisional_until) == ("NEW-1", date(2026, 4, 30))
    assert read_place(db).routings["NEW-1"].operations == replace(read_place(db).routings["GR-120"]).operations
    firm = run("firm", db, "Q-1", "--who", "Mia")
    assert firm.exit_code == 0
    assert "which waits to be accepted, has it in its place" in firm.output
    assert read_place(db).orders["Q-1"].provisional_until is None
    told = run("history", db).output
    assert "Enquiry kept as order Q-1" in told and "Order Q-1 made firm" in told and "Mia" in told


def test_a_firm_order_is_told_where_it_has_its_place(tmp_path: Path) -> None:
    """In the accepted plan, else in the one that waits; planned again where a later plan was accepted or none has it."""
    db = tmp_path / "shop.db"
    assert run("store", TINY, db).exit_code == 0
    assert run("replan", db, "--trials", 30, "--at", "2026-03-23 06:00", "--accept").exit_code == 0
    words = ("--trials", 30, "--wanted", "2026-05-04", "--hold-until", "2026-04-30")
    for number in ("Q-1", "Q-2"):
        kept = run("date", db, *ASK, *words, "--keep-as", number)
        assert kept.exit_code == 0, kept.output
    assert run("accept", db, 2).exit_code == 0
    assert "keeps its place in plan 2, the accepted one" in run("firm", db, "Q-1").output
    told = run("firm", db, "Q-2").output
    assert "plan from now on: batchwright replan DB" in told and "plan 3" not in told.lower()


def test_a_number_that_is_taken_is_refused_and_nothing_written(folder: Path, plan_file: Path) -> None:
    before = bytes_of(folder)
    refused = run("date", folder, plan_file, *ASK, "--wanted", "2026-05-04", "--keep-as", "O-1")
    assert refused.exit_code == 1
    assert "O-1" in refused.output
    assert bytes_of(folder) == before


def test_a_new_part_like_another_is_kept_with_its_steps(folder: Path, plan_file: Path) -> None:
    words = ("--part", "NEW-1", "--like", "GR-120", "--qty", 30, "--trials", 60, "--wanted", "2026-05-04")
    kept = run("date", folder, plan_file, *words, "--keep-as", "Q-2")
    assert kept.exit_code == 0, kept.output
    after = read_shop(folder)
    old, new = after.routings["GR-120"].operations, after.routings["NEW-1"].operations
    assert [replace(op) for op in new] == [replace(op) for op in old]


@pytest.mark.parametrize("in_store", [False, True], ids=["folder", "store"])
def test_steps_come_from_a_file_and_their_faults_name_the_row(
    folder: Path, plan_file: Path, tmp_path: Path, in_store: bool
) -> None:
    if in_store:
        take_in(folder, tmp_path / "shop.db", "Ann").close()
        folder = tmp_path / "shop.db"
    steps = tmp_path / "steps.csv"
    steps.write_text(
        "operation,description,kind,group,setup_min,cycle_sec\n10,turn,machine,lathes,30,60\n\n20,turn,machine,lahtes,30,x\n"
    )
    found = run("date", folder, plan_file, "--part", "NEW-1", "--steps", steps, "--qty", 5, "--trials", 60)
    assert found.exit_code == 1
    assert "steps.csv, row 4, column 'group'" in found.output
    assert "steps.csv, row 4, column 'cycle_sec'" in found.output
    steps.write_text("operation,description,kind,group,setup_min,cycle_sec\n10,turn,machine,lathes,30,60,7\n20\n")
    odd = run("date", folder, plan_file, "--part", "NEW-1", "--steps", steps, "--qty", 5, "--trials", 60)
    assert odd.exit_code == 1
    assert "steps.csv, row 2: found '7 cells" in odd.output and "steps.csv, row 3: found '1 cell" in odd.output
    steps.write_bytes(
        "Operation , DESCRIPTION,kind,group,setup_min,cycle_sec\n10,turn,machine,lathes,30,60\n".encode("utf-16")
    )
    assert "UTF-16" in run("date", folder, plan_file, "--part", "NEW-1", "--steps", steps, "--qty", 5).output
    steps.write_text("Operation , DESCRIPTION,kind,group,setup_min,cycle_sec\n\n10,turn,machine,lathes,30,60\n")
    good = run("date", folder, plan_file, "--part", " NEW\u00a01 ", "--steps", steps, "--qty", 5, "--trials", 60)
    assert good.exit_code == 0, good.output
    assert "5 of NEW 1" in good.output


@pytest.mark.parametrize("in_store", [False, True], ids=["folder", "store"])
@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("operation,description,kind,group,setup_min,cycle_sec,moov_min\n10,turn,machine,lathes,30,60,500\n", "row 1, column 'moov_min'"),
        ("operation,description,kind,group,setup_min,cycle_sec,setup_min\n10,turn,machine,lathes,30,60,5\n", "each heading once"),
        ("operation,description,kind,grup,setup_min,cycle_sec\n10,turn,machine,lathes,30,60\n", "Did you mean 'group'"),
        ("part,operation,description,kind\nX,10,turn,machine\n", "row 1, column 'part'"),
        ("operation;description;kind\n10;turn;machine\n", "headings separated by semicolons"),
        ("operation,description,kind,group,setup_min,cycle_sec\n10,turn,machine,lathes,30,60\n10,turn,machine,lathes,30,60\n", "row 3, column 'operation'"),
        ("", "The file is empty"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_file_of_steps_is_told_of_that_file(
    folder: Path, plan_file: Path, tmp_path: Path, in_store: bool, text: str, said: str
) -> None:
    if in_store:
        take_in(folder, tmp_path / "shop.db", "Ann").close()
        folder = tmp_path / "shop.db"
    steps = tmp_path / "steps.csv"
    steps.write_text(text)
    found = run("date", folder, plan_file, "--part", "NEW-1", "--steps", steps, "--qty", 5, "--trials", 60)
    assert found.exit_code == 1
    assert "steps.csv" in found.output and said in found.output
    assert "routings.csv" not in found.output


@pytest.mark.parametrize(
    "words",
    [
        ("--hold-until", "2026-05-01"),
        ("--keep-as", "Q-9"),
        ("--like", "GR-120", "--steps", TINY / "orders.csv"),
        ("--seconds", 2),
        ("--wanted", "4 May"),
    ],
)
def test_wrong_use_ends_with_2(plan_file: Path, words: tuple[object, ...]) -> None:
    assert run("date", TINY, plan_file, *ASK, *words).exit_code == 2


@pytest.mark.parametrize(("until", "there"), [(date(2026, 3, 23), True), (date(2026, 3, 22), False)])
def test_a_provisional_order_is_left_out_after_its_day(until: date, there: bool) -> None:
    """The plan starts on the 23rd."""
    work = explode(shop((order("A", "P", 5, provisional_until=until),), (part("P"),)))
    assert [o.number for o in work.orders] == (["A"] if there else [])
    assert any("provisional" in line for line in work.left_out) is not there


@pytest.mark.parametrize("sure", ["95", "95%", "0.95"])
def test_how_sure_is_understood_as_a_share_and_in_per_cent(plan_file: Path, sure: str) -> None:
    found = run("date", TINY, plan_file, *ASK, "--sure", sure, "--json")
    assert json.loads(found.stdout)["behind"]["sure_percent"] == 95
    risk = run("risk", TINY, plan_file, "--draws", 20, "--sure", sure, "--json")
    assert json.loads(risk.stdout)["sure_percent"] == 95


@pytest.mark.parametrize("sure", ["0", "100", "0.955", "much"])
def test_a_chance_that_is_none_is_wrong_use(plan_file: Path, sure: str) -> None:
    assert run("date", TINY, plan_file, *ASK, "--sure", sure).exit_code == 2


def test_the_terminal_shows_where_it_runs_and_tells_answers_as_they_come(plan_file: Path) -> None:
    found = run("date", TINY, plan_file, *ASK, "--wanted", "2026-03-25")
    assert "where it runs" in found.stdout
    assert "The enquiry (30 of GR-120) is ready" in found.stdout.replace("\n", " ")
    assert "behind everything:" in found.stderr
    assert "without breaking a promise:" in found.stderr
