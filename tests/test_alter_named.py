"""Changes kept by name beside the tables: written whole, read back as they were, passed over by all else."""

from __future__ import annotations

import json
import shutil
import threading
import time
from pathlib import Path
from typing import Any

import pytest

from planner.alter import KINDS, AlterFaults
from planner.alter import named as module
from planner.alter.named import FILE, changes_of, check_keeping, forget_named, named, read_named, save_named
from planner.alter.phrase import from_phrase
from planner.intake import read_shop

TINY = Path(__file__).parent / "data" / "tiny_shop"
DOWN = from_phrase(KINDS["down"], "M1 from 2026-03-24 to 2026-03-25")
DROP = from_phrase(KINDS["drop"], "W-1")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(TINY, tmp_path / "shop"))


def test_what_is_kept_is_read_back(folder: Path) -> None:
    assert read_named(folder) == {}
    save_named(folder, "breakdown", [DOWN, DROP])
    save_named(folder, "without", [DROP])
    assert read_named(folder) == {"breakdown": (DOWN, DROP), "without": (DROP,)}
    assert named(folder, "breakdown") == (DOWN, DROP)


def test_the_same_name_again_takes_its_place(folder: Path) -> None:
    save_named(folder, "one", [DOWN])
    save_named(folder, "one", [DROP])
    assert read_named(folder) == {"one": (DROP,)}
    forget_named(folder, "one")
    assert read_named(folder) == {}


def test_the_shop_is_read_as_if_the_file_were_not_there(folder: Path) -> None:
    before = read_shop(folder)
    tables = {p.name: p.read_bytes() for p in folder.iterdir()}
    save_named(folder, "one", [DOWN])
    assert read_shop(folder) == before
    assert {p.name: p.read_bytes() for p in folder.iterdir() if p.name != FILE} == tables


def test_an_unknown_name_says_the_nearest(folder: Path) -> None:
    save_named(folder, "breakdown", [DOWN])
    with pytest.raises(AlterFaults, match="Did you mean 'breakdown'"):
        named(folder, "brakedown")
    with pytest.raises(AlterFaults, match="breakdown"):
        forget_named(folder, "x")


@pytest.mark.parametrize(
    "text",
    ["{", "[1, 2]", '{"a": 3}', '{"a": [3]}', '{"a": [{"kind": "dwn"}]}', '{"a": [{"kind": "drop"}]}', '{"a": [{"kind": "drop", "order": "W", "x": "y"}]}'],
)  # fmt: skip
def test_a_damaged_file_is_refused_and_left_alone(folder: Path, text: str) -> None:
    (folder / FILE).write_text(text, "utf-8")
    with pytest.raises(AlterFaults):
        save_named(folder, "one", [DOWN])
    assert (folder / FILE).read_text("utf-8") == text


def test_every_fault_in_the_file_is_listed(folder: Path) -> None:
    rows = [{"kind": "dwn"}, {"kind": "drop"}, {"kind": "due", "order": "W", "due": "soon"}]
    (folder / FILE).write_text(json.dumps({"a": rows}), "utf-8")
    with pytest.raises(AlterFaults) as found:
        read_named(folder)
    assert len(found.value.faults) == 3


def test_a_name_is_needed(folder: Path) -> None:
    with pytest.raises(AlterFaults, match="a name"):
        save_named(folder, "  ", [DOWN])
    assert not (folder / FILE).exists()


def test_all_changes_that_cannot_be_read_are_told_at_once() -> None:
    with pytest.raises(AlterFaults) as found:
        changes_of([{"kind": "dwn"}, {"kind": "drop", "order": "W-1"}, {"kind": "due", "order": "W", "due": "soon"}])
    assert len(found.value.faults) == 2
    assert changes_of([{"kind": "drop", "order": "W-1"}]) == [DROP]


def test_what_a_broken_off_keeping_has_left_behind_stands_in_nobodys_way(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "LEFT_SEC", 0.1)
    (folder / f".{FILE}.held").touch()
    save_named(folder, "one", [DROP])
    assert read_named(folder) == {"one": (DROP,)}
    assert [p.name for p in folder.iterdir() if p.name.startswith(".")] == []


def test_whether_it_can_be_kept_is_known_without_keeping(folder: Path) -> None:
    check_keeping(folder, "one")
    assert not (folder / FILE).exists()
    with pytest.raises(AlterFaults, match="a name"):
        check_keeping(folder, " ")
    with pytest.raises(AlterFaults, match="A database server keeps no questions"):
        check_keeping("postgresql://ann@nowhere/shop", "one")


def test_a_place_that_cannot_be_written_is_told(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "REFUSED_SEC", 0.05)
    with pytest.raises(AlterFaults, match="a folder that can be written"):
        check_keeping(folder / "none" / "shop.db", "one")


def test_what_several_keep_at_once_is_all_there(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each reads, dawdles, and then writes."""
    write = module.write_whole

    def slowly(*how: Any) -> None:
        time.sleep(0.05)
        write(*how)

    monkeypatch.setattr(module, "write_whole", slowly)
    names = ["one", "two", "three"]
    savers = [threading.Thread(target=save_named, args=(folder, name, [DROP])) for name in names]
    for saver in savers:
        saver.start()
    for saver in savers:
        saver.join()
    assert sorted(read_named(folder)) == sorted(names)


def test_a_mark_that_cannot_be_put_away_is_told(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Left over in a folder in which nothing may be moved: nobody waits for ever."""

    def refused(*_how: Any) -> None:
        raise PermissionError(13, "not permitted")

    monkeypatch.setattr(module, "LEFT_SEC", 0.1)
    monkeypatch.setattr(module.os, "replace", refused)
    (folder / f".{FILE}.held").touch()
    with pytest.raises(AlterFaults, match="not permitted"):
        save_named(folder, "one", [DROP])
