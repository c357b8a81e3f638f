"""Progress and pins: what contradicts itself is one fault, the nearest sense is none."""

from __future__ import annotations

from pathlib import Path

import pytest
from intake_folders import Edit, Folder, Place, add, case, drop, place, put


def row(cells: str) -> Edit:
    return add("progress", cells)


# Row 2: B-1 (50 of GR-110) 10 running on L1, 22 good, 1 scrap, in sublots of 20. Row 3: B-2 (40 of GR-120) 10 done,
# 39 good, 1 scrap. Row 4: B-2 20 running on M1, 15 minutes of setting left.
CLEAR_L1 = [put("machines", 2, "on_part", ""), put("machines", 2, "on_operation", "")]
MILL_2 = [add("machines", "machine=M2|group=mills|calendar=day")]
FREE_MILL = [drop("progress", 4)]
B1_TO_30 = [put("progress", 2, "state", "done"), put("progress", 2, "good", "49")]

STATES = [
    case("unknown operation", ("progress.csv", 4, "operation"), [put("progress", 4, "operation", "25")], []),
    case("running without machine", ("progress.csv", 4, "machine"), [put("progress", 4, "machine", "")], []),
    case(
        "running on a machine of another group",
        ("progress.csv", 4, "machine"),
        [put("progress", 4, "machine", "D1")],
        [put("progress", 4, "machine", "M1")],
    ),
    case(
        "running on a machine not listed",
        ("progress.csv", 2, "machine"),
        [*CLEAR_L1, add("routing_machines", "part=GR-110|operation=10|machine=L2")],
        [*CLEAR_L1, add("routing_machines", "part=GR-110|operation=10|machine=L1")],
    ),
    case(
        "two on one machine",
        ("progress.csv", 5, "machine"),
        [row("batch=B-1|operation=20|state=running|machine=M1")],
        [row("batch=B-1|operation=20|state=part|machine=M1")],
    ),
    case(
        "running with more than there is",
        ("progress.csv", 5, "state"),
        [*MILL_2, row("batch=B-1|operation=20|state=running|machine=M2")],
        [*MILL_2, row("batch=B-1|operation=20|state=running|machine=M2"), put("equipment", 3, "count", "3")],
    ),
    case(
        "out on a machine step",
        ("progress.csv", 4, "state"),
        [
            put("progress", 4, "state", "out"),
            put("progress", 4, "setup_left_min", ""),
            put("progress", 4, "collected", "2026-03-20 15:00"),
        ],
        [put("progress", 4, "state", "part"), put("progress", 4, "setup_left_min", "")],
    ),
    case(
        "running an outside step",
        ("progress.csv", 7, "state"),
        [
            *B1_TO_30,
            *FREE_MILL,
            row("batch=B-1|operation=20|state=done"),
            row("batch=B-1|operation=30|state=done"),
            row("batch=B-1|operation=40|state=done"),
            row("batch=B-1|operation=50|state=out|collected=2026-03-20 15:00"),
        ],
        [],
    ),
    case(
        "out without collection",
        ("progress.csv", 6, "collected"),
        [
            *B1_TO_30,
            *FREE_MILL,
            row("batch=B-1|operation=20|state=done"),
            row("batch=B-1|operation=30|state=done"),
            row("batch=B-1|operation=40|state=out"),
        ],
        [
            *B1_TO_30,
            *FREE_MILL,
            row("batch=B-1|operation=20|state=done"),
            row("batch=B-1|operation=30|state=done"),
            row("batch=B-1|operation=40|state=out|collected=2026-03-19 15:00"),
        ],
    ),
    case(
        "collected after the plan start",
        ("progress.csv", 4, "collected"),
        [put("progress", 4, "collected", "2026-03-23 08:01")],
        [put("progress", 4, "collected", "2026-03-23 08:00")],
    ),
    case(
        "a wait that runs",
        ("progress.csv", 5, "state"),
        [
            put("progress", 4, "state", "done"),
            put("progress", 4, "setup_left_min", ""),
            row("batch=B-2|operation=30|state=part"),
        ],
        [
            put("progress", 4, "state", "done"),
            put("progress", 4, "setup_left_min", ""),
            row("batch=B-2|operation=30|state=done"),
        ],
    ),
    case(
        "a setter without the skill",
        ("progress.csv", 4, "person"),
        [put("progress", 4, "person", "Cleo")],
        [put("progress", 4, "person", "Cleo"), put("progress", 4, "setup_left_min", "0")],
    ),
]

ORDER = [
    case(
        "later done before earlier",
        ("progress.csv", 5, "state"),
        [row("batch=B-2|operation=30|state=done")],
        [
            put("progress", 4, "state", "done"),
            put("progress", 4, "setup_left_min", ""),
            row("batch=B-2|operation=30|state=done"),
        ],
    ),
    case(
        "earlier not listed",
        ("progress.csv", 3, "state"),
        [drop("progress", 3)],
        [drop("progress", 4), drop("progress", 3)],
    ),
    case(
        "later begun before earlier without sublots",
        ("progress.csv", 4, "state"),
        [put("progress", 3, "state", "part")],
        [put("progress", 3, "state", "part"), put("routings", 7, "transfer_pieces", "10")],
    ),
    case(
        "later done though its sublots still come",
        ("progress.csv", 4, "state"),
        [*FREE_MILL, row("batch=B-1|operation=20|state=done")],
        [*FREE_MILL, row("batch=B-1|operation=20|state=part|good=20")],
    ),
    case(
        "set ahead where that is not allowed",
        ("progress.csv", 4, "state"),
        [put("progress", 3, "state", "part")],
        [put("progress", 3, "state", "part"), put("routings", 8, "setup_ahead", "yes")],
    ),
    case(
        "set ahead of a step not begun",
        ("progress.csv", 3, "state"),
        [put("routings", 8, "setup_ahead", "yes"), drop("progress", 3)],
        [put("routings", 8, "setup_ahead", "yes")],
    ),
    case(
        "made pieces when only set ahead",
        ("progress.csv", 4, "state"),
        [
            put("routings", 8, "setup_ahead", "yes"),
            put("progress", 3, "state", "part"),
            put("progress", 4, "setup_left_min", "0"),
            put("progress", 4, "good", "1"),
        ],
        [
            put("routings", 8, "setup_ahead", "yes"),
            put("progress", 3, "state", "part"),
            put("progress", 4, "setup_left_min", "0"),
        ],
    ),
]

COUNTS = [
    case(
        "more than the batch",
        ("progress.csv", 2, "good"),
        [put("progress", 2, "good", "50")],
        [put("progress", 2, "good", "49")],
    ),
    case(
        "more than is left after scrap",
        ("progress.csv", 4, "good"),
        [put("progress", 4, "setup_left_min", "0"), put("progress", 4, "good", "40")],
        [put("progress", 4, "setup_left_min", "0"), put("progress", 4, "good", "39")],
    ),
    case(
        "more than has come across",
        ("progress.csv", 4, "good"),
        [*FREE_MILL, row("batch=B-1|operation=20|state=part|good=22|scrap=1")],
        [*FREE_MILL, row("batch=B-1|operation=20|state=part|good=21|scrap=1")],
    ),
    case(
        "more than the batch, but for setting pieces of later steps",
        ("progress.csv", 3, "good"),
        [put("routings", 8, "setting_pieces", "2"), put("progress", 3, "good", "42")],
        [put("routings", 8, "setting_pieces", "2"), put("progress", 3, "good", "41")],
    ),
    case(
        "done with pieces missing",
        ("progress.csv", 3, "good"),
        [put("progress", 3, "good", "38")],
        [put("progress", 3, "good", "0"), put("progress", 3, "scrap", "0")],
    ),
    case(
        "more than the sample",
        ("progress.csv", 3, "good"),
        [put("routings", 7, "sample_pieces", "39")],
        [put("routings", 7, "sample_pieces", "40")],
    ),
]

SETUP = [
    case(
        "pieces made while setting",
        ("progress.csv", 4, "setup_left_min"),
        [put("progress", 4, "good", "1")],
        [put("progress", 4, "scrap", "1")],
    ),
    case(
        "first off passed while setting",
        ("progress.csv", 4, "first_off_passed"),
        [put("progress", 4, "first_off_passed", "yes")],
        [put("progress", 4, "first_off_passed", "yes"), put("progress", 4, "setup_left_min", "0")],
    ),
    case(
        "run on without first off",
        ("progress.csv", 2, "first_off_passed"),
        [put("progress", 2, "first_off_passed", "no"), put("progress", 2, "good", "2")],
        [put("progress", 2, "first_off_passed", "no"), put("progress", 2, "good", "1")],
    ),
    case(
        "setting left when done",
        ("progress.csv", 3, "setup_left_min"),
        [put("progress", 3, "setup_left_min", "5")],
        [put("progress", 3, "setup_left_min", "0")],
    ),
]

PINS = [
    case(
        "operation not in the batch's routing",
        ("pins.csv", 2, "operation"),
        [put("pins", 2, "operation", "15")],
        [put("pins", 2, "operation", "10"), put("pins", 2, "machine", "L2")],
    ),
    case(
        "operation in no routing",
        ("pins.csv", 3, "operation"),
        [put("pins", 3, "operation", "15")],
        [put("pins", 3, "operation", "50")],
    ),
    case(
        "machine that cannot do it",
        ("pins.csv", 2, "machine"),
        [put("pins", 2, "machine", "L1")],
        [put("pins", 2, "machine", "")],
    ),
    case(
        "machine for outside work",
        ("pins.csv", 2, "machine"),
        [put("pins", 2, "operation", "40")],
        [put("pins", 2, "operation", "40"), put("pins", 2, "machine", "")],
    ),
    case(
        "unknown person",
        ("pins.csv", 3, "person"),
        [put("pins", 3, "person", "Dia")],
        [put("pins", 3, "person", "Cleo")],
    ),
    case(
        "nothing decided",
        ("pins.csv", 3, "machine"),
        [put("pins", 3, "person", ""), put("pins", 3, "not_before", "")],
        [put("pins", 3, "person", "")],
    ),
    case(
        "set again with pieces from before",
        ("progress.csv", 2, "setup_left_min"),
        [
            put("progress", 2, "setup_left_min", "20"),
            put("progress", 2, "first_off_passed", "no"),
            put("progress", 2, "good", "1"),
        ],
        [
            put("progress", 2, "setup_left_min", "20"),
            put("progress", 2, "first_off_passed", "no"),
            put("progress", 2, "set_again", "yes"),
        ],
    ),
    case(
        "first piece open again with pieces from before",
        ("progress.csv", 2, "first_off_passed"),
        [put("progress", 2, "first_off_passed", "no")],
        [put("progress", 2, "first_off_passed", "no"), put("progress", 2, "set_again", "yes")],
    ),
    case(
        "right after a batch without its operation",
        ("pins.csv", 2, "after_operation"),
        [put("pins", 2, "after_batch", "B-2")],
        [put("pins", 2, "after_batch", "B-2"), put("pins", 2, "after_operation", "20")],
    ),
    case(
        "right after a step on no machine",
        ("pins.csv", 2, "machine"),
        [put("pins", 2, "after_batch", "B-2"), put("pins", 2, "after_operation", "20"), put("pins", 2, "machine", "")],
        [put("pins", 2, "after_batch", "B-2"), put("pins", 2, "after_operation", "20")],
    ),
    case(
        "kept off a machine that there is not",
        ("pins.csv", 2, "not_machines"),
        [put("pins", 2, "not_machines", "M9")],
        [put("pins", 2, "not_machines", "L1;L2")],
    ),
]


@pytest.mark.parametrize(("at", "bad", "good"), [*STATES, *ORDER, *COUNTS, *SETUP, *PINS])
def test_a_contradiction_is_one_fault_and_its_nearest_sense_is_none(
    tmp_path: Path, at: Place, bad: list[Edit], good: list[Edit]
) -> None:
    assert place(Folder(tmp_path / "bad").edit(*bad).only_fault()) == at
    assert Folder(tmp_path / "good").edit(*good).faults() == ()


def test_a_pin_on_a_batch_still_to_be_made_is_kept(tmp_path: Path) -> None:
    """Batches are made later; what cannot be kept is listed then."""
    pins = Folder(tmp_path / "shop").edit(put("pins", 3, "batch", "X-99")).read().pins
    assert pins[1].batch == "X-99"


def test_a_contradiction_in_the_count_names_what_can_be_there(tmp_path: Path) -> None:
    fault = Folder(tmp_path / "shop").edit(put("progress", 2, "good", "50")).only_fault()
    assert fault.value == "50"
    assert fault.expected == "at most 50 pieces, good and scrap together"
    assert "together are 51" in fault.mend
