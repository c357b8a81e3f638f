"""Steps, structure, equipment and start states: each is possible, or it is one fault."""

from __future__ import annotations

from pathlib import Path

import pytest
from intake_folders import Edit, Folder, Place, add, case, drop, place, put, text

# rows of routings: 2-6 are GR-110 10 turn, 20 mill, 30 deburr, 40 anodise, 50 check; 7-9 are GR-120 10 turn,
# 20 mill slot, 30 wait; 10-11 are GR-100 10 press, 20 assemble
STEPS = [
    case("no group", ("routings.csv", 3, "group"), [put("routings", 3, "group", "")], []),
    case(
        "no setup time",
        ("routings.csv", 4, "setup_min"),
        [put("routings", 4, "setup_min", "")],
        [put("routings", 4, "setup_min", "0")],
    ),
    case(
        "no cycle time",
        ("routings.csv", 4, "cycle_sec"),
        [put("routings", 4, "cycle_sec", "")],
        [put("routings", 4, "cycle_sec", "0")],
    ),
    case("no supplier", ("routings.csv", 5, "supplier"), [put("routings", 5, "supplier", "")], []),
    case("no process", ("routings.csv", 5, "process"), [put("routings", 5, "process", "")], []),
    case(
        "process the supplier does not do",
        ("routings.csv", 5, "process"),
        [put("routings", 5, "process", "anodise")],
        [
            put("routings", 5, "process", "anodise"),
            add("processes", "supplier=Bright Coat|process=anodise|turn_days=5"),
        ],
    ),
    case(
        "process of another supplier",
        ("routings.csv", 5, "process"),
        [
            add("suppliers", "supplier=Other Coat|calendar=finisher"),
            put("processes", 2, "supplier", "Other Coat"),
            drop("booked_turns", 3),
            drop("booked_turns", 2),
        ],
        [
            add("suppliers", "supplier=Other Coat|calendar=finisher"),
            add("processes", "supplier=Other Coat|process=hard anodise|turn_days=9"),
        ],
    ),
    case(
        "no collection",
        ("suppliers.csv", 2, "supplier"),
        [drop("collections", 3), drop("collections", 2)],
        [drop("collections", 3)],
    ),
    case(
        "no delivery",
        ("suppliers.csv", 2, "supplier"),
        [drop("deliveries", 3), drop("deliveries", 2)],
        [drop("deliveries", 3)],
    ),
    case(
        "wait without minutes",
        ("routings.csv", 9, "wait_min"),
        [put("routings", 9, "wait_min", "")],
        [put("routings", 9, "wait_min", "0")],
    ),
    case(
        "group without machines",
        ("routings.csv", 3, "group"),
        [add("groups", "group=grinders"), put("routings", 3, "group", "grinders"), drop("pins", 2)],
        [
            add("groups", "group=grinders"),
            put("routings", 3, "group", "grinders"),
            drop("pins", 2),
            add("machines", "machine=G1|group=grinders|calendar=day"),
        ],
    ),
    case(
        "listed machine of another group",
        ("routing_machines.csv", 3, "machine"),
        [put("routing_machines", 3, "machine", "D1")],
        [drop("routing_machines", 3)],
    ),
    case(
        "machines listed for no step",
        ("routing_machines.csv", 4, "operation"),
        [add("routing_machines", "part=GR-120|operation=15|machine=L1")],
        [add("routing_machines", "part=GR-120|operation=20|machine=M1")],
    ),
    case(
        "machines listed for outside work",
        ("routing_machines.csv", 4, "operation"),
        [add("routing_machines", "part=GR-110|operation=40|machine=D1")],
        [add("routing_machines", "part=GR-110|operation=30|machine=D1")],
    ),
    case(
        "group of outside work",
        ("routings.csv", 5, "group"),
        [put("routings", 5, "group", "bench")],
        [put("routings", 5, "sample_pieces", "5")],
    ),
    case(
        "supplier of machine work",
        ("routings.csv", 3, "supplier"),
        [put("routings", 3, "supplier", "Bright Coat")],
        [put("routings", 3, "piece_price", "0.00")],
    ),
    case(
        "first off of manual work",
        ("routings.csv", 4, "first_off_skill"),
        [put("routings", 4, "first_off_skill", "inspect")],
        [put("routings", 3, "first_off_skill", "inspect")],
    ),
    case(
        "setup ahead of manual work",
        ("routings.csv", 4, "setup_ahead"),
        [put("routings", 4, "setup_ahead", "yes")],
        [put("routings", 4, "setup_ahead", "no")],
    ),
    case(
        "first off minutes without skill",
        ("routings.csv", 3, "first_off_skill"),
        [put("routings", 3, "first_off_min", "5")],
        [put("routings", 3, "first_off_min", "0")],
    ),
    case(
        "unknown move calendar",
        ("routings.csv", 5, "move_calendar"),
        [put("routings", 5, "move_calendar", "days")],
        [put("routings", 5, "move_calendar", "")],
    ),
]

CYCLES = [
    case(
        "a first piece of no length",
        ("routings.csv", 2, "cycle_sec"),
        [put("routings", 2, "cycle_sec", "0")],
        [put("routings", 4, "cycle_sec", "0")],
    ),
    case(
        "set before its batch is there, for a run of no length",
        ("routings.csv", 3, "cycle_sec"),
        [put("routings", 3, "cycle_sec", "0"), put("routings", 2, "transfer_pieces", "")],
        [
            put("routings", 3, "cycle_sec", "0"),
            put("routings", 2, "transfer_pieces", ""),
            put("routings", 3, "setup_ahead", "no"),
        ],
    ),
    case(
        "pieces that come before the batch is finished, into a run of no length",
        ("routings.csv", 3, "cycle_sec"),
        [put("routings", 3, "cycle_sec", "0"), put("routings", 3, "setup_ahead", "no")],
        [put("routings", 3, "cycle_sec", "1"), put("routings", 3, "setup_ahead", "no")],
    ),
    case(
        "a first piece of no length on one machine",
        ("routing_machines.csv", 3, "cycle_sec"),
        [put("routings", 7, "first_off_skill", "inspect"), put("routing_machines", 3, "cycle_sec", "0")],
        [put("routing_machines", 3, "cycle_sec", "0")],
    ),
]

TRANSFERS = [
    case(
        "into manual work",
        ("routings.csv", 3, "transfer_pieces"),
        [put("routings", 3, "transfer_pieces", "10")],
        [put("routings", 2, "transfer_pieces", "10")],
    ),
    case(
        "from the last step",
        ("routings.csv", 8, "transfer_pieces"),
        [drop("routings", 9), put("routings", 8, "transfer_pieces", "10")],
        [drop("routings", 9), put("routings", 7, "transfer_pieces", "10")],
    ),
    case(
        "from manual work",
        ("routings.csv", 10, "transfer_pieces"),
        [put("routings", 10, "transfer_pieces", "5")],
        [put("routings", 10, "sample_pieces", "5")],
    ),
    case(
        "into work that may not pause",
        ("routings.csv", 2, "transfer_pieces"),
        [put("routings", 3, "may_pause", "no")],
        [put("routings", 2, "may_pause", "no")],
    ),
    case(
        "from a sample",
        ("routings.csv", 2, "transfer_pieces"),
        [put("routings", 2, "sample_pieces", "30")],
        [put("routings", 2, "sample_pieces", "30"), put("routings", 2, "transfer_pieces", "")],
    ),
    case(
        "into a sample",
        ("routings.csv", 2, "transfer_pieces"),
        [put("routings", 3, "sample_pieces", "30")],
        [put("routings", 4, "sample_pieces", "30")],
    ),
    case(
        "smaller than the first cycle of a first off",
        ("routings.csv", 2, "transfer_pieces"),
        [put("routings", 3, "first_off_skill", "inspect"), put("routings", 3, "pieces_per_cycle", "21")],
        [put("routings", 3, "first_off_skill", "inspect"), put("routings", 3, "pieces_per_cycle", "20")],
    ),
    case(
        "smaller than a cycle without first off",
        ("routings.csv", 2, "transfer_pieces"),
        [put("routings", 3, "first_off_skill", "inspect"), put("routings", 2, "transfer_pieces", "1")],
        [put("routings", 2, "transfer_pieces", "1")],
    ),
]

PARTS = [
    case(
        "made without routing",
        ("parts.csv", 6, "part"),
        [add("parts", "part=GR-200|made=yes")],
        [add("parts", "part=GR-200|made=no")],
    ),
    case(
        "bought with routing",
        ("parts.csv", 5, "made"),
        [add("routings", "part=GR-900|operation=10|kind=wait|wait_min=5")],
        [add("routings", "part=GR-900|operation=10|kind=wait|wait_min=5"), put("parts", 5, "made", "yes")],
    ),
    case(
        "bought part with components",
        ("structure.csv", 5, "parent"),
        [add("structure", "parent=GR-900|component=GR-120|quantity_per=1")],
        [add("structure", "parent=GR-110|component=GR-120|quantity_per=1")],
    ),
    case(
        "batch of a bought part",
        ("batches.csv", 4, "part"),
        [add("batches", "batch=B-3|part=GR-900|quantity=5")],
        [add("batches", "batch=B-3|part=GR-100|quantity=5")],
    ),
    case(
        "component at no step",
        ("structure.csv", 2, "operation"),
        [put("structure", 2, "operation", "15")],
        [put("structure", 2, "operation", "")],
    ),
    case(
        "part in itself",
        ("structure.csv", 5, "component"),
        [add("structure", "parent=GR-110|component=GR-110|quantity_per=1")],
        [add("structure", "parent=GR-110|component=GR-900|quantity_per=1")],
    ),
    case(
        "batch maximum under minimum",
        ("parts.csv", 3, "batch_maximum"),
        [put("parts", 3, "batch_maximum", "19")],
        [put("parts", 3, "batch_maximum", "20")],
    ),
    case(
        "no multiple between minimum and maximum",
        ("parts.csv", 3, "batch_maximum"),
        [put("parts", 3, "batch_minimum", "21"), put("parts", 3, "batch_maximum", "29")],
        [put("parts", 3, "batch_minimum", "21"), put("parts", 3, "batch_maximum", "30")],
    ),
    case(
        "half of a split under the batch minimum",
        ("parts.csv", 4, "split_minimum"),
        [put("parts", 4, "split_minimum", "9")],
        [put("parts", 4, "split_minimum", "10")],
    ),
    case(
        "two halves over the batch maximum",
        ("parts.csv", 3, "split_minimum"),
        [put("parts", 3, "split_minimum", "61")],
        [put("parts", 3, "split_minimum", "60")],
    ),
    case(
        "splitting a bought part",
        ("parts.csv", 5, "split_minimum"),
        [put("parts", 5, "split_minimum", "5")],
        [put("parts", 2, "split_minimum", "5")],
    ),
    case(
        "combining a bought part",
        ("parts.csv", 5, "combine_within_days"),
        [put("parts", 5, "combine_within_days", "0")],
        [put("parts", 2, "combine_within_days", "0")],
    ),
    case(
        "batch reserved for an order it does not go into",
        ("batches.csv", 2, "order"),
        [put("batches", 2, "order", "O-3")],
        [put("batches", 2, "order", "O-1")],
    ),
]

EQUIPMENT = [
    case(
        "more than there is",
        ("routings.csv", 3, "equipment"),
        [put("routings", 3, "equipment", "jaws grinder*3")],
        [put("routings", 3, "equipment", "jaws grinder*3"), put("equipment", 3, "count", "3")],
    ),
    case(
        "one thing on two machines",
        ("machines.csv", 3, "on_equipment"),
        [put("machines", 3, "on_equipment", "collets 32")],
        [put("machines", 3, "on_equipment", "collets 32"), put("equipment", 2, "count", "2")],
    ),
    case(
        "operation without part on a machine",
        ("machines.csv", 2, "on_part"),
        [put("machines", 2, "on_part", "")],
        [put("machines", 2, "on_part", ""), put("machines", 2, "on_operation", "")],
    ),
    case("part without operation", ("machines.csv", 2, "on_operation"), [put("machines", 2, "on_operation", "")], []),
    case(
        "operation that is not in the routing",
        ("machines.csv", 4, "on_operation"),
        [put("machines", 4, "on_operation", "25")],
        [put("machines", 4, "on_part", "GR-110")],
    ),
    case(
        "operation of another group",
        ("machines.csv", 4, "on_operation"),
        [put("machines", 4, "on_operation", "10")],
        [put("machines", 3, "on_part", "GR-120"), put("machines", 3, "on_operation", "10")],
    ),
    case(
        "machine not listed for the operation",
        ("machines.csv", 3, "on_operation"),
        [
            drop("routing_machines", 2),
            put("machines", 3, "on_part", "GR-120"),
            put("machines", 3, "on_operation", "10"),
        ],
        [put("machines", 3, "on_part", "GR-120"), put("machines", 3, "on_operation", "10")],
    ),
    case(
        "another family than the step's",
        ("machines.csv", 2, "on_family"),
        [put("machines", 2, "on_family", "bar 40")],
        [put("machines", 2, "on_family", "bar 32")],
    ),
    case(
        "bought part on a machine",
        ("machines.csv", 4, "on_part"),
        [put("machines", 4, "on_part", "GR-900")],
        [],
    ),
]


@pytest.mark.parametrize(("at", "bad", "good"), [*STEPS, *CYCLES, *TRANSFERS, *PARTS, *EQUIPMENT])
def test_what_cannot_be_is_one_fault_and_the_nearest_that_can_is_none(
    tmp_path: Path, at: Place, bad: list[Edit], good: list[Edit]
) -> None:
    assert place(Folder(tmp_path / "bad").edit(*bad).only_fault()) == at
    assert Folder(tmp_path / "good").edit(*good).faults() == ()


def test_a_loop_is_named_from_part_to_part(tmp_path: Path) -> None:
    loop = add("structure", "parent=GR-120|component=GR-110|quantity_per=1")
    back = add("structure", "parent=GR-110|component=GR-100|quantity_per=1")
    fault = Folder(tmp_path / "shop").edit(drop("structure", 3), loop, back).only_fault()
    assert fault.value == "GR-100 > GR-120 > GR-110 > GR-100"
    assert Folder(tmp_path / "open").edit(loop).faults() == (), "a part used on two levels is no loop"


def test_a_deep_structure_is_walked_to_its_end(tmp_path: Path) -> None:
    """Two thousand levels: a loop over all of them is found, and nothing gives out on the way."""
    depth = 2000
    parts = "".join(f"P{i},yes\n" for i in range(depth))
    routings = "".join(f"P{i},10,wait,1\n" for i in range(depth))
    links = "".join(f"P{i},P{(i + 1) % depth},1\n" for i in range(depth))
    folder = Folder(tmp_path / "shop")
    emptied = (
        "orders", "batches", "progress", "pins", "stock", "receipts", "routing_machines", "bars", "forecast", "booked_times",
        "booked_turns",
    )  # fmt: skip
    for name in emptied:
        table = (folder.path / f"{name}.csv").read_text(encoding="utf-8").splitlines()[0]
        folder.edit(text(f"{name}.csv", table + "\n"))
    machines = "machine,group,calendar\nM1,mills,day\n"
    folder.edit(
        text("parts.csv", "part,made\n" + parts),
        text("routings.csv", "part,operation,kind,wait_min\n" + routings),
        text("structure.csv", "parent,component,quantity_per\n" + links),
        text("machines.csv", machines),
        text("downtime.csv", "machine,from,to\n"),
    )
    assert folder.only_fault().value.count(" > ") == depth
    folder.edit(drop("structure", depth + 1))
    assert folder.faults() == ()


def test_an_order_for_a_bought_part_is_no_fault(tmp_path: Path) -> None:
    folder = Folder(tmp_path / "shop").edit(
        add("orders", "order=O-9|part=GR-900|quantity=2|due=2026-04-01|class=normal")
    )
    assert folder.read().orders["O-9"].part == "GR-900"
