"""The commands on the small shop: what they say, what they write, and how they end."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
from pathlib import Path

import pytest
import typer
from commands import run

from planner import main_job
from planner.cli import planning, serving
from planner.planfile import accepted_steps, planned_against
from planner.verify import Breach

SHOP = Path(__file__).parent / "data" / "tiny_shop"
GOOD, FAULTS, WRONG_USE = 0, 1, 2


def told(text: str) -> str:
    """However its lines are broken."""
    return " ".join(text.split())


@pytest.fixture(scope="module")
def plan_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("plan") / "plan.json"
    result = run("plan", SHOP, "--trials", 20, "--seed", 3, "--out", file)
    assert result.exit_code == GOOD, result.output
    return file


@pytest.fixture
def broken_shop(tmp_path: Path) -> Path:
    """The small shop with an order for a part that there is not, and a due that is no date."""
    folder = tmp_path / "shop"
    shutil.copytree(SHOP, folder)
    text = (folder / "orders.csv").read_text("utf-8")
    (folder / "orders.csv").write_text(text.replace("GR-120", "GR-999").replace("2026-03-30", "30/3/26"), "utf-8")
    return folder


# --- check -----------------------------------------------------------------------------------


def test_check_says_what_there_is_to_plan() -> None:
    result = run("check", SHOP)
    assert result.exit_code == GOOD
    assert "no faults" in result.stdout
    assert "5 orders" in result.stdout
    assert "O-2" in result.stdout  # the assumption about its material


def test_check_lists_every_fault_with_its_place(broken_shop: Path) -> None:
    result = run("check", broken_shop)
    assert result.exit_code == FAULTS
    assert "orders.csv, row 4, column 'part': found 'GR-999'" in result.stderr
    assert "30/3/26" in result.stderr
    assert result.stdout == ""


@pytest.mark.parametrize(("days", "said"), [(["03-30"], "1 fault in"), (["03-30", "04-08"], "2 faults in")])
def test_faults_are_counted(tmp_path: Path, days: list[str], said: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """One for each due that is no date."""
    folder = tmp_path / "shop"
    shutil.copytree(SHOP, folder)
    text = (folder / "orders.csv").read_text("utf-8")
    for day in days:
        text = text.replace(f"2026-{day}", "soon")
    (folder / "orders.csv").write_text(text, "utf-8")
    monkeypatch.setattr(serving, "run_server", lambda app, host, port: None)
    assert run("check", folder).stderr.startswith(said)
    assert f"\n{said}" in run("serve", folder, "--port", 0).stderr


def test_check_gives_faults_as_json(broken_shop: Path) -> None:
    result = run("check", broken_shop, "--json")
    assert result.exit_code == FAULTS
    data = json.loads(result.stdout)
    assert data["good"] is False
    assert {"file", "row", "column", "value", "expected", "mend"} == set(data["faults"][0])


# --- plan ------------------------------------------------------------------------------------


def test_plan_writes_a_verified_plan_and_says_what_it_comes_to(tmp_path: Path) -> None:
    result = run("plan", SHOP, "--trials", 5, "--out", tmp_path / "p.json")
    assert result.exit_code == GOOD
    for words in (
        "on time",
        "limiting group",
        "bound",
        "cost, first tier",
        "state",
        "people decide",
        "Verified and written",
    ):
        assert words in result.stdout
    assert accepted_steps(tmp_path / "p.json")


def test_plan_writes_to_the_current_folder_and_never_into_the_shop(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop = tmp_path / "shop"
    shutil.copytree(SHOP, shop)
    before = sorted(shop.iterdir())
    monkeypatch.chdir(tmp_path)
    assert run("plan", shop, "--trials", 1).exit_code == GOOD
    assert sorted(shop.iterdir()) == before
    assert (tmp_path / "plan.json").exists()


def test_the_same_seed_and_trials_give_the_same_operations(tmp_path: Path, plan_file: Path) -> None:
    again = tmp_path / "again.json"
    assert run("plan", SHOP, "--trials", 20, "--seed", 3, "--out", again).exit_code == GOOD
    one, two = (json.loads(file.read_text("utf-8")) for file in (plan_file, again))
    one.pop("seconds")
    two.pop("seconds")
    assert one == two


def test_plan_as_json_has_nothing_else_on_standard_output(tmp_path: Path) -> None:
    result = run("plan", SHOP, "--trials", 1, "--out", tmp_path / "p.json", "--json")
    data = json.loads(result.stdout)
    assert data["good"] is True
    assert data["cost"]["first"] == data["cost"]["late"] + data["cost"]["change"]
    assert data["orders_on_time"] + data["orders_late"] == data["orders"] == 5


def test_a_plan_made_to_stay_close_can_be_read_again(tmp_path: Path, plan_file: Path) -> None:
    """What it was kept close to is part of its data and travels in the file."""
    kept = tmp_path / "kept.json"
    assert run("plan", SHOP, "--trials", 1, "--keep", plan_file, "--out", kept).exit_code == GOOD
    assert planned_against(kept) == accepted_steps(plan_file)
    assert run("verify", SHOP, kept).exit_code == GOOD


def test_a_plan_that_breaks_a_rule_is_never_written_or_shown(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    breach = Breach("1 machine", "L1 does two things at once", "one", "two")
    monkeypatch.setattr(main_job, "verify", lambda work, plan: [breach])
    for more in ([], ["--json"]):
        result = run("plan", SHOP, "--trials", 1, "--out", tmp_path / "p.json", *more)
        assert result.exit_code == FAULTS
        assert "L1 does two things at once" in result.output
        assert "limiting" not in result.output
    assert list(tmp_path.iterdir()) == []


def test_ctrl_c_keeps_the_best_so_far(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    search = main_job.search

    def pressed(*args, **choices):
        signal.raise_signal(signal.SIGINT)
        return search(*args, **choices)

    monkeypatch.setattr(main_job, "search", pressed)
    before = signal.getsignal(signal.SIGINT)
    result = run("plan", SHOP, "--seconds", 3600, "--out", tmp_path / "p.json")
    assert result.exit_code == GOOD
    assert signal.getsignal(signal.SIGINT) is before
    assert accepted_steps(tmp_path / "p.json")


def test_a_second_ctrl_c_breaks_off() -> None:
    with planning.stop_on_ctrl_c() as stop:
        assert not stop()
        signal.raise_signal(signal.SIGINT)
        assert stop()
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)


# --- wrong use -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "words",
    [
        ("check", "no such folder"), ("check",), ("check", SHOP / "orders.csv"), ("no such command",),
        ("plan", SHOP, "--seconds", "1", "--trials", "1"), ("plan", SHOP, "--seconds", "0"), ("plan", SHOP, "--trials", "0"),
        ("plan", SHOP, "--trials", "many"), ("plan", SHOP, "--trials", "1", "--out", "no/such/folder/p.json"),
        ("plan", SHOP, "--keep", "none.json"), ("verify", SHOP, "none.json"), ("verify", SHOP), ("serve", SHOP, "--plan", "none.json"),
        ("serve", SHOP, "--port", "70000"),
    ],
    ids=str,
)  # fmt: skip
def test_wrong_use_ends_with_2_and_no_trace(words: tuple[object, ...]) -> None:
    result = run(*words)
    assert result.exit_code == WRONG_USE
    assert "Traceback" not in result.output


@pytest.mark.parametrize(
    "more",
    [
        ("--machine", "L9"),
        ("--person", "Eve"),
        ("--day", "7 April"),
        ("--day", "9999-12-31"),
        ("--machine", "L1", "--people"),
        ("--csv", "--json"),
    ],
    ids=str,
)
def test_lists_refuse_what_they_cannot_show(plan_file: Path, more: tuple[str, ...]) -> None:
    result = run("lists", SHOP, plan_file, *more)
    assert result.exit_code == WRONG_USE


# --- verify and faults in plan files ---------------------------------------------------------


def test_verify_passes_a_good_plan(plan_file: Path) -> None:
    result = run("verify", SHOP, plan_file)
    assert result.exit_code == GOOD
    assert "Every rule holds" in result.stdout
    assert json.loads(run("verify", SHOP, plan_file, "--json").stdout)["breaches"] == []


def test_verify_lists_what_a_changed_plan_breaks(plan_file: Path, tmp_path: Path) -> None:
    document = json.loads(plan_file.read_text("utf-8"))
    document["cost"]["wip"] += 1
    bad = tmp_path / "bad.json"
    bad.write_text(json.dumps(document), "utf-8")
    result = run("verify", SHOP, bad)
    assert result.exit_code == FAULTS
    assert "cost" in result.stderr
    data = json.loads(run("verify", SHOP, bad, "--json").stdout)
    assert [b["rule"] for b in data["breaches"]] == ["cost"]


@pytest.mark.parametrize("command", ["verify", "load", "limits", "orders", "lists", "kits", "vans"])
def test_no_answer_is_given_from_a_plan_for_other_data(command: str, plan_file: Path, tmp_path: Path) -> None:
    shop = tmp_path / "shop"
    shutil.copytree(SHOP, shop)
    text = (shop / "stock.csv").read_text("utf-8")
    (shop / "stock.csv").write_text(text.replace("GR-120,5", "GR-120,6"), "utf-8")
    result = run(command, shop, plan_file)
    assert result.exit_code == FAULTS
    assert "made for other data; plan again" in result.stderr
    assert result.stdout == ""


def test_a_damaged_plan_file_is_a_fault_in_plain_words(tmp_path: Path) -> None:
    (tmp_path / "p.json").write_text("{", "utf-8")
    result = run("orders", SHOP, tmp_path / "p.json")
    assert result.exit_code == FAULTS
    assert "damaged" in result.stderr


# --- answers ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("command", "words"),
    [
        ("load", ("lathes", "2026-W13", "set lathes", "Bright Coat", "Machines")),
        ("limits", ("2026-W13", "lathes", "an estimate for the long run", "people decide")),
        ("orders", ("O-2", "Hillside Roasters", "Fri 24 Apr 2026 12:00", "early or late", "of 5 late")),
        ("lists", ("L1", "collets 32", "Mon 23 Mar 2026", "no need before", "at the latest")),
        ("kits", ("GR-100", "receipt PO-17", "GR-110")),
        ("vans", ("Bright Coat", "hard anodise", "Charges in all")),
    ],
)
def test_answers_are_tables_and_json(command: str, words: tuple[str, ...], plan_file: Path) -> None:
    more = ("--trials", 20) if command == "limits" else ()
    result = run(command, SHOP, plan_file, *more)
    assert result.exit_code == GOOD, result.output
    for word in words:
        assert word in result.stdout
    as_json = run(command, SHOP, plan_file, "--json", *more)
    assert as_json.exit_code == GOOD
    assert json.loads(as_json.stdout)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--by", "day"), ("by day", "2026-03-23")),
        (("--as", "latest"), ("latest dates", "2026-W1")),
        (("--as", "backlog", "--by", "week"), ("running totals", "2026-W13")),
    ],
)
def test_load_is_seen_in_three_ways_by_week_or_day(
    options: tuple[str, ...], words: tuple[str, ...], plan_file: Path
) -> None:
    result = run("load", SHOP, plan_file, *options)
    assert result.exit_code == GOOD, result.output
    for word in words:
        assert word in result.stdout
    assert json.loads(run("load", SHOP, plan_file, "--json", *options).stdout)["rows"]
    assert run("load", SHOP, plan_file, "--as", "hoped").exit_code == WRONG_USE


def test_load_of_some_kinds_and_names_only(plan_file: Path) -> None:
    result = run("load", SHOP, plan_file, "--kind", "group", "--kind", "outside", "--name", "lathes")
    assert result.exit_code == GOOD, result.output
    assert "of it released" in result.stdout
    assert not any(word in result.stdout for word in ("Machines:", "Skills:", "Outside firms:", "cautions"))
    found = json.loads(run("load", SHOP, plan_file, "--name", "lathes", "--name", "L1", "--json").stdout)
    assert {(r["kind"], r["name"]) for r in found["rows"]} == {("group", "lathes"), ("machine", "L1")}
    wrong = run("load", SHOP, plan_file, "--kind", "machine", "--name", "l-1", "--name", "mill 9")
    assert wrong.exit_code == WRONG_USE
    for words in ("there is no machine 'l-1'", "Did you mean 'L1'?", "there is no machine 'mill 9'"):
        assert words in told(wrong.stderr)


@pytest.mark.parametrize(
    ("view", "words"),
    [
        ("planned", "what the plan sets and runs in attended time, of the counted hours"),
        ("latest", "what falls into the period at its latest dates"),
        ("backlog", "all that has to be done by the end of the period"),
    ],
)
def test_percent_is_explained_for_each_way_and_cautions_come_once(
    view: str, words: str, plan_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Cautions are of the plan: they are told where the load is the plan's."""
    monkeypatch.setattr("planner.cli.load.cautions", lambda *_: ["Mind the lathe."])
    text = told(run("load", SHOP, plan_file, "--as", view).stdout)
    assert words in text and "Counted hours: attended hours after" in text
    assert ("released %" in text) == (view == "backlog")
    assert ("Mind the lathe." in text) == (view == "planned")
    assert ("minding" in json.loads(run("load", SHOP, plan_file, "--as", view, "--json").stdout)) == (view == "planned")


def test_months_are_a_table_and_json() -> None:
    result = run("months", SHOP, "--months", 6)
    assert result.exit_code == GOOD, result.output
    for word in ("2026-04", "lathes", "set mills", "How many fit in", "GR-100", "cost, pounds", "people decide"):
        assert word in result.stdout
    assert len(json.loads(run("months", SHOP, "--json").stdout)["months"]) == 6
    assert run("months", SHOP, "--part", "GR-1").exit_code == WRONG_USE


def test_quantities_are_a_table_and_json() -> None:
    result = run("quantities", SHOP)
    assert result.exit_code == GOOD, result.output
    for word in ("GR-110", "grinder body", "hard anodise", "95 % sure", "limiting group", "people decide"):
        assert word in result.stdout
    found = json.loads(run("quantities", SHOP, "--part", "GR-110", "--json").stdout)
    assert [q["part"] for q in found["parts"]] == ["GR-110"]
    assert run("quantities", SHOP, "--part", "GR-900").exit_code == WRONG_USE


@pytest.mark.parametrize("command", ["months", "quantities"])
def test_longer_views_list_faults_of_the_tables(command: str, broken_shop: Path) -> None:
    result = run(command, broken_shop)
    assert result.exit_code == FAULTS
    assert "orders.csv, row 4, column 'part'" in result.stderr


def test_lists_are_filtered_by_machine_and_day(plan_file: Path) -> None:
    rows = json.loads(run("lists", SHOP, plan_file, "--machine", "L1", "--day", "2026-03-23", "--json").stdout)
    assert rows
    assert {row["machine"] for row in rows} == {"L1"}
    assert all(row["start_at"] < "2026-03-24" for row in rows)


def test_lists_as_csv_open_in_a_spreadsheet(plan_file: Path) -> None:
    rows = list(csv.DictReader(io.StringIO(run("lists", SHOP, plan_file, "--csv").stdout)))
    assert {"machine", "start", "setup_by", "next_step"} <= set(rows[0])
    people = list(csv.DictReader(io.StringIO(run("lists", SHOP, plan_file, "--people", "--csv").stdout)))
    assert {row["person"] for row in people} <= {"Ada", "Ben", "Cleo", "Dai"}
    ada = json.loads(run("lists", SHOP, plan_file, "--person", "Ada", "--json").stdout)
    assert {row["person"] for row in ada} == {"Ada"}


def test_names_with_brackets_are_shown_as_they_are(tmp_path: Path) -> None:
    shop = tmp_path / "shop"
    shutil.copytree(SHOP, shop)
    text = (shop / "orders.csv").read_text("utf-8")
    (shop / "orders.csv").write_text(text.replace("Northgate Tools", "[bold]North[/]gate"), "utf-8")
    out = tmp_path / "p.json"
    assert run("plan", shop, "--trials", 1, "--out", out).exit_code == GOOD
    assert "[bold]North[/]gate" in run("orders", shop, out).stdout


# --- serve -----------------------------------------------------------------------------------


@pytest.fixture
def served(monkeypatch: pytest.MonkeyPatch) -> list[tuple[object, str, int]]:
    """What would have been served, instead of serving it for ever."""
    calls: list[tuple[object, str, int]] = []
    monkeypatch.setattr(serving, "run_server", lambda app, host, port: calls.append((app, host, port)))
    return calls


def test_serve_shows_a_plan_on_this_machine_only(plan_file: Path, served: list) -> None:
    result = run("serve", SHOP, "--plan", plan_file, "--port", 0)
    assert result.exit_code == GOOD, result.output
    ((_, host, port),) = served
    assert host == "127.0.0.1"
    assert f"http://127.0.0.1:{port}/" in result.stdout
    assert "no password" not in result.stdout


def test_serve_warns_when_others_can_look(plan_file: Path, served: list) -> None:
    result = run("serve", SHOP, "--plan", plan_file, "--port", 0, "--host", "0.0.0.0")
    assert "no password" in result.stdout
    assert "0.0.0.0" not in result.stdout, "no address that another machine can open"
    assert re.search(r"http://[\w.-]+:\d+/", result.stdout)


def test_serve_without_a_plan_makes_one(served: list) -> None:
    result = run("serve", SHOP, "--seconds", 0.5, "--port", 0)
    assert result.exit_code == GOOD, result.output
    assert "limiting group" in result.stdout
    assert len(served) == 1


def test_serve_shows_faults_on_the_page(broken_shop: Path, served: list) -> None:
    result = run("serve", broken_shop, "--port", 0)
    assert result.exit_code == FAULTS
    assert "the page lists them" in result.stderr
    assert len(served) == 1


def test_a_port_in_use_is_a_wrong_use() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(typer.BadParameter, match="cannot serve"):
            serving.free_port("127.0.0.1", taken.getsockname()[1])


# --- as a program ----------------------------------------------------------------------------


def test_the_module_is_the_command() -> None:
    """Also with a locale and a terminal that know no Unicode."""
    environment = {**os.environ, "PYTHONIOENCODING": "ascii", "LC_ALL": "C"}
    done = subprocess.run(
        [sys.executable, "-m", "planner", "check", str(SHOP)], capture_output=True, text=True, env=environment
    )
    assert done.returncode == GOOD, done.stderr
    assert "Tiny test shop: no faults" in done.stdout


# --- why -------------------------------------------------------------------------------------


def test_why_says_a_sentence_a_table_and_that_it_adds_up(plan_file: Path) -> None:
    order = json.loads(run("orders", SHOP, plan_file, "--json").stdout)[0]
    result = run("why", SHOP, plan_file, order["order"])
    assert result.exit_code == GOOD, result.output
    assert result.stdout.startswith(f"{order['order']} is ready ")
    assert "Step by step" in result.stdout and "Checked: they add up." in result.stdout
    told = json.loads(run("why", SHOP, plan_file, order["order"], "--json").stdout)
    assert told["finish_min"] == order["expected_min"] and told["late_min"] == order["late_min"]
    assert f"{told['lead_min']:,} minutes in all" in result.stdout
    assert sum(c["minutes"] for c in told["causes"]) == told["lead_min"]


def test_why_of_a_batch_has_no_due_date(plan_file: Path) -> None:
    batch = json.loads(run("lists", SHOP, plan_file, "--json").stdout)[0]["batch"]
    told = json.loads(run("why", SHOP, plan_file, "--batch", batch, "--json").stdout)
    assert told["batch"] is True and told["due_min"] is None and told["legs"]


def test_why_without_an_order_has_a_sentence_for_each_late_one(plan_file: Path) -> None:
    late = [row["order"] for row in json.loads(run("orders", SHOP, plan_file, "--json").stdout) if row["late"]]
    told = json.loads(run("why", SHOP, plan_file, "--json").stdout)
    assert [row["order"] for row in told] == late
    lines = run("why", SHOP, plan_file).stdout.splitlines()
    assert lines == ([row["sentence"] for row in told] or ["No order is late."])


@pytest.mark.parametrize("words", [["O-99"], ["--batch", "nothing like it"], ["O-1", "--batch", "B-1"]])
def test_why_of_an_unknown_name_is_wrong_use(plan_file: Path, words: list[str]) -> None:
    result = run("why", SHOP, plan_file, *words)
    assert result.exit_code == WRONG_USE
    assert "Traceback" not in result.output
    assert ("not both" if len(words) == 3 else "The plan has no") in result.stderr


def test_why_shows_nothing_that_the_check_refuses(plan_file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from planner.answers import why

    monkeypatch.setattr(why, "verify_chains", lambda *_: [Breach("chain sum", "minutes of all parts", "10", "9")])
    result = run("why", SHOP, plan_file, "O-1")
    assert (result.exit_code, result.stdout) == (FAULTS, "")
    assert "chain sum: minutes of all parts: expected 10, found 9" in result.stderr
