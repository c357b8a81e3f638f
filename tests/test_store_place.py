"""What is a store, and that looking does it no harm while others use it."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from days import Day
from intake_folders import TINY_SHOP

from planner.store import Store, is_store
from planner.store.folder import take_in


def test_addresses_and_databases_are_stores_and_nothing_else_is(tmp_path: Path) -> None:
    take_in(TINY_SHOP, tmp_path / "shop.db", "Ann").close()
    (tmp_path / "plan.json").write_text('{"a": "plan of more than sixteen characters"}')
    (tmp_path / "empty.db").touch()
    assert is_store("postgresql://somewhere/shop")
    assert is_store(tmp_path / "shop.db")
    for name in ("plan.json", "empty.db", "missing.db", "."):
        assert not is_store(tmp_path / name)
    assert not (tmp_path / "missing.db").exists()
    assert (tmp_path / "empty.db").stat().st_size == 0


def test_one_that_is_written_to_just_now_is_a_store(tmp_path: Path) -> None:
    take_in(TINY_SHOP, tmp_path / "shop.db", "Ann").close()
    other = sqlite3.connect(tmp_path / "shop.db", isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    assert is_store(tmp_path / "shop.db")
    other.close()


@pytest.mark.parametrize("name", ["a shop.db", "50 % off.db", "#1.db"])
def test_a_file_of_any_name_can_be_one(tmp_path: Path, name: str) -> None:
    take_in(TINY_SHOP, tmp_path / name, "Ann").close()
    assert is_store(tmp_path / name)


def test_what_was_entered_is_not_lost_when_another_process_closes_the_store(tmp_path: Path) -> None:
    """The log of a database that is open here must not be cleared up by another process, whatever was asked here meanwhile."""
    place = tmp_path / "shop.db"
    elsewhere = (
        f"from pathlib import Path; from planner.store import Store; print(len(Store(Path({str(place)!r})).entries()))"
    )
    with take_in(TINY_SHOP, place, "Ann") as store:
        day = Day(store, place)
        day.book("good", "B-1", 10, good=1)
        assert is_store(place)
        assert subprocess.check_output([sys.executable, "-c", elsewhere], text=True) == "2\n"
        day.book("good", "B-1", 10, good=1)
        assert subprocess.check_output([sys.executable, "-c", elsewhere], text=True) == "3\n"
    with Store(place) as again:
        assert len(again.entries()) == 3
