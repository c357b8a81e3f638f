"""What the solver may do with freed operations: each rule that it keeps, from both sides of its edge."""

from __future__ import annotations

import random

import pytest
from builders import ShopBuilder
from ortools.sat.python import cp_model

from planner.search.cpsat import Cpsat
from planner.search.freed import KINDS, around_what_costs, changed
from planner.search.solver import Moved, _Model, place_anew
from planner.search.starts import Starts
from planner.timetable import Timetable


def timed(shop: ShopBuilder, *names: str) -> Timetable:
    """The shop's operations timed in the order of these batches (as they are laid down, without)."""
    work = shop.build()
    batches = {batch.name: batch for batch in work.batches}
    table = Timetable(work)
    wish = [i for name in names or batches for i in batches[name].operations]
    assert table.time(table.repaired(wish)) == 0
    return table


def anew(table: Timetable, *batches: str) -> dict[str, int]:
    """Starts by batch (of its first step) when all steps of these batches, or of all, are freed."""
    moved = moves(table, *batches)
    return {
        table.work.batches[table.work.operations[i].batch].name: start
        for i, start in sorted(moved.start.items(), reverse=True)
    }


def moves(table: Timetable, *batches: str) -> Moved:
    named = {b.index for b in table.work.batches if not batches or b.name in batches}
    freed = [int(i) for i in table.list if table.work.operations[int(i)].batch in named]
    moved = place_anew(table, Starts(table), freed, Cpsat(), 1, None)
    assert moved is not None
    return moved


def test_a_machine_does_one_thing_at_a_time() -> None:
    """The heavy order goes first; the light one begins at its end to the minute."""
    shop = ShopBuilder().batch("A").op("M", cycle=600).batch("B").op("M", cycle=1200)
    table = timed(shop.order("OA", "A", due=0).order("OB", "B", due=0, weight=9))
    assert anew(table) == {"B": 0, "A": 20}


@pytest.mark.parametrize(("people", "starts"), [(1, [0, 30]), (2, [0, 0])])
def test_settings_ask_for_as_many_hands_as_there_are(people: int, starts: list[int]) -> None:
    """Two machines, half an hour of setting each: one setter sets one after the other."""
    shop = ShopBuilder()
    for n in range(people):
        shop.person(f"P{n}", "set")
    shop.batch("A").op("M", 30, 600, skill="set").batch("B").op("N", 30, 600, skill="set")
    assert sorted(anew(timed(shop.order("OA", "A", due=0).order("OB", "B", due=0))).values()) == starts


@pytest.mark.parametrize(("count", "starts"), [(1, [0, 10]), (2, [0, 0])])
def test_equipment_is_held_by_as_many_of_what_is_freed_as_there_are(count: int, starts: list[int]) -> None:
    shop = ShopBuilder().equipment("jaws", count)
    shop.batch("A").op("M", cycle=600, equipment={"jaws": 1}).batch("B").op("N", cycle=1200, equipment={"jaws": 1})
    table = timed(shop.order("OA", "A", due=0).order("OB", "B", due=0), "B", "A")
    assert sorted(anew(table).values()) == starts


@pytest.mark.parametrize(("room", "ends"), [(9, [100, 200]), (10, [100, 100])])
def test_what_is_freed_goes_on_a_van_together_only_where_it_has_room(room: int, ends: list[int]) -> None:
    """Twice five pieces; both are ready for the first van."""
    shop = ShopBuilder().service("plate", [(10, 20, 100), (110, 120, 200)], room=room)
    for name in "AB":
        shop.batch(name, pieces=5).op(f"M{name}", cycle=60).outside("plate").order(f"O{name}", name, due=0)
    table = timed(shop)
    model, solver = _Model(table, Starts(table), table.list.tolist()), cp_model.CpSolver()
    assert solver.solve(model.model) == cp_model.OPTIMAL
    back = [solver.value(model.end[i]) for batch in table.work.batches for i in batch.operations[1:]]
    assert sorted(back) == ends


@pytest.mark.parametrize("cycle", [600, 660])
def test_outside_work_is_ready_by_the_cut_off(cycle: int) -> None:
    """Ten minutes of work are in time for the van at 10; eleven are not, wherever it starts."""
    shop = ShopBuilder().service("plate", [(10, 20, 100), (110, 120, 200)])
    shop.batch("A").op("M", cycle=cycle).outside("plate").order("O", "A", due=0)
    table = timed(shop)
    out = table.work.batches[0].operations[1]
    assert (moves(table).start[out] <= 10) == (cycle == 600)


def test_a_kit_waits_for_the_last_of_its_parts() -> None:
    shop = ShopBuilder().batch("P").op("M", cycle=600).batch("Q").op("N", cycle=1500)
    shop.batch("K").op("L", cycle=60).need("K", 10, "P").need("K", 10, "Q").order("O", "K", due=0)
    assert anew(timed(shop)) == {"P": 0, "Q": 0, "K": 25}


# --- change against a kept plan -------------------------------------------------------------------


@pytest.mark.parametrize(("slow_min", "machine"), [(249, "slow"), (251, "quick")])
def test_another_machine_than_in_the_kept_plan_costs_its_price(slow_min: int, machine: str) -> None:
    """240 weighted minutes: nine minutes late on the kept machine, or none on the quick one."""
    shop = ShopBuilder().batch("A").op({"slow": (0, 60 * slow_min), "quick": (0, 600)}).order("O", "A", due=10)
    table = timed(shop.kept("A", 10, "slow"))
    (alt,) = moves(table).alt.values()
    assert table.work.machines[int(table.data.alt[alt]["machine"])].name == machine


@pytest.mark.parametrize(("weight", "first"), [(6, "A"), (7, "B")])
def test_going_before_what_the_kept_plan_has_in_front_costs_its_price(weight: int, first: str) -> None:
    """B first saves 10 minutes of B and costs 1 of A: from a weight of 7 on that is more than 60."""
    shop = ShopBuilder().batch("A").op("M", cycle=600).batch("B").op("M", cycle=60)
    shop.order("OA", "A", due=10).order("OB", "B", due=1, weight=weight).kept("B", 10, "M", after=("A", 10))
    starts = anew(timed(shop))
    assert min(starts, key=starts.__getitem__) == first


def test_what_was_changed_is_freed_where_nothing_is_late() -> None:
    """A was to follow B on M: it stands in front of it, so both are placed anew and change places."""
    shop = ShopBuilder().batch("A").op("M", cycle=600).batch("B").op("M", cycle=60)
    shop.order("OA", "A", due=900).order("OB", "B", due=900).kept("A", 10, "M", after=("B", 10))
    table = timed(shop)
    assert changed(table) == [(0, 60)]
    for kind in KINDS:
        freed = around_what_costs(table, random.Random(1), 2, kind)
        assert {table.work.batches[table.work.operations[i].batch].name for i in freed} == {"A", "B"}
    starts = anew(table)
    assert starts["B"] < starts["A"]
    back = timed(shop, "B", "A")
    assert changed(back) == []
    assert around_what_costs(back, random.Random(1), 2, KINDS[0]) == []
