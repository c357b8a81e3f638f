"""Rows added to tables and cells changed: all else stays byte for byte, and nothing is written that has a fault."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from planner.faults import DataFaults
from planner.intake import read_shop
from planner.intake.adding import Added, Named, with_cells, with_rows

TINY = Path(__file__).parent / "data" / "tiny_shop"
ORDER = {"order": "Q-1", "part": "GR-120", "quantity": "30", "due": "2026-05-04", "class": "normal"}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shutil.copytree(TINY, tmp_path / "shop")
    return tmp_path / "shop"


def bytes_of(folder: Path) -> dict[str, bytes]:
    return {file.name: file.read_bytes() for file in folder.iterdir()}


def test_a_row_comes_at_the_end_and_the_rest_stays(folder: Path) -> None:
    before = bytes_of(folder)
    added = Added(folder, {"orders": [ORDER]})
    assert bytes_of(folder) == before
    added.write()
    after = bytes_of(folder)
    assert after["orders.csv"].startswith(before["orders.csv"])
    assert {name: data for name, data in after.items() if name != "orders.csv"} == {
        name: data for name, data in before.items() if name != "orders.csv"
    }
    assert read_shop(folder).orders["Q-1"].quantity == 30


@pytest.mark.parametrize(("named", "row"), [(Named("the order"), 2), (Named("more.csv", (2, 5)), 5)])
def test_a_fault_is_told_by_its_place_among_the_new_rows_and_nothing_is_written(folder, named, row) -> None:
    before = bytes_of(folder)
    with pytest.raises(DataFaults) as found:
        Added(folder, {"orders": [ORDER, {**ORDER, "order": "Q-2", "part": "GR-12O"}]}, {"orders": named})
    assert [(f.file, f.row, f.column) for f in found.value.faults] == [(named.called, row, "part")]
    assert bytes_of(folder) == before


def test_a_table_that_was_changed_meanwhile_is_not_overwritten(folder: Path) -> None:
    added = Added(folder, {"orders": [ORDER]})
    other = (folder / "orders.csv").read_text() + "X-1,,GR-120,5,2026-05-05,normal,,,,\n"
    (folder / "orders.csv").write_text(other)
    with pytest.raises(DataFaults, match="Someone else has changed it"):
        added.write()
    assert (folder / "orders.csv").read_text() == other


def test_a_table_that_is_not_there_is_begun(folder: Path) -> None:
    (folder / "receipts.csv").unlink()
    Added(folder, {"receipts": [{"reference": "R-1", "part": "GR-900", "quantity": "5", "date": "2026-04-01"}]}).write()
    assert read_shop(folder).receipts[0].reference == "R-1"


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("order,part\nA,P\n", "order,part\nA,P\nB,\n"),
        ("order,part\nA,P", "order,part\nA,P\nB,\n"),
        ("order,part\r\nA,P\r\n", "order,part\r\nA,P\r\nB,\r\n"),
        ("\ufefforder,part\nA,P\n", "\ufefforder,part\nA,P\nB,\n"),
    ],
    ids=["plain", "no line end", "line ends of two characters", "byte-order mark"],
)
def test_line_ends_and_marks_stay_as_they_are(text: str, wanted: str) -> None:
    assert with_rows(text, "orders", [{"order": "B"}]) == wanted


def test_a_column_that_is_missing_is_added_to_every_line() -> None:
    found = with_rows('order,note\nA,"two, words"\n', "orders", [{"order": "B", "promise": "2026-05-04"}])
    assert found == 'order,note,promise\nA,"two, words",\nB,,2026-05-04\n'


def test_cells_of_one_row_change_and_other_lines_do_not() -> None:
    text = 'order,note,promise\nA,"over\ntwo lines",\nB ,"x ""y""",2026-05-01\nC,z,\n'
    assert with_cells(text, "orders", "B", {"promise": "2026-05-04"}) == text.replace(
        "2026-05-01", "2026-05-04"
    ).replace("B ", "B ")
    assert with_cells(text, "orders", "A", {"promise": "2026-05-04"}).endswith('B ,"x ""y""",2026-05-01\nC,z,\n')
    with pytest.raises(KeyError):
        with_cells(text, "orders", "D", {"promise": "2026-05-04"})


@pytest.mark.parametrize("odd", ["\u2028", "\u0085", "\f"], ids=["line separator", "next line", "form feed"])
def test_a_cell_with_a_sign_that_ends_lines_elsewhere_is_one_line(odd: str) -> None:
    text = f"order,note,promise\nA,one{odd}two,\nB,x,2026-05-01\nC,z,\n"
    assert with_cells(text, "orders", "B", {"promise": "2026-05-04"}) == text.replace("05-01", "05-04")


def test_headings_may_stand_in_any_order() -> None:
    """A's part has the name of the other order, and the heading's row is no order."""
    text = "part,order,promise\nB,A,\nP,B,2026-05-01\n"
    assert with_cells(text, "orders", "B", {"promise": "2026-05-04"}) == text.replace("05-01", "05-04")
    with pytest.raises(KeyError):
        with_cells(text, "orders", "order", {"promise": "2026-05-04"})


def test_a_table_that_begins_with_an_empty_line_keeps_its_rows() -> None:
    text = "\norder,part\nA,P\n"
    assert with_rows(text, "orders", [{"order": "B"}]) == text + "B,\n"
    assert with_rows(text, "orders", [{"order": "B", "note": "n"}]) == "\norder,part,note\nA,P,\nB,,n\n"
    assert with_cells(text, "orders", "A", {"part": "Q"}) == "\norder,part\nA,Q\n"


def test_what_is_read_is_the_new_text_whatever_the_file_is_called(folder: Path) -> None:
    (folder / "orders.csv").rename(folder / "Orders.CSV")
    assert Added(folder, {"orders": [ORDER]}).shop.orders["Q-1"].quantity == 30
    (folder / "orders.csv").write_bytes((folder / "Orders.CSV").read_bytes())
    with pytest.raises(DataFaults, match="one file for the table"):
        Added(folder, {"orders": [ORDER]})
