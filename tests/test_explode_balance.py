"""Random product structures: every quantity balances, is traceable, and does not depend on row order."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace
from datetime import date, timedelta

from explode_shops import machine_step, open_batch, order, part, shop
from hypothesis import given
from hypothesis import strategies as st

from planner.explode import explode
from planner.explode.quantities import good_from, largest_batch, start_quantity, yield_of
from planner.shop import BatchRule, Component, Pin, Progress, Receipt, Shop
from planner.work import Begun, Work

FIRST_DUE = date(2026, 4, 1)
NUMBERS = ("P0", "P1", "P2", "P3", "P4", "P5")


@st.composite
def shops(draw: st.DrawFn) -> Shop:
    """Up to six parts, each going only into parts before it; the last two are bought."""
    parts = []
    for i, number in enumerate(NUMBERS):
        rule = BatchRule(draw(st.integers(1, 9)), draw(st.integers(1, 5)), draw(st.sampled_from([None, 30])))
        parts.append(part(number, i < 4, yield_percent=float(draw(st.integers(70, 100))), rule=rule))
    structure = tuple(
        Component(NUMBERS[a], NUMBERS[b], draw(st.integers(1, 3)), draw(st.sampled_from([None, 10, 20])))
        for a in range(4)
        for b in range(a + 1, 6)
        if draw(st.booleans())
    )
    steps = {n: (machine_step(10, setting_pieces=draw(st.integers(0, 2))), machine_step(20)) for n in NUMBERS[:4]}
    orders = tuple(
        order(f"C{i}", draw(st.sampled_from(NUMBERS)), draw(st.integers(0, 40)), FIRST_DUE + timedelta(draw(st.integers(0, 3))))
        for i in range(draw(st.integers(0, 4)))
    )  # fmt: skip
    receipts = tuple(
        Receipt(draw(st.sampled_from(NUMBERS)), draw(st.integers(1, 20)), FIRST_DUE + timedelta(draw(st.integers(0, 3))), f"R{i}")
        for i in range(draw(st.integers(0, 3)))
    )  # fmt: skip
    batches = tuple(draw(open_batches(i, [o.number for o in orders])) for i in range(draw(st.integers(0, 3))))
    stock = draw(st.dictionaries(st.sampled_from(NUMBERS), st.integers(0, 50)))
    sure = draw(st.sampled_from([0, 80]))
    return shop(
        orders, tuple(parts), steps, structure, batches, {"confidence_percent": sure}, receipts=receipts, stock=stock
    )


@st.composite
def open_batches(draw: st.DrawFn, i: int, orders: list[str]):  # type: ignore[no-untyped-def]
    quantity = draw(st.integers(1, 30))
    scrap = draw(st.integers(0, quantity))
    row = draw(st.sampled_from(["", "part", "done"]))
    reserved = draw(st.sampled_from([None, *orders]))
    progress = (Progress(10, row, scrap=scrap),) if row else ()
    return open_batch(f"B{i}", draw(st.sampled_from(NUMBERS[:4])), quantity, order=reserved, progress=progress)


def taken(work: Work) -> Counter[tuple[str, str]]:
    """Pieces given by (part, supply)."""
    count: Counter[tuple[str, str]] = Counter()
    for g in work.given:
        count[g.part, g.supply] += g.pieces
    return count


@given(shops())
def test_orders_and_parents_get_exactly_what_they_want(made: Shop) -> None:
    check_balance(made, explode(made))


def check_balance(made: Shop, work: Work) -> None:
    assert {o.number: sum(s.pieces for s in o.sources) for o in work.orders} == {
        o.number: o.quantity for o in made.orders.values() if o.quantity
    }
    got: Counter[tuple[int, str]] = Counter()
    for need in work.needs:
        got[need.operation, need.part] += need.pieces
    wanted: Counter[tuple[int, str]] = Counter()
    for batch in work.batches:
        for row in made.structure:
            if row.parent != batch.part:
                continue
            op = next(
                work.operations[i] for i in batch.operations if work.operations[i].number == (row.operation or 10)
            )
            lost = sum(p.scrap for p in made.batches[batch.name].progress) if batch.is_open else 0
            pieces = batch.start_pieces - lost if op.begun in (Begun.NO, Begun.PART) else 0
            if pieces:
                wanted[op.index, row.component] += pieces * row.quantity_per
    assert got == wanted


@given(shops())
def test_no_supply_gives_more_than_it_has_and_nothing_is_taken_as_here_while_there_is_some(made: Shop) -> None:
    check_supply(made, explode(made))


def check_supply(made: Shop, work: Work) -> None:
    count = taken(work)
    for number in made.parts:
        assert count[number, "stock"] <= made.stock.get(number, 0)
    for receipt in made.receipts:
        assert count[receipt.part, f"receipt {receipt.reference}"] <= receipt.quantity
    for batch in work.batches:
        assert count[batch.part, f"batch {batch.name}"] <= batch.good_expected
    for (number, supply), pieces in count.items():
        assert pieces > 0
        if supply == "not on order":
            assert not made.parts[number].made
            assert count[number, "stock"] == made.stock.get(number, 0)
            assert all(count[number, f"receipt {r.reference}"] == r.quantity for r in made.receipts if r.part == number)


@given(shops())
def test_new_batches_are_no_larger_than_their_rule_and_what_they_are_needed_for(made: Shop) -> None:
    """Without its last batch a part would be short; each batch keeps minimum, multiple and maximum."""
    work = explode(made)
    count = taken(work)
    for batch in work.batches:
        if batch.is_open:
            continue
        rule, share = made.parts[batch.part].rule, yield_of(made.parts[batch.part].yield_percent)
        sure = made.settings.confidence_percent
        given_away = count[batch.part, f"batch {batch.name}"]
        assert given_away > 0
        assert rule.minimum <= batch.start_pieces <= (rule.maximum or batch.start_pieces)
        assert batch.start_pieces % rule.multiple == 0
        assert batch.good_expected == good_from(batch.start_pieces, share, sure)
        least = max(rule.minimum, start_quantity(given_away, share, sure))
        assert batch.start_pieces < least + rule.multiple or batch.start_pieces == largest_batch(rule)


@given(shops())
def test_every_new_batch_can_be_traced_to_an_order_or_to_released_work(made: Shop) -> None:
    work = explode(made)
    goes_to: dict[str, set[str]] = {}
    for g in work.given:
        if g.supply.startswith("batch "):
            goes_to.setdefault(g.supply.removeprefix("batch "), set()).add(g.demand)

    def ends(name: str) -> set[str]:
        found = set()
        for demand in goes_to.get(name, {f"nothing {name}"}):
            kind, rest = demand.split(" ", 1)
            found |= ends(rest.split(" operation ")[0]) if kind == "batch" else {demand}
        return found

    for batch in work.batches:
        orders = {end.removeprefix("order ") for end in ends(batch.name) if end.startswith("order ")}
        released = {end.removeprefix("nothing ") for end in ends(batch.name) if end.startswith("nothing ")}
        assert released <= set(made.batches)
        assert batch.due_min == min((o.due_min for o in work.orders if o.number in orders), default=batch.due_min)
        assert orders or released


@given(shops(), st.randoms(use_true_random=False))
def test_the_order_of_rows_changes_nothing(made: Shop, chance: random.Random) -> None:
    made = replace(made, pins=(Pin("C0-1", 10, "LATHE"), Pin("C1-1", 10, "LATHE"), Pin("X", 10)))
    assert explode(shuffled(made, chance)) == explode(made)


def shuffled(made: Shop, chance: random.Random) -> Shop:
    """The same shop with every table in another order."""
    changed = {}
    for name in ("structure", "receipts", "pins"):
        changed[name] = tuple(chance.sample(getattr(made, name), len(getattr(made, name))))
    for name in (
        "calendars",
        "people",
        "groups",
        "machines",
        "equipment",
        "parts",
        "routings",
        "stock",
        "orders",
        "batches",
    ):
        items = list(getattr(made, name).items())
        changed[name] = dict(chance.sample(items, len(items)))
    return replace(made, **changed)
