"""Text to typed values: each type has one exact reading, and says what it expected."""

from __future__ import annotations

from datetime import date, datetime, time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from intake_folders import Folder, place, put

from planner.intake.convert import EXPECTED, LARGEST, READERS, Unfit, convert_cell, convert_text, time_of
from planner.intake.tables import TABLES, Column


@pytest.mark.parametrize(
    ("type_", "text", "value"),
    [
        ("whole", "0", 0),
        ("whole", "010", 10),
        ("whole", str(LARGEST), LARGEST),
        ("positive", "1", 1),
        ("percent", "97.5", 97.5),
        ("percent", "100", 100.0),
        ("percent", "0.1", 0.1),
        ("date", "2026-02-28", date(2026, 2, 28)),
        ("date", "2028-02-29", date(2028, 2, 29)),
        ("time", "00:00", time(0, 0)),
        ("time", "23:59", time(23, 59)),
        ("moment", "2026-03-23 08:00", datetime(2026, 3, 23, 8)),
        ("moment", "2026-03-23T08:00", datetime(2026, 3, 23, 8)),
        ("due", "2026-03-23", date(2026, 3, 23)),
        ("due", "2026-03-23 00:00", datetime(2026, 3, 23)),
        ("weekday", "Mon", 0),
        ("weekday", "sun", 6),
        ("yesno", "yes", True),
        ("yesno", "No", False),
        ("pounds", "85", 8500),
        ("pounds", "85.5", 8550),
        ("pounds", "0.07", 7),
        ("names", "a;b c ; d", ("a", "b c", "d")),
        ("amounts", "a;b*2; c * 3", (("a", 1), ("b", 2), ("c", 3))),
        ("one of machine|wait", "Wait", "wait"),
    ],
)
def test_a_text_that_fits_its_type_is_read(type_: str, text: str, value: object) -> None:
    result = convert_text(type_, text)
    assert result == value
    assert type(result) is type(value)


@pytest.mark.parametrize(
    ("type_", "texts"),
    [
        (
            "whole",
            [
                "-5",
                "(5)",
                "4.5",
                "4,5",
                "1,250",
                "1.250",
                "1 250",
                "1:30",
                "90m",
                "1.5h",
                "l0",
                "1O",
                "１２",
                "1e3",
                "²",
            ],
        ),
        ("whole", [str(LARGEST + 1), "9" * 400, "--5", "=2*3", "five"]),
        ("positive", ["0", "-1", "0.5"]),
        ("percent", ["0", "0.0", "100.1", "95%", "-5", "97,5", "nan", "inf", "1e1"]),
        ("date", ["05/03/2026", "03/25/2026", "5.3.26", "5-Mar-26", "Thu 5 Mar", "2026-3-5", "20260305", "46086"]),
        (
            "date",
            ["2026-02-31", "2026-13-01", "2026-02-29", "1900-01-00", "9999-12-31", "1999-12-31", "2026-03-05 07:30"],
        ),
        ("time", ["24:00", "8:00", "08:60", "25:00", "0800", "8am", "08:00:00", "0.0625"]),
        ("moment", ["2026-03-23", "23/03/2026 08:00", "2026-03-23 24:00", "2026-02-30 08:00", "2026-03-23 08:00:00"]),
        ("due", ["05/03/2026", "2026-02-31", "2026-03-23 25:00", "Friday"]),
        ("weekday", ["Monday", "M", "1", "Mo"]),
        ("yesno", ["TRUE", "y", "1", "ja"]),
        ("pounds", ["£85", "85.005", "1,250", "-1", "85.", "1.2.3", ".5"]),
        ("names", ["a;;b", "a;", ";", "a;b;a"]),
        ("amounts", ["a*", "a*0", "a*-1", "a*x", "*2", "a;a*2", "a;", "a*1.5"]),
        ("one of machine|wait", ["machining", "machine|wait"]),
    ],
)
def test_a_text_that_does_not_fit_is_refused_with_a_mend(type_: str, texts: list[str]) -> None:
    for text in texts:
        with pytest.raises(Unfit) as caught:
            convert_text(type_, text)
        assert caught.value.expected and caught.value.mend, text


def test_a_date_in_another_form_says_which_form_is_expected() -> None:
    """05/03/2026 may be 5 March or 3 May: it is never guessed."""
    with pytest.raises(Unfit) as caught:
        convert_text("date", "05/03/2026")
    assert caught.value.expected == "YYYY-MM-DD"


def test_thousands_are_shown_without_their_commas() -> None:
    with pytest.raises(Unfit) as caught:
        convert_text("whole", "1,250,000")
    assert caught.value.mend == "Write 1250000, without commas."


def test_only_an_end_may_be_24_00() -> None:
    assert time_of("24:00", is_end=True) == time(0, 0)
    with pytest.raises(Unfit):
        time_of("24:00")
    with pytest.raises(Unfit):
        time_of("24:01", is_end=True)


@pytest.mark.parametrize("text", ["#REF!", "#N/A", "#DIV/0!", "#VALUE!", "#NAME?", "####", "########"])
@pytest.mark.parametrize("type_", ["text", "name", "whole", "date"])
def test_a_spreadsheet_error_is_refused_in_every_type(type_: str, text: str) -> None:
    with pytest.raises(Unfit) as caught:
        convert_cell(Column("c", type_, ""), text)
    assert "formula" in caught.value.mend


@pytest.mark.parametrize("text", ["#", "#1", "N/A", "drawing #12", "##"])
def test_a_hash_in_a_text_is_text(text: str) -> None:
    assert convert_cell(Column("c", "text", ""), text) == text


def test_an_empty_cell_is_its_default_or_nothing() -> None:
    assert convert_cell(Column("c", "whole", "", default="0"), "") == 0
    assert convert_cell(Column("c", "whole", ""), "") is None
    assert convert_cell(Column("c", "text", ""), "") == ""
    assert convert_cell(Column("c", "names", ""), "") == ()
    with pytest.raises(Unfit):
        convert_cell(Column("c", "text", "", required=True), "")


def test_every_declared_type_has_a_reading_and_an_expectation() -> None:
    """And every declared default fits its column."""
    for column in (column for table in TABLES for column in table.columns):
        assert column.type.startswith("one of ") or (column.type in READERS and column.type in EXPECTED)
        if column.default:
            convert_text(column.type, column.default)


@given(st.sampled_from(sorted(READERS)), st.text(min_size=1, max_size=12))
def test_any_text_is_read_or_refused(type_: str, text: str) -> None:
    """No text raises anything but the refusal."""
    try:
        convert_text(type_, text)
    except Unfit as problem:
        assert problem.mend


@given(st.dates(date(2000, 1, 1), date(2099, 12, 31)), st.times())
def test_written_dates_and_moments_come_back(day: date, clock: time) -> None:
    moment = datetime.combine(day, clock.replace(second=0, microsecond=0))
    assert convert_text("date", day.isoformat()) == day
    assert convert_text("due", f"{moment:%Y-%m-%d %H:%M}") == moment


@pytest.mark.parametrize(
    ("table", "row", "column", "value"),
    [
        ("orders", 2, "quantity", "-5"),
        ("orders", 2, "due", "05/03/2026"),
        ("orders", 2, "part", ""),
        ("routings", 2, "cycle_sec", "1:30"),
        ("calendars", 2, "known_to", "2026-02-31"),
        ("hours", 2, "from", "24:00"),
        ("routings", 2, "equipment", "collets 32*x"),
        ("processes", 2, "minimum_charge", "£85"),
        ("progress", 2, "state", "started"),
        ("classes", 2, "weight", "high"),
        ("machines", 2, "group", ""),
        ("people", 2, "skills", "set lathes;"),
    ],
)
def test_a_bad_cell_is_the_only_fault(tmp_path: Path, table: str, row: int, column: str, value: str) -> None:
    """It is named with file, row, column and value, and nothing that depends on it is blamed."""
    fault = Folder(tmp_path / "shop").edit(put(table, row, column, value)).only_fault()
    assert place(fault) == (f"{table}.csv", row, column)
    assert fault.value == value


def test_pieces_are_whole(tmp_path: Path) -> None:
    fault = Folder(tmp_path / "shop").edit(put("orders", 2, "quantity", "4.5")).only_fault()
    assert str(fault).startswith(
        "orders.csv, row 2, column 'quantity': found '4.5', expected a whole number, 0 or more."
    )


def test_an_order_of_nothing_is_read(tmp_path: Path) -> None:
    """Quantity 0 is a closed order, to be listed and not planned."""
    assert Folder(tmp_path / "shop").edit(put("orders", 2, "quantity", "0")).read().orders["O-1"].quantity == 0
