"""The commands of the day on a store of the small shop: what they say and how they end."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from commands import run
from days import Day

from planner.cli import serving

SHOP = Path(__file__).parent / "data" / "tiny_shop"
GOOD, FAULTS, WRONG_USE = 0, 1, 2
NINE = ("--who", "Ann", "--at", "2026-03-23 09:00")


def data(*words: object) -> dict:
    result = run(*words, "--json")
    assert result.exit_code == GOOD, result.output
    return json.loads(result.stdout)


def test_a_folder_becomes_a_store_and_a_folder_again(tmp_path: Path) -> None:
    result = run("store", SHOP, tmp_path / "s.db", "--who", "Ann")
    assert result.exit_code == GOOD
    assert result.stdout.endswith(f" rows taken into {tmp_path / 's.db'}.\n")
    assert run("unload", tmp_path / "s.db", tmp_path / "out").exit_code == GOOD
    assert {p.name: p.read_bytes() for p in (tmp_path / "out").glob("*.csv")} == {
        p.name: p.read_bytes() for p in SHOP.glob("*.csv")
    }
    orders = tmp_path / "out" / "orders.csv"
    orders.write_text(orders.read_text("utf-8").replace("GR-120,60", "GR-120,75"), "utf-8")
    updated = run("store", tmp_path / "out", tmp_path / "s.db", "--update", *NINE)
    assert updated.stdout == "Entry 2: 1 row taken in from the folder: orders (1).\n"
    assert run("store", SHOP, tmp_path / "other.db", *NINE).exit_code == WRONG_USE, "it begins at its plan start"
    assert not (tmp_path / "other.db").exists()
    again = run("store", SHOP, tmp_path / "s.db")
    assert (again.exit_code, again.stdout) == (FAULTS, "")
    assert "already" in again.stderr


def test_commands_read_a_store_as_they_read_a_folder(day: Day) -> None:
    assert run("check", day.place).stdout == run("check", SHOP).stdout


@pytest.mark.parametrize("shop", ["nowhere", "tests/data/tiny_shop/orders.csv"])
def test_what_is_no_shop_is_a_wrong_use(shop: str) -> None:
    assert run("check", shop).exit_code == WRONG_USE
    assert run("book", SHOP, "good", "B-1", 10).exit_code == WRONG_USE


def test_a_booking_says_what_it_did_and_a_refusal_why(day: Day) -> None:
    booked = run("book", day.place, "good", "B-1", 10, "--good", 5, *NINE)
    assert booked.stdout == "Entry 2: 5 pieces good of batch B-1 operation 10.\n"
    refused = run("book", day.place, "good", "B-1", 10, "--good", 50, *NINE)
    assert refused.exit_code == FAULTS
    assert refused.stderr.startswith(
        "50 pieces can be made at batch B-1 operation 10 so far: 27 good and 1 scrap are booked"
    )
    assert "first-off-passed" in run("book", day.place, "gone", "B-1", 10).stderr
    assert data("undo", day.place, *NINE)["undoes"] == 2
    assert data("undo", day.place, 3, *NINE)["undoes"] == 3
    told = {e["entry"]: e["undone_by"] for e in data("history", day.place)}
    assert told == {2: None, 3: 4, 4: None}
    shown = run("history", day.place).stdout
    assert shown.count("(undone)") == 1
    assert run("undo", day.place, 10**30, *NINE).exit_code == FAULTS


def test_rows_are_looked_at_and_changed_by_who_saw_them_last(day: Day) -> None:
    row = data("rows", day.place, "orders", "--find", "O-3")[0]
    assert (row["version"], row["cells"]["quantity"]) == (1, "60")
    change = ("change", day.place, "orders", "--row", row["row"], "--version", 1)
    assert run(*change, "quantity=75", *NINE).exit_code == GOOD
    stale = run(*change, "quantity=80", *NINE)
    assert stale.exit_code == FAULTS
    assert "quantity 75" in stale.stderr and "Ann at 2026-03-23 09:00" in stale.stderr
    changes = data("history", day.place, "--row", row["row"])
    assert [c["after"]["quantity"] for c in changes] == ["60", "75"]
    assert "60 to 75" in run("history", day.place).stdout


def test_a_row_is_added_and_removed(day: Day) -> None:
    assert run("change", day.place, "stock", "part=GR-110", "quantity=7", *NINE).exit_code == GOOD
    row = data("rows", day.place, "stock", "--find", "GR-110")[0]
    assert run("change", day.place, "stock", "--row", row["row"], "--version", 1, "--remove", *NINE).exit_code == GOOD
    assert data("rows", day.place, "stock", "--find", "GR-110") == []


@pytest.mark.parametrize(
    "words",
    [
        ("stocks", "part=GR-110"),
        ("stock",),
        ("stock", "part"),
        ("stock", "--row", 3, "quantity=4"),
        ("stock", "--remove"),
    ],
)
def test_a_change_that_is_not_said_whole_is_a_wrong_use(day: Day, words: tuple[object, ...]) -> None:
    assert run("change", day.place, *words).exit_code == WRONG_USE


def test_a_fault_of_a_change_is_told_with_its_place(day: Day) -> None:
    result = run("change", day.place, "stock", "part=GR-11O", "quantity=7", *NINE)
    assert result.exit_code == FAULTS
    assert "stock.csv, row 4, column 'part': found 'GR-11O'" in result.stderr


def test_events_are_said_in_a_sentence(day: Day) -> None:
    result = run("event", day.place, "down", "L2", "--until", "2026-03-23 12:00", "--reason", "coolant", *NINE)
    assert result.stdout == "Entry 2: L2 is down from 2026-03-23 09:00 to 2026-03-23 12:00.\n"
    assert run("event", day.place, "van-missed", "Bright Coat", "--day", "2026-03-25", *NINE).exit_code == FAULTS
    assert run("event", day.place, "tea", "L2").exit_code == WRONG_USE


def test_a_plan_waits_is_accepted_and_followed(planned: Day) -> None:
    place = planned.place
    before = data("lists", place, "--machine", "M1")
    assert run("event", place, "down", "M1", "--until", "2026-03-26 16:00", *NINE).exit_code == GOOD
    result = run("replan", place, "--trials", 15, *NINE)
    assert result.exit_code == GOOD
    assert "newly late: O-4" in result.stdout and "Plan 2 waits" in result.stdout
    assert data("lists", place, "--machine", "M1") == before
    assert data("changes", place)["changes"]["words"][0].startswith("1 order newly late")
    assert run("accept", place, *NINE).stdout.endswith("Plan 2 accepted.\n")
    assert data("lists", place, "--machine", "M1") != before
    assert run("unaccept", place, *NINE).exit_code == GOOD
    assert data("lists", place, "--machine", "M1") == before
    assert [p["state"] for p in data("plans", place)] == ["accepted", "waiting"]
    assert run("refuse", place, "--why", "too late", *NINE).exit_code == GOOD


def test_lists_kits_and_vans_of_a_store_follow_no_plan_file(planned: Day, tmp_path: Path) -> None:
    (tmp_path / "plan.json").touch()
    for command in ("lists", "kits", "vans"):
        assert run(command, planned.place, tmp_path / "plan.json").exit_code == WRONG_USE
        assert run(command, planned.place).exit_code == GOOD
        assert run(command, planned.place, "accepted").exit_code == GOOD
    assert run("lists", SHOP).exit_code == WRONG_USE


def test_a_decision_is_timed_again_and_told(planned: Day) -> None:
    """Two batches that the plan runs one after the other on the assembly bench."""
    result = run("decide", planned.place, "hold", "O-2-1", 10, "--until", "2026-04-10 08:00", "--reason", "tool", *NINE)
    assert result.exit_code == GOOD
    assert "not before 2026-04-10 08:00 (tool)" in result.stdout
    assert "Plan 2, timed again without a search, waits" in result.stdout
    moved = run("decide", planned.place, "move", "O-1-1", 10, "--machine", "A1", "--to", "2026-03-24 08:00", *NINE)
    assert "as it stands, that breaks" in moved.stdout


def test_a_decision_with_no_accepted_plan_names_no_plan(planned: Day) -> None:
    assert run("unaccept", planned.place, *NINE).exit_code == GOOD
    result = run("decide", planned.place, "hold", "O-2-1", 10, "--until", "2026-04-10 08:00", *NINE)
    assert result.exit_code == GOOD
    assert "No plan is accepted now" in result.stdout and "None" not in result.stdout
    assert "nothing to be compared with" in run("changes", planned.place).stdout


def test_the_longer_view_is_the_same_of_a_store_as_of_its_folder(day: Day) -> None:
    for command in ("months", "quantities"):
        assert run(command, day.place).exit_code == GOOD
        assert run(command, day.place).stdout == run(command, SHOP).stdout


def test_load_and_limits_of_a_store_are_of_its_accepted_plan(planned: Day) -> None:
    for command, *more in (("load",), ("limits", "--most", 0)):
        said = run(command, planned.place, *more)
        assert said.exit_code == GOOD, said.output
        assert said.stdout == run(command, planned.place, "accepted", *more).stdout
        assert run(command, SHOP, *more).exit_code == WRONG_USE
    assert run("unaccept", planned.place, *NINE).exit_code == GOOD
    for command in ("load", "limits", "lists", "today"):
        said = run(command, planned.place)
        assert (said.exit_code, "no plan is accepted now" in said.stderr) == (FAULTS, True), command


def test_a_store_is_served_with_and_without_an_accepted_plan(planned: Day, monkeypatch: pytest.MonkeyPatch) -> None:
    served: list[object] = []
    monkeypatch.setattr(serving, "run_server", lambda app, host, port: served.append(app))
    with_plan = run("serve", planned.place, "--port", 0)
    assert with_plan.exit_code == GOOD, with_plan.output
    assert run("unaccept", planned.place, *NINE).exit_code == GOOD
    without = run("serve", planned.place, "--port", 0)
    assert (without.exit_code, "No plan is accepted now" in without.stderr) == (GOOD, True)
    told = json.loads(run("serve", planned.place, "--port", 0, "--json").stdout.partition("\nPages on")[0])
    assert told == {"good": False, "message": "No plan is accepted now."}
    assert len(served) == 3
