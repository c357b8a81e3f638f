"""A store keeps a shop's tables, every change of them and who made it; two writers never overwrite each other."""

from __future__ import annotations

import threading
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from intake_folders import TINY_SHOP, Folder, add, drop, put, text

from planner.explode import explode
from planner.faults import DataFaults
from planner.intake import read_shop, shop_of
from planner.main_job import read_place
from planner.store import Note, ShopPlace, Stale, Store, StoredRow, StoreFault, Writing
from planner.store.edit import add_row, change_row, remove_row
from planner.store.engine import Database
from planner.store.folder import take_in, write_out
from planner.store.schema import metadata
from planner.store.sheets import TABLE, Sheet, missing_sheet
from planner.store.update import update

SAMPLE = Path(__file__).parent.parent / "sample_shop"
AT = datetime(2026, 3, 23, 9)


@pytest.fixture
def store(place: ShopPlace) -> Store:
    return take_in(TINY_SHOP, place, "Ann")


def row_of(store: Store, table: str, **cells: str):  # type: ignore[no-untyped-def]
    found = store.sheets().find(table, **cells)
    assert found is not None
    return found


# --- in and out --------------------------------------------------------------------------------


@pytest.mark.parametrize("folder", [TINY_SHOP, SAMPLE], ids=["tiny", "sample"])
def test_a_shop_that_was_not_touched_comes_out_byte_for_byte(folder: Path, tmp_path: Path, place: ShopPlace) -> None:
    with take_in(folder, place, "Ann") as store:
        write_out(store, tmp_path / "out")
    files = {path.name: path.read_bytes() for path in folder.glob("*.csv")}
    assert {path.name: path.read_bytes() for path in (tmp_path / "out").glob("*.csv")} == files
    assert read_place(place) == read_shop(folder)


def test_odd_files_come_out_as_they_were(tmp_path: Path, place: ShopPlace) -> None:
    """A byte-order mark, other line ends, quotes that need not be, blank rows, spaces, an empty last column."""
    stock = b'\xef\xbb\xbfpart,quantity,\r\n"GR-900", 30 ,\r\n\r\nGR-120,5,\r\n'
    folder = Folder(tmp_path / "shop").edit(text("stock.csv", stock))
    with take_in(folder.path, place, "Ann") as store:
        write_out(store, tmp_path / "out")
        assert (tmp_path / "out" / "stock.csv").read_bytes() == stock
        row = row_of(store, "stock", part="GR-120")
        change_row(store, "Ann", AT, "stock", row.id, row.version, {"quantity": "6"})
        write_out(store, tmp_path / "changed")
        assert (
            tmp_path / "changed" / "stock.csv"
        ).read_bytes() == b"\xef\xbb\xbfpart,quantity\r\nGR-900,30\r\nGR-120,6\r\n"


def test_only_what_was_changed_comes_out_changed(store: Store, tmp_path: Path) -> None:
    row = row_of(store, "orders", order="O-3")
    change_row(store, "Ann", AT, "orders", row.id, row.version, {"quantity": "61"})
    write_out(store, tmp_path / "out")
    expected = Folder(tmp_path / "shop").edit(put("orders", 4, "quantity", "61")).path
    for path in expected.glob("*.csv"):
        assert (tmp_path / "out" / path.name).read_text("utf-8").splitlines() == path.read_text("utf-8").splitlines()


def test_a_change_that_is_taken_back_leaves_the_bytes_as_they_were(store: Store, tmp_path: Path) -> None:
    for quantity in ("61", "60"):
        row = row_of(store, "orders", order="O-3")
        change_row(store, "Ann", AT, "orders", row.id, row.version, {"quantity": quantity})
    write_out(store, tmp_path / "out")
    assert (tmp_path / "out" / "orders.csv").read_bytes() == (TINY_SHOP / "orders.csv").read_bytes()


def test_a_table_that_was_not_there_can_be_added_to(tmp_path: Path, place: ShopPlace) -> None:
    folder = Folder(tmp_path / "shop")
    (folder.path / "pins.csv").unlink()
    with take_in(folder.path, place, "Ann") as store:
        write_out(store, tmp_path / "before")
        assert not (tmp_path / "before" / "pins.csv").exists()
        add_row(store, "Ann", AT, "pins", {"batch": "B-1", "operation": "20", "machine": "M1"})
        write_out(store, tmp_path / "out")
    lines = (tmp_path / "out" / "pins.csv").read_text("utf-8").splitlines()
    assert lines[0].startswith("batch,operation,machine,person,not_before")
    assert lines[1].startswith("B-1,20,M1,")


def test_a_column_that_the_file_did_not_have_is_added_when_it_is_used(tmp_path: Path, place: ShopPlace) -> None:
    folder = Folder(tmp_path / "shop").edit(
        text("stock.csv", "quantity,part\n30,GR-900\n"), text("leave.csv", "person,from,to\n")
    )
    with take_in(folder.path, place, "Ann") as store:
        cells = {"person": "Cleo", "from": "2026-03-26 08:00", "to": "2026-03-26 16:30", "reason": "dentist"}
        add_row(store, "Ann", AT, "leave", cells)
        write_out(store, tmp_path / "out")
    assert (tmp_path / "out" / "leave.csv").read_text("utf-8") == (
        "person,from,to,reason\nCleo,2026-03-26 08:00,2026-03-26 16:30,dentist\n"
    )
    assert (tmp_path / "out" / "stock.csv").read_text("utf-8") == "quantity,part\n30,GR-900\n"


def test_tables_with_faults_are_not_taken_in(tmp_path: Path, place: ShopPlace) -> None:
    folder = Folder(tmp_path / "bad").edit(put("orders", 2, "part", "nothing"))
    with pytest.raises(DataFaults):
        take_in(folder.path, place, "Ann")
    assert not isinstance(place, Path) or not place.exists()
    take_in(TINY_SHOP, place, "Ann").close()


def test_a_store_is_not_made_twice_nor_over_something_else(store: Store, place: ShopPlace, tmp_path: Path) -> None:
    with pytest.raises(StoreFault, match="already"):
        take_in(TINY_SHOP, place, "Ann")
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "thing").touch()
    with pytest.raises(StoreFault, match="not empty"):
        write_out(store, tmp_path / "full")


def test_what_is_no_store_says_so(tmp_path: Path) -> None:
    (tmp_path / "letter.db").write_bytes(b"SQLite format 3\x00" + b"not really" * 100)
    (tmp_path / "empty.db").touch()
    for name in ("letter.db", "empty.db"):
        with pytest.raises(StoreFault, match=name):
            Store(tmp_path / name)
    with pytest.raises(StoreFault, match="no database that can be used"):
        Store("nosuch://host/name")


def test_the_declared_tables_are_those_that_migrations_make(store: Store, place: ShopPlace) -> None:
    database = Database(place)
    with database.reading() as connection:
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []
    database.close()


# --- rows ---------------------------------------------------------------------------------------


def test_a_fault_names_table_row_column_and_value(store: Store) -> None:
    row = row_of(store, "orders", order="O-3")
    with pytest.raises(DataFaults) as caught:
        change_row(store, "Ann", AT, "orders", row.id, row.version, {"quantity": "sixty", "class": "nomal"})
    places = [(f.file, f.row, f.column, f.value) for f in caught.value.faults]
    assert places == [("orders.csv", 4, "class", "nomal"), ("orders.csv", 4, "quantity", "sixty")]
    assert "Did you mean 'normal'" in caught.value.faults[0].mend
    assert row_of(store, "orders", order="O-3") == row


def test_the_second_to_save_a_stale_row_is_told_what_changed_and_overwrites_nothing(
    store: Store, place: ShopPlace
) -> None:
    seen_by_ann = seen_by_ben = row_of(store, "orders", order="O-3")
    change_row(store, "Ann", AT, "orders", seen_by_ann.id, seen_by_ann.version, {"quantity": "75"})
    with Store(place) as other, pytest.raises(Stale) as caught:
        change_row(other, "Ben", AT, "orders", seen_by_ben.id, seen_by_ben.version, {"note": "by van"})
    assert "Ann at 2026-03-23 09:00" in str(caught.value)
    assert "quantity 60 to 75" in str(caught.value)
    now = row_of(store, "orders", order="O-3")
    assert (now["quantity"], now["note"], now.version) == ("75", "", 2)
    change_row(store, "Ben", AT, "orders", now.id, now.version, {"note": "by van"})
    assert row_of(store, "orders", order="O-3")["quantity"] == "75"


def test_a_row_that_somebody_removed_is_stale_too(store: Store) -> None:
    row = row_of(store, "pins", batch="B-1")
    remove_row(store, "Ann", AT, "pins", row.id, row.version)
    with pytest.raises(Stale, match="removed"):
        change_row(store, "Ben", AT, "pins", row.id, row.version, {"machine": "M1"})


def test_history_tells_who_when_before_and_after(store: Store) -> None:
    row = row_of(store, "orders", order="O-3")
    change_row(store, "Ann", AT, "orders", row.id, 1, {"quantity": "75"})
    change_row(store, "Ben", datetime(2026, 3, 23, 10), "orders", row.id, 2, {"quantity": "80"})
    told = [
        (e.who, e.at.hour, c.before and c.before["quantity"], c.after and c.after["quantity"])
        for e, c in store.history(row.id)
    ]
    assert told == [("Ann", 8, None, "60"), ("Ann", 9, "60", "75"), ("Ben", 10, "75", "80")]


def test_tables_can_be_seen_as_they_were(store: Store) -> None:
    at_first, last = store.sheets(), store.entries()[-1].id
    row = row_of(store, "orders", order="O-3")
    change_row(store, "Ann", AT, "orders", row.id, 1, {"quantity": "75"})
    pin = row_of(store, "pins", batch="B-1")
    remove_row(store, "Ann", AT, "pins", pin.id, 1)
    add_row(store, "Ann", AT, "stock", {"part": "GR-110", "quantity": "7"})
    was = store.sheets(last)
    assert was.sheets == at_first.sheets
    assert explode(shop_of(was.reading())).fingerprint == explode(read_shop(TINY_SHOP)).fingerprint


def test_what_goes_wrong_half_way_leaves_nothing(store: Store) -> None:
    def change(writing: Writing) -> Note:
        writing.draft.add("stock", {"part": "GR-110", "quantity": "7"})
        raise RuntimeError("half way")

    before, entries = store.sheets(), store.entries()
    with pytest.raises(RuntimeError):
        store.write("Ann", AT, "edit", "test", change)
    assert store.sheets() == before
    assert store.entries() == entries


def test_many_writers_at_once_lose_nothing(store: Store, place: ShopPlace) -> None:
    """Each adds to what the ones before have left."""

    def add_one(writing: Writing) -> Note:
        row = writing.draft.find("stock", part="GR-900")
        assert row is not None
        writing.draft.put(row, {"quantity": int(row["quantity"]) + 1})
        return Note("one more")

    def many() -> None:
        with Store(place) as mine:
            for _ in range(10):
                mine.write("Ann", AT, "edit", "test", add_one)

    threads = [threading.Thread(target=many) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    row = row_of(store, "stock", part="GR-900")
    assert (row["quantity"], row.version) == ("60", 31)
    assert len(store.history(row.id)) == 31


def test_an_older_store_is_brought_up_to_date_and_a_newer_one_is_refused(store: Store, place: ShopPlace) -> None:
    database = Database(place)
    with database.writing() as connection:
        connection.execute(sa.text("UPDATE alembic_version SET version_num = '9999'"))
    database.close()
    with pytest.raises(StoreFault, match="newer version"):
        Store(place)


def test_rows_of_a_table_that_this_version_does_not_know_are_kept(store: Store, place: ShopPlace) -> None:
    database = Database(place)
    with database.writing() as connection:
        connection.execute(sa.text("INSERT INTO rows (sheet, place, cells, version) VALUES ('tides', 1, '{}', 1)"))
    database.close()
    assert shop_of(store.sheets().reading()) == read_shop(TINY_SHOP)


def test_new_rows_come_last_and_as_they_would_in_a_file(store: Store, tmp_path: Path) -> None:
    cells = "order=O-9|part=GR-110|quantity=5|due=2026-05-01|class=normal"
    add_row(store, "Ann", AT, "orders", dict(pair.split("=") for pair in cells.split("|")))
    expected = Folder(tmp_path / "shop").edit(add("orders", cells)).read()
    assert shop_of(store.sheets().reading()) == expected


# --- a folder edited and taken in again -----------------------------------------------------------------


@pytest.fixture
def written(store: Store, tmp_path: Path) -> Folder:
    """The store's tables in a folder, to be edited."""
    out = tmp_path / "out"
    write_out(store, out)
    folder = Folder.__new__(Folder)
    folder.path = out
    return folder


def test_what_was_edited_in_a_folder_is_changed_and_nothing_else(store: Store, written: Folder) -> None:
    """Meanwhile somebody changed another row of the same table, and one was edited back to what it was."""
    written.edit(
        put("orders", 4, "quantity", "75"),
        drop("leave", 2),
        add("stock", "part=GR-110|quantity=7"),
        put("hours", 2, "to", "11:45"),
    )
    other = row_of(store, "orders", order="O-1")
    change_row(store, "Ben", AT, "orders", other.id, 1, {"note": "by van"})
    entry = update(store, written.path, "Ann", AT)
    assert entry.words == "5 rows taken in from the folder: hours (2), leave (1), orders (1), stock (1)."
    assert row_of(store, "orders", order="O-3")["quantity"] == "75"
    assert row_of(store, "orders", order="O-1")["note"] == "by van"
    assert row_of(store, "stock", part="GR-110")["quantity"] == "7"
    assert store.sheets().rows("leave") == ()
    assert {(r["from"], r["to"]) for r in store.sheets().rows("hours") if (r["calendar"], r["weekday"]) == ("day", "Mon")} == {
        ("08:00", "11:45"), ("12:30", "16:30")
    }  # fmt: skip
    assert read_shop(written.path) == shop_of(store.sheets().reading())
    assert update(store, written.path, "Ann", AT).words == "0 rows taken in from the folder."
    assert row_of(store, "orders", order="O-1")["note"] == "by van"


def test_a_row_that_two_have_edited_is_told_and_nothing_is_taken_in(store: Store, written: Folder) -> None:
    written.edit(put("orders", 4, "quantity", "75"), put("orders", 3, "quantity", "30"))
    row = row_of(store, "orders", order="O-3")
    change_row(store, "Ben", AT, "orders", row.id, 1, {"quantity": "80"})
    before = store.sheets()
    with pytest.raises(Stale, match="quantity 80"):
        update(store, written.path, "Ann", AT)
    assert store.sheets() == before


def test_a_folder_with_faults_or_of_unknown_origin_is_not_taken_in(store: Store, written: Folder) -> None:
    with pytest.raises(StoreFault, match="not written by a store"):
        update(store, TINY_SHOP, "Ann", AT)
    with pytest.raises(DataFaults):
        update(store, written.edit(put("orders", 4, "quantity", "lots")).path, "Ann", AT)


def test_the_headings_of_a_table_are_found_once_for_all_its_rows(monkeypatch: pytest.MonkeyPatch) -> None:
    """Found for each row anew, a table of a thousand rows was read a million times."""
    sheet = missing_sheet(TABLE["stock"])
    rows = tuple(StoredRow(i, "stock", i, {"part": f"P{i}", "quantity": "1"}, 1) for i in range(1, 30))
    calls = []
    real = Sheet.columns.fget
    assert real is not None
    monkeypatch.setattr(Sheet, "columns", property(lambda self: calls.append(1) or real(self)))
    assert len(replace(sheet, rows=rows).records()) == 30
    assert calls == [1]


def test_a_folder_of_another_store_is_not_taken_in(store: Store, written: Folder, tmp_path: Path) -> None:
    """It is at the same entry, and what differs between the two would look like what was edited."""
    other = take_in(TINY_SHOP, tmp_path / "other.db", "Ben")
    row = other.sheets().find("stock", part="GR-120")
    assert row is not None
    change_row(other, "Ben", AT, "stock", row.id, 1, {"quantity": "7"})
    before = other.sheets()
    with pytest.raises(StoreFault, match="written by another store"):
        update(other, written.edit(put("orders", 4, "quantity", "99")).path, "Ben", AT)
    assert other.sheets() == before


def test_a_row_that_was_removed_meanwhile_does_not_come_back_with_the_folder(tmp_path: Path) -> None:
    """Also the last one of a table that the shop had no file of."""
    shop = Folder(tmp_path / "shop")
    (shop.path / "leave.csv").unlink()
    store = take_in(shop.path, tmp_path / "shop.db", "Ann")
    add_row(store, "Ann", AT, "leave", {"person": "Ada", "from": "2026-04-01 08:00", "to": "2026-04-02 16:30"})
    write_out(store, tmp_path / "out")
    (found,) = store.sheets().rows("leave")
    remove_row(store, "Ben", AT, "leave", found.id, found.version)
    for _ in range(2):
        assert update(store, tmp_path / "out", "Ann", AT).words == "0 rows taken in from the folder."
        assert store.sheets().rows("leave") == ()


def test_a_folder_that_cannot_be_written_over_may_come_again(
    store: Store, written: Folder, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was edited is in the store then, once; the message says so."""
    written.edit(
        add("leave", "person=Ada|from=2026-04-01 08:00|to=2026-04-02 16:30"), put("orders", 4, "quantity", "75")
    )
    leave = len(store.sheets().rows("leave"))

    def full(*_: object) -> None:
        raise StoreFault("the tables cannot be written there (No space left on device).")

    with monkeypatch.context() as patch:
        patch.setattr("planner.store.update.write_over", full)
        with pytest.raises(StoreFault, match=r"is in the store now \(entry 2\)\. .*No space left"):
            update(store, written.path, "Ann", AT)
    assert row_of(store, "orders", order="O-3")["quantity"] == "75"
    update(store, written.path, "Ann", AT)
    assert len(store.sheets().rows("leave")) == leave + 1
    assert row_of(store, "orders", order="O-3")["quantity"] == "75"
