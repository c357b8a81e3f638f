"""The order of the rows in the tables changes nothing in the plan."""

from __future__ import annotations

import csv
import random
import shutil
from pathlib import Path

import pytest

from planner.explode import explode
from planner.intake import read_shop
from planner.plan import Plan
from planner.search import search
from planner.verify import verify
from planner.work import Work

TINY_SHOP = Path(__file__).parent / "data" / "tiny_shop"


def shuffled(folder: Path, seed: int) -> Path:
    """A copy of the tiny shop with the rows of every table in another order."""
    shutil.copytree(TINY_SHOP, folder)
    for file in sorted(folder.glob("*.csv")):
        with file.open(encoding="utf-8", newline="") as stream:
            heading, *rows = list(csv.reader(stream))
        random.Random(f"{file.name}{seed}").shuffle(rows)
        with file.open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream).writerows([heading, *rows])
    return folder


def told(work: Work, plan: Plan) -> list[tuple]:
    """The plan by names."""

    def person(i: int) -> str:
        return work.people[i].name if i >= 0 else ""

    return sorted(
        (
            work.batches[work.operations[s.operation].batch].name, work.operations[s.operation].number,
            "" if s.machine is None else work.machines[s.machine].name, s.start, s.run_start, s.run_end, s.end,
            [(person(x.person), x.start, x.end) for x in (*s.setup, *s.stints)],
            None if s.first_off is None else (person(s.first_off.approver), s.first_off.start),
        )
        for s in plan.steps
    )  # fmt: skip


def planned(folder: Path) -> tuple[list[tuple], object, str]:
    work = explode(read_shop(folder))
    plan = search(work, trials=2500, seed=3)
    assert verify(work, plan) == []
    return told(work, plan), plan.cost, work.fingerprint


@pytest.mark.parametrize("seed", range(6))
def test_shuffled_rows_give_the_same_plan(tmp_path: Path, seed: int) -> None:
    """List search and solver turns included; the fingerprint of the data is the same too."""
    assert planned(shuffled(tmp_path / "shop", seed)) == planned(TINY_SHOP)
