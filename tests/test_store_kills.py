"""A process that writes to a store is killed at any moment: what it had been told is there, and nothing is half written."""

from __future__ import annotations

import multiprocessing
import random
import sys
import time
from datetime import datetime
from multiprocessing.connection import Connection

import pytest
from intake_folders import TINY_SHOP

from planner.store import Note, ShopPlace, Store, Writing
from planner.store.folder import take_in

AT = datetime(2026, 3, 23, 9)
TOGETHER = {"stock": "quantity", "equipment": "count", "orders": "note"}  # changed by one entry, or not at all


def write_on(place: ShopPlace, told: Connection) -> None:
    """Entries without end, each told once it is acknowledged."""

    def change(writing: Writing) -> Note:
        number = len(writing.entries("edit")) + 1
        for table, column in TOGETHER.items():
            writing.draft.put(writing.draft.rows(table)[0], {column: 1000 + number})
        writing.draft.add("leave", {"person": "Ada", "from": "2026-05-01 08:00", "to": "2026-05-01 09:00"})
        return Note(f"number {number}")

    with Store(place) as store:
        while True:
            told.send(store.write("Ann", AT, "edit", "test", change).id)


@pytest.mark.skipif(sys.platform == "win32", reason="there is no such kill there")
def test_a_kill_loses_nothing_that_was_acknowledged(place: ShopPlace, request: pytest.FixtureRequest) -> None:
    take_in(TINY_SHOP, place, "Ann").close()
    fork, chance = multiprocessing.get_context("fork"), random.Random(1)
    acknowledged: set[int] = set()
    for _ in range(request.config.getoption("--kills")):
        here, there = fork.Pipe(duplex=False)
        writer = fork.Process(target=write_on, args=(place, there), daemon=True)
        writer.start()
        there.close()
        if here.poll(20):
            time.sleep(chance.uniform(0, 0.05))
        writer.kill()
        writer.join()
        try:
            while here.poll():
                acknowledged.add(here.recv())
        except EOFError:
            pass  # all has been read
        check(place, acknowledged)
    assert len(acknowledged) >= request.config.getoption("--kills")


def check(place: ShopPlace, acknowledged: set[int]) -> None:
    with Store(place) as store:
        entries, sheets = store.entries("edit"), store.sheets()
        changed = [len(store.changes(entry.id)) for entry in entries]
    assert acknowledged <= {entry.id for entry in entries}
    if not entries:
        return
    assert [sheets.rows(table)[0][column] for table, column in TOGETHER.items()] == [str(1000 + len(entries))] * 3
    assert len(sheets.rows("leave")) == 1 + len(entries)
    assert changed == [4] * len(entries)
