"""Files to rows of text: what cannot be read is named, what can be read is not changed."""

from __future__ import annotations

from pathlib import Path

import pytest
from intake_folders import TINY_SHOP, Folder, add, drop, gone, place, put, text

from planner.faults import DataFaults
from planner.intake import read_shop
from planner.intake.reader import read_folder
from planner.intake.tables import TABLES


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    return Folder(tmp_path / "shop")


def cells(folder: Folder, table: str, column: str) -> list[tuple[int, str]]:
    """Row numbers and texts of one column."""
    return [(row.number, row.cells[column]) for row in read_folder(folder.path).tables[table].rows]


# --- files -------------------------------------------------------------------------------------


def test_a_path_that_is_no_folder_is_a_fault(tmp_path: Path) -> None:
    """A file, or nothing at all, in place of the folder gives one plain fault."""
    for path in (TINY_SHOP / "orders.csv", tmp_path / "nowhere"):
        with pytest.raises(DataFaults) as caught:
            read_shop(path)
        assert [fault.expected for fault in caught.value.faults] == ["a folder with the tables of a shop"]


def test_an_empty_folder_lacks_every_required_file_and_nothing_else(tmp_path: Path) -> None:
    with pytest.raises(DataFaults) as caught:
        read_shop(tmp_path)
    assert {fault.file for fault in caught.value.faults} == {f"{t.name}.csv" for t in TABLES if t.required}
    assert all(fault.row is None for fault in caught.value.faults)


@pytest.mark.parametrize("table", [table for table in TABLES if table.required], ids=lambda table: table.name)
def test_a_missing_required_file_is_the_only_fault(folder: Folder, table: object) -> None:
    """What the missing file would have held is not blamed on the tables that refer to it."""
    name = f"{table.name}.csv"  # type: ignore[attr-defined]
    assert place(folder.edit(gone(name)).only_fault()) == (name, None, "")


def test_a_missing_optional_file_is_an_empty_table(folder: Folder) -> None:
    assert folder.edit(gone("leave.csv")).read().people["Cleo"].leave == ()


def test_a_name_that_an_absent_optional_file_should_hold_is_unknown(folder: Folder) -> None:
    faults = folder.edit(gone("equipment.csv")).faults()
    assert {fault.value for fault in faults} == {"collets 32", "jaws grinder"}
    assert all("equipment.csv" in fault.expected for fault in faults)


@pytest.mark.parametrize("name", ["order.csv", "Routing.csv", "changeover.csv"])
def test_an_unknown_csv_file_is_a_fault_with_the_nearest_name(folder: Folder, name: str) -> None:
    fault = folder.edit(text(name, "a\n1\n")).only_fault()
    assert place(fault) == (name, None, "")
    assert f"'{name.removesuffix('.csv').lower()}s.csv'" in fault.mend


def test_a_workbook_in_the_folder_is_a_fault(folder: Folder) -> None:
    """Somebody may think that it is read."""
    assert "orders.csv" in folder.edit(text("orders.xlsx", b"PK")).only_fault().mend


@pytest.mark.parametrize("name", ["README.md", "notes.txt", ".orders.csv", "~$orders.xlsx", ".~lock.orders.csv#"])
def test_other_files_are_passed_over(folder: Folder, name: str) -> None:
    assert folder.edit(text(name, "a;b\n")).faults() == ()


def test_letter_case_of_a_file_name_does_not_matter(folder: Folder) -> None:
    content = (folder.path / "stock.csv").read_bytes()
    assert folder.edit(gone("stock.csv"), text("Stock.CSV", content)).read().stock == {"GR-900": 30, "GR-120": 5}


def test_a_fault_names_the_file_as_it_is_written(folder: Folder) -> None:
    folder.edit(gone("stock.csv"), text("Stock.CSV", "part,quantity\nGR-900,x\n"))
    assert place(folder.only_fault()) == ("Stock.CSV", 2, "quantity")


# --- bytes -------------------------------------------------------------------------------------


def test_a_byte_order_mark_changes_nothing(folder: Folder) -> None:
    content = (folder.path / "stock.csv").read_bytes()
    assert folder.edit(text("stock.csv", b"\xef\xbb\xbf" + content)).faults() == ()


@pytest.mark.parametrize(
    "content", [b"", b" \r\n\n", b"\xef\xbb\xbf", b",,\n,\n"], ids=["nothing", "blank", "mark", "commas"]
)
def test_an_empty_file_is_a_fault(folder: Folder, content: bytes) -> None:
    fault = folder.edit(text("stock.csv", content)).only_fault()
    assert place(fault) == ("stock.csv", None, "")
    assert fault.expected == "a heading row"


def test_a_heading_alone_is_an_empty_table(folder: Folder) -> None:
    assert folder.edit(text("stock.csv", "part,quantity\n")).read().stock == {}


def test_undecodable_bytes_are_named_with_their_row(folder: Folder) -> None:
    """Windows-1252 text: the pound sign of row 3, after a quoted line break, is named."""
    content = 'supplier,process,turn_days,minimum_charge,line_fee\n"Bright\nCoat",anodise,5,1,1\nX,£,1,1,1\n'
    fault = next(
        f for f in folder.edit(text("processes.csv", content.encode("cp1252"))).faults() if f.file == "processes.csv"
    )
    assert place(fault) == ("processes.csv", 3, "")
    assert fault.value == "byte 0xa3 ('£' in Windows-1252)"
    assert fault.expected == "UTF-8 text"


def test_the_same_signs_in_utf8_are_read(folder: Folder) -> None:
    assert folder.edit(put("parts", 2, "description", "Ø32 grinder, 5 µm, £85")).read().parts["GR-100"].description == (
        "Ø32 grinder, 5 µm, £85"
    )


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le"])
def test_utf16_is_a_fault(folder: Folder, encoding: str) -> None:
    fault = folder.edit(text("stock.csv", "part,quantity\nGR-900,1\n".encode(encoding))).only_fault()
    assert (fault.file, fault.expected) == ("stock.csv", "UTF-8 text")


def test_a_locked_file_is_a_plain_fault(folder: Folder, monkeypatch: pytest.MonkeyPatch) -> None:
    """As when another program holds it; the other files are still read and checked."""
    read = Path.read_bytes

    def locked(path: Path) -> bytes:
        if path.name == "stock.csv":
            raise PermissionError(13, "Permission denied")
        return read(path)

    monkeypatch.setattr(Path, "read_bytes", locked)
    fault = folder.only_fault()
    assert (place(fault), fault.value) == (("stock.csv", None, ""), "Permission denied")


# --- headings ----------------------------------------------------------------------------------


@pytest.mark.parametrize("mark", [";", "\t"], ids=["semicolons", "tabs"])
def test_other_separators_are_told_apart_from_missing_columns(folder: Folder, mark: str) -> None:
    fault = folder.edit(text("stock.csv", f"part{mark}quantity\nGR-900{mark}1\n")).only_fault()
    assert place(fault) == ("stock.csv", 1, "")
    assert fault.expected == "commas between cells"


def test_headings_are_trimmed_and_of_any_case(folder: Folder) -> None:
    assert folder.edit(text("stock.csv", " Part ,\u00a0QUANTITY\nGR-900,7\n")).read().stock == {"GR-900": 7}


def test_the_order_of_columns_does_not_matter(folder: Folder) -> None:
    assert folder.edit(text("stock.csv", "quantity,part\n7,GR-900\n")).read().stock == {"GR-900": 7}


def test_a_misspelt_heading_is_named_with_the_nearest_match(folder: Folder) -> None:
    """Both sides of it: the heading that is unknown, and the column that is missing."""
    faults = folder.edit(text("stock.csv", "part,quanity\nGR-900,7\n")).faults()
    assert [place(fault) for fault in faults] == [("stock.csv", 1, "quanity"), ("stock.csv", 1, "quantity")]
    assert "'quantity'" in faults[0].mend
    assert "'quanity'" in faults[1].mend


def test_an_unknown_column_is_a_fault_and_an_absent_optional_column_is_not(folder: Folder) -> None:
    content = "part,quantity,shelf\nGR-900,7,A1\n"
    assert place(folder.edit(text("stock.csv", content)).only_fault()) == ("stock.csv", 1, "shelf")
    folder.edit(text("stock.csv", "part,quantity\nGR-900,7\n"), text("leave.csv", "person,from,to\n"))
    assert folder.faults() == ()


def test_a_heading_twice_is_a_fault(folder: Folder) -> None:
    fault = folder.edit(text("stock.csv", "part,quantity,Quantity\nGR-900,7,8\n")).only_fault()
    assert place(fault) == ("stock.csv", 1, "Quantity")


def test_a_column_without_heading_is_a_fault_unless_it_is_empty(folder: Folder) -> None:
    assert folder.edit(text("stock.csv", "part,quantity,\nGR-900,7,\n")).faults() == ()
    fault = folder.edit(text("stock.csv", "part,quantity,\nGR-900,7,note\n")).only_fault()
    assert (fault.row, fault.mend) == (1, "Give the column a heading.")


# --- rows --------------------------------------------------------------------------------------


def test_rows_are_numbered_as_a_spreadsheet_numbers_them(folder: Folder) -> None:
    """Blank rows and rows of commas count and are skipped; a quoted line break does not count."""
    content = 'order,customer,part,quantity,due,class,note\n\nO-1,"Two\nlines",P,1,d,c,\n,,,,,,\n , ,,,,,\nO-2,x,P,1,d,c,"a ""b"", c"\n'
    folder.edit(text("orders.csv", content))
    assert cells(folder, "orders", "order") == [(3, "O-1"), (6, "O-2")]
    assert cells(folder, "orders", "customer")[0] == (3, "Two\nlines")
    assert cells(folder, "orders", "note")[1] == (6, 'a "b", c')


@pytest.mark.parametrize("ending", ["\r\n", "\r"], ids=["Windows", "old"])
def test_any_line_ending_is_read(folder: Folder, ending: str) -> None:
    folder.edit(text("stock.csv", ending.join(["part,quantity", "GR-900,7", "GR-120,8"])))
    assert folder.read().stock == {"GR-900": 7, "GR-120": 8}


@pytest.mark.parametrize(("row", "count"), [("GR-900", 1), ("GR-900,7,8", 3), ("GR-900,1,250", 3)])
def test_a_row_with_another_count_of_cells_is_a_fault(folder: Folder, row: str, count: int) -> None:
    fault = folder.edit(text("stock.csv", f"part,quantity\n{row}\n")).only_fault()
    assert place(fault) == ("stock.csv", 2, "")
    assert fault.value.startswith(f"{count} {'cell' if count == 1 else 'cells'}: ")
    assert fault.expected == "2 cells, as in the heading"


def test_a_broken_row_still_defines_its_key(folder: Folder) -> None:
    """A comma too many in a part's description does not make the part unknown elsewhere."""
    content = (folder.path / "parts.csv").read_text(encoding="utf-8").replace("grinder body", "grinder, body")
    assert place(folder.edit(text("parts.csv", content)).only_fault()) == ("parts.csv", 3, "")


@pytest.mark.parametrize("row", ['"GR-900,7', '"GR-9"00,7'], ids=["never_closed", "closed_early"])
def test_a_stray_quote_is_a_fault_with_its_row(folder: Folder, row: str) -> None:
    fault = folder.edit(text("stock.csv", f"part,quantity\nGR-120,5\n{row}\n")).only_fault()
    assert place(fault) == ("stock.csv", 3, "")


def test_a_subtotal_row_never_becomes_an_order(folder: Folder) -> None:
    faults = folder.edit(add("orders", "order=TOTAL|quantity=150")).faults()
    assert {place(fault) for fault in faults} == {("orders.csv", 7, column) for column in ("part", "due", "class")}


def test_spaces_round_a_cell_are_taken_off(folder: Folder) -> None:
    """Plain, non-breaking and zero-width ones; a non-breaking space inside a name is a space."""
    folder.edit(
        put("orders", 2, "part", " GR-100\u00a0"), put("people", 2, "skills", "set\u00a0lathes ; \u200bset mills")
    )
    shop = folder.read()
    assert shop.orders["O-1"].part == "GR-100"
    assert shop.people["Ada"].skills == ("set lathes", "set mills")


@pytest.mark.parametrize("name", ["NA", "N/A", "None", "nan", "null", "TRUE", "007", "1e5"])
def test_names_that_look_like_something_else_are_text(folder: Folder, name: str) -> None:
    folder.edit(put("machines", 5, "machine", name), put("machines", 5, "description", name))
    machine = folder.read().machines[name]
    assert (machine.name, machine.description) == (name, name)


def test_a_required_table_may_lose_a_row_it_does_not_need(folder: Folder) -> None:
    assert set(folder.edit(drop("orders", 2)).read().orders) == {"O-2", "O-3", "O-4", "O-5"}
