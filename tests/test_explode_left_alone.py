"""Batches that are left as they are: by which names they are meant, and what is said where that comes to nothing."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from explode_shops import open_batch, order, part, shop
from intake_folders import Folder, Place, add, drop, place, put
from test_explode_proposed import RULES, combine, one, split, starts, two

from planner.explode import explode
from planner.explode.left_alone import UnknownBatch, ensure_known, meant, plain_names
from planner.shop import Component
from planner.work import Proposal


@pytest.mark.parametrize(
    ("name", "batches"),
    [
        ("A-1", {"A-1"}), ("A-1/1", {"A-1"}), ("A-1/2", {"A-1"}), ("A-1/3", set()), ("A", set()), ("-1", set()),
        ("A-1+B-1", {"A-1", "B-1"}), ("B-1+A-1", {"A-1", "B-1"}), ("A-1+C-9", {"A-1"}), ("C-9+D-9", set()), ("AA-1+B", set()),
        ("K/P-1", {"K/P-1"}), ("K/P-1/2", {"K/P-1"}), ("X+Y-1", {"X+Y-1"}), ("X+Y-1+A-1", {"X+Y-1", "A-1"}),
    ],
)  # fmt: skip
def test_a_name_means_a_batch_the_whole_of_a_half_or_all_that_are_run_as_one(name: str, batches: set[str]) -> None:
    assert meant([name], ("A-1", "B-1", "K/P-1", "X+Y-1")) == batches


def test_several_names_mean_all_of_them_and_none_means_nothing() -> None:
    assert meant(["A-1/1", "B-1"], ("A-1", "B-1", "C-1")) == {"A-1", "B-1"}
    assert meant([], ("A-1",)) == frozenset()


@pytest.mark.parametrize(
    ("name", "left"), [("C1-1", True), ("C1-1/2", True), ("C1-1+C2-1", True), ("C2-1", False), ("C1", False)]
)
def test_what_is_left_alone_is_not_split(name: str, left: bool) -> None:
    made = replace(one(40), left_alone=(name,))
    assert ("C1-1" in starts(explode(made, (), [split("C1-1")]))) is left


@pytest.mark.parametrize(("name", "left"), [("C1-1", True), ("C2-1", True), ("C1-1+C2-1", True), ("C3-1", False)])
def test_what_is_left_alone_is_not_run_as_one_with_others(name: str, left: bool) -> None:
    made = replace(two(3), left_alone=(name,))
    work = explode(made, (), [combine("C1-1", "C2-1")])
    assert (work.proposals == ()) is left
    assert len(work.batches) == (2 if left else 1)


def test_other_proposals_stay() -> None:
    orders = (order("C1", "P", 40), order("C2", "P", 40))
    made = replace(shop(orders, (part("P", **RULES),)), left_alone=("C1-1",))
    assert set(starts(explode(made, (), [split("C1-1"), split("C2-1")]))) == {"C1-1", "C2-1/1", "C2-1/2"}


@pytest.mark.parametrize("name", ["C9-1", "C9-1/1", "C1", "C8-1+C9-1"])
def test_a_name_that_means_no_batch_is_told_and_does_no_harm(name: str) -> None:
    made = replace(one(40), left_alone=(name, name))
    assert explode(made).left_out == (f"Batch {name}, to be left as it is: there is no such batch.",)
    assert explode(made).fingerprint == explode(one(40)).fingerprint


@pytest.mark.parametrize("proposals", [(), (split("C2-1"),)])
def test_a_name_that_means_a_batch_is_not_told(proposals: tuple[Proposal, ...]) -> None:
    orders = (order("C1", "P", 40), order("C2", "P", 40))
    made = replace(shop(orders, (part("P", **RULES),)), left_alone=("C1-1", "C1-1/1"))
    assert explode(made, (), proposals).left_out == ()


@pytest.mark.parametrize("name", ["C1-1", "C1-1/1"])
def test_halves_that_are_released_stay_and_that_is_told(name: str) -> None:
    halves = tuple(open_batch(f"C1-1/{n}", "P", 20, order="C1") for n in (1, 2))
    made = replace(one(40, batches=halves), left_alone=(name,))
    work = explode(made, (), [split("C1-1")])
    assert starts(work) == {"C1-1/1": 20, "C1-1/2": 20}
    told = "C1-1/1 and C1-1/2 are" if name == "C1-1" else "C1-1/1 is"
    assert work.left_out == (f"Batch {name} cannot be left as it is: {told} released already, and so stays.",)


def test_one_batch_of_two_that_is_released_stays_and_that_is_told() -> None:
    made = replace(two(3, batches=(open_batch("C1-1+C2-1", "P", 25),)), left_alone=("C2-1",))
    work = explode(made)
    assert starts(work) == {"C1-1+C2-1": 25}
    assert work.left_out == ("Batch C2-1 cannot be left as it is: C1-1+C2-1 is released already, and so stays.",)


def test_a_batch_that_is_released_as_it_is_needs_no_word() -> None:
    made = replace(one(40, batches=(open_batch("C1-1", "P", 40, order="C1"),)), left_alone=("C1-1",))
    assert explode(made).left_out == ()


def test_plain_names_are_those_that_batches_have_without_proposals() -> None:
    orders = (order("C1", "P", 40), order("C2", "P", 40), order("C3", "K", 5))
    made = shop(orders, (part("P", **RULES), part("K")))
    plain = {"C1-1": "P", "C2-1": "P", "C3-1": "K"}
    assert plain_names(explode(made)) == plain
    assert plain_names(explode(made, (), [split("C1-1")])) == plain
    assert plain_names(explode(made, (), [combine("C1-1", "C2-1")])) == plain


def test_an_unknown_name_is_answered_with_those_that_are_possible() -> None:
    """Neither what is released nor what its part does not allow is among them, though both may be named."""
    orders = (order("C1", "P", 40), order("C2", "P", 40), order("C3", "K", 5))
    released = open_batch("C2-1", "P", 40, order="C2")
    made = shop(orders, (part("P", **RULES), part("K")), batches=(released,))
    work = explode(made, (), [split("C1-1")])
    ensure_known(["C1-1", "C1-1/2", "C2-1", "C3-1"], made, work)
    with pytest.raises(UnknownBatch) as caught:
        ensure_known(["C1-1", "C1-7"], made, work)
    assert str(caught.value) == (
        "there is no batch 'C1-7'. Did you mean 'C1-1'? If not: choose one that may be split or run as one. "
        "These may be: C1-1."
    )
    nothing = shop((order("C1", "P", 40),))
    with pytest.raises(UnknownBatch, match=r"'C1-7'. No batch may be split or run as one here."):
        ensure_known(["C1-7"], nothing, explode(nothing))


def test_the_whole_of_released_halves_is_no_unknown_name() -> None:
    halves = tuple(open_batch(f"C1-1/{n}", "P", 20, order="C1") for n in (1, 2))
    made = one(40, batches=halves)
    ensure_known(["C1-1"], made, explode(made))


def test_components_are_meant_by_their_own_names() -> None:
    parts = (part("P"), part("K", **RULES))
    made = shop((order("C1", "P", 20),), parts, structure=(Component("P", "K", 2),))
    left = replace(made, left_alone=("C1/K-1/1",))
    assert set(starts(explode(left, (), [split("C1/K-1", of="K")]))) == {"C1-1", "C1/K-1"}


# --- the table -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("row", "expected"),
    [
        ("batch=|reason=why", ("left_alone.csv", 3, "batch")),
        ("batch=O-1-1|reason=", ("left_alone.csv", 3, "batch")),
        ("batch=O-2-1|reason=", None),
        ("batch=O-1-1/1|reason=", None),
        ("batch=no such batch|reason=", None),
    ],
)
def test_a_row_names_a_batch_once(tmp_path: Path, row: str, expected: Place | None) -> None:
    folder = Folder(tmp_path / "shop").edit(add("left_alone", row))
    if expected is None:
        assert folder.read().left_alone == ("O-1-1", row.split("|")[0].removeprefix("batch="))
    else:
        fault = folder.only_fault()
        assert place(fault) == expected
        assert fault.expected and fault.mend


def test_the_table_may_be_empty_or_left_out(tmp_path: Path) -> None:
    folder = Folder(tmp_path / "shop").edit(drop("left_alone", 2))
    assert folder.read().left_alone == ()
    (folder.path / "left_alone.csv").unlink()
    assert folder.read().left_alone == ()


def test_a_heading_that_is_misspelt_is_told(tmp_path: Path) -> None:
    folder = Folder(tmp_path / "shop").edit(put("left_alone", 1, "batch", "batches"))
    assert {fault.file for fault in folder.faults()} == {"left_alone.csv"}
