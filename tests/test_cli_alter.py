"""``whatif`` and ``sooner`` on the small shop: what they say, what they keep, and that they touch nothing else."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from commands import run
from typer.testing import Result

from planner.alter import KINDS
from planner.alter.named import FILE
from planner.answers.wording import pounds

TINY = Path(__file__).parent / "data" / "tiny_shop"
GOOD, FAULTS, WRONG_USE = 0, 1, 2


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("alter")
    shutil.copytree(TINY, folder / "shop")
    result = run("plan", folder / "shop", "--trials", 20, "--seed", 3, "--out", folder / "plan.json")
    assert result.exit_code == GOOD, result.output
    return folder


@pytest.fixture
def asked(made: Path, tmp_path: Path) -> tuple[Path, Path]:
    """A shop of its own with a plan."""
    shutil.copytree(made / "shop", tmp_path / "shop")
    shutil.copy(made / "plan.json", tmp_path / "plan.json")
    return tmp_path / "shop", tmp_path / "plan.json"


def files(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def document(result: Result) -> Any:
    assert result.exit_code == GOOD, result.output
    return json.loads(result.stdout)


# --- whatif -------------------------------------------------------------------------------------


def test_without_a_change_it_says_so(asked: tuple[Path, Path]) -> None:
    result = run("whatif", *asked)
    assert result.exit_code == GOOD
    assert "No change: all that is planned stays the same." in result.stdout


def test_a_change_in_words_and_as_json(asked: tuple[Path, Path]) -> None:
    words = ("--drop", "O-3", "--due=O-4 to 2026-04-30", "--trials", 5)
    text = run("whatif", *asked, *words)
    assert text.exit_code == GOOD, text.output
    assert "Order O-3 taken out." in text.stdout
    row = document(run("whatif", *asked, *words, "--json"))
    assert row["good"] is True
    assert [o["order"] for o in row["orders"] if o["what"] == "removed"] == ["O-3"]
    assert row["said"] == [{"kind": "drop", "order": "O-3"}, {"kind": "due", "order": "O-4", "due": "2026-04-30"}]


def test_nothing_is_written_but_what_is_kept_on_purpose(asked: tuple[Path, Path]) -> None:
    shop, plan = asked
    before = files(shop.parent)
    run("whatif", shop, plan, "--drop", "O-3", "--trials", 2)
    run("whatif", shop, plan, "--list")
    run("whatif", shop, plan, "--kinds")
    run("sooner", shop, plan, "O-4", "--by", "2026-03-25", "--trials", 2)
    assert files(shop.parent) == before
    run("whatif", shop, plan, "--drop", "O-3", "--trials", 2, "--save", "without")
    after = files(shop.parent)
    assert after.pop(f"shop/{FILE}")
    assert after == before


def test_a_kept_question_is_listed_asked_again_and_removed(asked: tuple[Path, Path]) -> None:
    assert run("whatif", *asked, "--drop", "O-3", "--trials", 2, "--save", "without").exit_code == GOOD
    assert "Order O-3 taken out." in run("whatif", *asked, "--list").stdout
    again = document(run("whatif", *asked, "--name", "without", "--drop", "O-4", "--trials", 2, "--json"))
    assert [row["order"] for row in again["said"]] == ["O-3", "O-4"]
    assert run("whatif", *asked, "--forget", "without").exit_code == GOOD
    assert document(run("whatif", *asked, "--list", "--json")) == {}


def never(*_args: object, **_how: object) -> None:
    raise AssertionError("planned")


def test_what_cannot_be_kept_is_told_before_the_planning(
    asked: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("planner.cli.whatif.replan", never)
    (asked[0] / FILE).write_text("{", "utf-8")
    result = run("whatif", *asked, "--drop", "O-3", "--trials", 2, "--save", "without")
    assert result.exit_code == FAULTS, result.output
    assert FILE in result.stderr


def test_changes_that_do_not_fit_are_not_kept(asked: tuple[Path, Path]) -> None:
    assert run("whatif", *asked, "--drop", "O-33", "--trials", 2, "--save", "without").exit_code == FAULTS
    assert not (asked[0] / FILE).exists()


def test_a_kept_question_does_not_stand_in_the_way_of_planning(asked: tuple[Path, Path]) -> None:
    shop, plan = asked
    run("whatif", shop, plan, "--drop", "O-3", "--trials", 2, "--save", "without")
    assert run("verify", shop, plan).exit_code == GOOD
    assert run("check", shop).exit_code == GOOD


def test_what_does_not_fit_ends_with_every_fault(asked: tuple[Path, Path]) -> None:
    result = run("whatif", *asked, "--drop", "O-33", "--down", "L9 from 2026-03-24 to 2026-03-23", "--json")
    assert result.exit_code == FAULTS
    row = json.loads(result.stdout)
    assert [f["found"] if "found" in f else f["value"] for f in row["faults"]] == ["O-33", "L9"]
    text = run("whatif", *asked, "--drop", "O-33")
    assert text.exit_code == FAULTS
    assert "Did you mean 'O-3'" in text.stderr


@pytest.mark.parametrize(
    "words", [("--drp", "O-3"), ("--drop",), ("O-3",), ("--drop", "--list2"), ("--seconds", 1, "--trials", 1)]
)
def test_wrong_use_says_how_it_is_said(asked: tuple[Path, Path], words: tuple[object, ...]) -> None:
    result = run("whatif", *asked, *words)
    assert result.exit_code == WRONG_USE
    assert "Traceback" not in result.output


def test_changes_without_a_plan_are_told_that_one_comes_first(asked: tuple[Path, Path]) -> None:
    result = run("whatif", asked[0], "--drop", "O-3")
    assert result.exit_code == WRONG_USE
    assert "name a plan before '--drop'" in " ".join(result.output.replace("│", " ").split())


def test_every_kind_is_in_the_list_of_kinds(asked: tuple[Path, Path]) -> None:
    text = run("whatif", *asked, "--kinds").stdout
    assert run("whatif", asked[0], "--kinds").stdout == text, "no plan is needed for a list"
    assert run("whatif", asked[0], "--list").exit_code == GOOD
    assert all(f"--{kind} " in text for kind in KINDS)
    assert set(document(run("whatif", *asked, "--kinds", "--json"))) == set(KINDS)


# --- sooner -------------------------------------------------------------------------------------


def test_ways_to_have_an_order_sooner(asked: tuple[Path, Path]) -> None:
    words = ("O-2", "--by", "2026-03-27", "--trials", 3)
    text = run("sooner", *asked, *words)
    assert text.exit_code == GOOD, text.output
    assert "Plan again with this order first." in text.stdout
    assert "Weighed: an extra hour of a person 35.00 pounds" in text.stdout
    row = document(run("sooner", *asked, *words, "--json"))
    assert row["ways"][0]["alterations"] == []
    assert all(set(way["alterations"][0]) > {"kind"} for way in row["ways"][1:])


def test_an_unknown_order_and_a_date_that_is_none(asked: tuple[Path, Path]) -> None:
    unknown = run("sooner", *asked, "O-22", "--by", "2026-03-27")
    assert unknown.exit_code == FAULTS
    assert "Did you mean 'O-2'" in unknown.stderr
    assert run("sooner", *asked, "O-2", "--by", "soon").exit_code == WRONG_USE


def test_a_day_before_the_plan_and_one_that_is_kept_already(asked: tuple[Path, Path]) -> None:
    early = run("sooner", *asked, "O-2", "--by", "2020-01-01")
    assert early.exit_code == FAULTS
    assert "expected a time after the plan start" in early.stderr
    kept = run("sooner", *asked, "O-2", "--by", "2026-06-30")
    assert kept.exit_code == GOOD
    assert "planned in time already" in kept.stdout
    row = document(run("sooner", *asked, "O-2", "--by", "2026-06-30", "--json"))
    assert (row["already"], row["ways"]) == (True, [])


def test_ways_asked_of_an_enquiry(asked: tuple[Path, Path]) -> None:
    """An order that is only asked for is added first, and planned with nobody hurt."""
    words = ("E-1", "--order", "E-1 for 5 of GR-110 by 2026-04-30 class normal", "--by", "2026-03-27", "--trials", 3)
    row = document(run("sooner", *asked, *words, "--json"))
    assert row["order"] == "E-1"
    assert row["ways"]


def test_as_what_if_an_enquiry_is_asked_with_itself(asked: tuple[Path, Path]) -> None:
    words = ("E-1", "--order", "E-1 for 5 of GR-110 by 2026-04-30 class normal", "--by", "2026-03-23", "--trials", 3)
    text = run("sooner", *asked, *words).stdout
    lines = text.partition("to ask it as what if")[2].partition("cautions")[0].split(" - ")[1:]
    assert lines
    assert all(line.startswith('--order "E-1 for 5 of GR-110 by 2026-04-30') for line in lines)


@pytest.mark.parametrize("words", [("--seconds", 8), ()])
def test_the_seconds_are_for_the_changes_and_the_ways_together(
    asked: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch, words: tuple[object, ...]
) -> None:
    spent: list[float] = []
    monkeypatch.setattr(
        "planner.cli.sooner.with_changes", lambda job, *_args, seconds, **_how: spent.append(seconds) or job
    )
    monkeypatch.setattr("planner.cli.sooner.find_ways", lambda *_args, seconds, **_how: spent.append(seconds) or [])
    run("sooner", *asked, "O-2", "--drop", "O-3", "--by", "2026-03-27", *words)
    assert spent == ([2, 6] if words else [10, 30])


def test_pounds_below_nothing() -> None:
    assert [pounds(pence) for pence in (-150, -5, 0, 123456)] == ["-1.50", "-0.05", "0.00", "1,234.56"]
