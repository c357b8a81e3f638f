"""Names: every one mentioned exists, every key stands once, every skill is somebody's."""

from __future__ import annotations

from pathlib import Path

import pytest
from intake_folders import Edit, Folder, Place, add, case, gone, place, put

from planner.intake.tables import TABLES

REFERENCES = [
    pytest.param(table.name, column.name, id=f"{table.name}-{column.name}")
    for table in TABLES
    for column in table.columns
    if column.refers
]


@pytest.mark.parametrize(("table", "column"), REFERENCES)
def test_an_unknown_name_is_a_fault_at_its_cell(tmp_path: Path, table: str, column: str) -> None:
    """In every column that refers to another table."""
    faults = Folder(tmp_path / "shop").edit(put(table, 2, column, "nowhere")).faults()
    unknown = [fault for fault in faults if fault.expected.startswith("a name from ")]
    assert [(place(fault), fault.value) for fault in unknown] == [((f"{table}.csv", 2, column), "nowhere")]


@pytest.mark.parametrize(
    ("table", "column", "value", "meant"),
    [
        ("machines", "group", "lathe", "lathes"),
        ("machines", "calendar", "Turning", "turning"),
        ("machines", "on_equipment", "collet 32", "collets 32"),
        ("routings", "equipment", "Collets 32*1", "collets 32"),
        ("orders", "part", "GR-10O", "GR-100"),
    ],
)
def test_the_nearest_name_is_offered(tmp_path: Path, table: str, column: str, value: str, meant: str) -> None:
    """Letter case and look-alikes included: names are compared exactly, and nothing is taken for something else."""
    faults = Folder(tmp_path / "shop").edit(put(table, 2, column, value)).faults()
    assert any(f"'{meant}'" in fault.mend for fault in faults if place(fault) == (f"{table}.csv", 2, column))


def test_a_persons_name_is_no_machine(tmp_path: Path) -> None:
    fault = Folder(tmp_path / "shop").edit(put("pins", 2, "machine", "Ada")).only_fault()
    assert (place(fault), fault.value) == (("pins.csv", 2, "machine"), "Ada")


DUPLICATES = [
    pytest.param(table.name, id=table.name)
    for table in TABLES
    if table.key and table.name not in ("structure", "settings")
]


@pytest.mark.parametrize("table", DUPLICATES)
def test_a_key_twice_is_a_fault_that_names_both_rows(tmp_path: Path, table: str) -> None:
    folder = Folder(tmp_path / "shop")
    path = folder.path / f"{table}.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    path.write_text("\n".join([*lines, lines[1]]) + "\n", encoding="utf-8")
    faults = [fault for fault in folder.faults() if "have the same" in fault.mend]
    assert [(fault.file, fault.row) for fault in faults] == [(f"{table}.csv", len(lines) + 1)]
    assert f"Rows 2 and {len(lines) + 1}" in faults[0].mend


CASES = [
    case(
        "operation number twice",
        ("routings.csv", 5, "operation"),
        [put("routings", 5, "operation", "030")],
        [put("routings", 5, "operation", "035")],
    ),
    case(
        "component twice at one step",
        ("structure.csv", 5, "operation"),
        [add("structure", "parent=GR-100|component=GR-900|quantity_per=1|operation=20")],
        [add("structure", "parent=GR-100|component=GR-900|quantity_per=1|operation=10")],
    ),
    case(
        "component twice without step",
        ("structure.csv", 4, "operation"),
        [
            put("structure", 3, "operation", ""),
            put("structure", 4, "operation", ""),
            put("structure", 4, "component", "GR-110"),
        ],
        [put("structure", 3, "operation", ""), put("structure", 4, "operation", "")],
    ),
    case(
        "equipment with a star",
        ("equipment.csv", 4, "equipment"),
        [add("equipment", "equipment=jaws*2|count=1")],
        [add("equipment", "equipment=jaws 2|count=1")],
    ),
    case(
        "equipment with a semicolon",
        ("equipment.csv", 4, "equipment"),
        [add("equipment", "equipment=a;b|count=1")],
        [add("equipment", "equipment=a,b|count=1")],
    ),
    case(
        "setup skill nobody has",
        ("groups.csv", 3, "setup_skill"),
        [put("groups", 3, "setup_skill", "set grinders")],
        [put("groups", 3, "setup_skill", "set lathes")],
    ),
    case(
        "minding skill nobody has",
        ("groups.csv", 2, "minding_skill"),
        [put("groups", 2, "minding_skill", "mind")],
        [put("groups", 2, "minding_skill", "deburr")],
    ),
    case(
        "manual skill nobody has",
        ("routings.csv", 4, "skill"),
        [put("routings", 4, "skill", "deburring")],
        [put("routings", 4, "skill", "inspect")],
    ),
    case(
        "first off skill nobody has",
        ("routings.csv", 2, "first_off_skill"),
        [put("routings", 2, "first_off_skill", "Inspect")],
        [put("routings", 2, "first_off_skill", "deburr")],
    ),
    case(
        "manual step without skill",
        ("routings.csv", 4, "skill"),
        [put("routings", 4, "skill", "")],
        [put("routings", 2, "skill", "")],
    ),
    case(
        "minding skill without count",
        ("groups.csv", 2, "machines_per_person"),
        [put("groups", 2, "machines_per_person", "")],
        [put("groups", 2, "machines_per_person", ""), put("groups", 2, "minding_skill", "")],
    ),
    case(
        "minding count without skill",
        ("groups.csv", 3, "minding_skill"),
        [put("groups", 3, "machines_per_person", "1")],
        [put("groups", 3, "machines_per_person", "1"), put("groups", 3, "minding_skill", "set mills")],
    ),
    case(
        "missing pair of families",
        ("changeovers.csv", None, "to_family"),
        [put("changeovers", 3, "to_family", "bar 48")],
        [add("changeovers", "group=lathes|from_family=bar 32|to_family=bar 48|minutes=20")],
    ),
    case(
        "missing diagonal",
        ("changeovers.csv", None, "to_family"),
        [put("changeovers", 5, "from_family", "bar 48")],
        [put("changeovers", 5, "minutes", "0")],
    ),
]


@pytest.mark.parametrize(("at", "bad", "good"), CASES)
def test_a_wrong_name_is_one_fault_and_the_nearest_right_one_is_none(
    tmp_path: Path, at: Place, bad: list[Edit], good: list[Edit]
) -> None:
    assert place(Folder(tmp_path / "bad").edit(*bad).only_fault()) == at
    assert Folder(tmp_path / "good").edit(*good).faults() == ()


def test_each_missing_pair_is_named_with_where_its_families_are_used(tmp_path: Path) -> None:
    """A family only set on a machine counts too, in both directions and with itself."""
    faults = Folder(tmp_path / "shop").edit(put("machines", 3, "on_family", "bar 25")).faults()
    assert {fault.value for fault in faults} == {
        "lathes: bar 25 to bar 25",
        "lathes: bar 25 to bar 32",
        "lathes: bar 32 to bar 25",
        "lathes: bar 25 to bar 40",
        "lathes: bar 40 to bar 25",
    }
    assert all("machines.csv row 3" in fault.mend for fault in faults)


def test_a_group_without_changeover_rows_needs_none(tmp_path: Path) -> None:
    assert Folder(tmp_path / "shop").edit(gone("changeovers.csv")).faults() == ()
