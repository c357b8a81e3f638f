"""Batch quantities against published cases, and on shops whose answer is known."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.capacity.bars import bars_needed, kg_a_metre, kg_of, parts_a_bar, parts_of
from planner.capacity.lots import Lot, cost_ratio, dearer, hour_price
from planner.capacity.months import UnknownPart
from planner.capacity.quantities import quantities
from planner.explode.quantities import chance_enough, start_quantity
from planner.intake import read_shop
from planner.shop import Bar, BatchRule, Shop

SAMPLE = Path(__file__).resolve().parent.parent / "sample_shop"


@pytest.fixture(scope="module")
def shop() -> Shop:
    return read_shop(SAMPLE)


# --- formulas --------------------------------------------------------------------------------------------


def test_economic_batch() -> None:
    """Heizer & Render, *Operations Management*: 1000 a year, 10 an order, 0.50 a piece: 200, five orders, 100 a year."""
    lot = Lot(1000, 10, 0.5)
    assert (lot.economic, lot.cost(200)) == (pytest.approx(200), pytest.approx(100))
    assert lot.demand / lot.economic == pytest.approx(5)


def test_economic_batch_of_its_first_paper() -> None:
    """F. W. Harris, *Factory* 10(2), 1913: 1000 a month, setup 2, unit cost 0.10, carrying 10 % a year."""
    assert Lot(12_000, 2, 0.1 * 0.1).economic == pytest.approx(2190.9, abs=0.05)


@pytest.mark.parametrize(("share", "ratio"), [(0.5, 1.25), (2, 1.25), (0.8, 1.025), (1.25, 1.025), (1, 1)])
def test_the_curve_is_flat_at_its_foot(share: float, ratio: float) -> None:
    """Any text: cost at r times the economic batch is (r + 1/r)/2 of the least."""
    lot = Lot(1000, 10, 0.5)
    assert cost_ratio(share) == pytest.approx(ratio)
    assert lot.cost(share * lot.economic) / lot.cost(lot.economic) == pytest.approx(ratio)


def test_economic_batch_with_a_make_rate() -> None:
    """W. J. Stevenson, *Operations Management*: 48000 a year of 240 days, 800 a day made, 200 used, setup 45, holding 1."""
    lot = Lot(48_000, 45, 1, 800 * 240)
    assert (lot.economic, lot.peak_stock(2400), lot.cost(2400)) == (
        pytest.approx(2400),
        pytest.approx(1800),
        pytest.approx(1800),
    )
    assert (240 * lot.cycle(2400), 240 * lot.run(2400)) == (pytest.approx(12), pytest.approx(3))


def test_economic_batch_by_the_day() -> None:
    """University of Southampton, worked question: 10000 a day used, 25000 made, setup 18, holding 0.02 for 365 days."""
    lot = Lot(10_000, 18, 0.02 / 365, 25_000)
    assert lot.economic == pytest.approx(104_642, abs=0.5)
    assert lot.cycle(lot.economic) == pytest.approx(10.46, abs=0.005)


def test_a_batch_that_is_used_faster_than_it_is_made_is_refused() -> None:
    with pytest.raises(ValueError):
        Lot(100, 1, 1, 100)


def test_hours_that_hold_all_setups_have_no_price() -> None:
    """1000 a year in batches of 200 are 5 setups: 10 hours at 2 each."""
    assert hour_price([Lot(1000, 10, 0.5)], [2], 10.01) == 0
    assert hour_price([Lot(1000, 10, 0.5)], [2], 0) is None
    assert hour_price([Lot(1000, 10, 0.5)], [0], 0) == 0


def test_fewer_hours_make_batches_larger_by_a_price_that_is_just_enough() -> None:
    """Half the hours: 2.5 setups, batches of 400: four times the setup cost, so 30 more for 2 hours, 15 an hour."""
    lot = Lot(1000, 10, 0.5)
    price = hour_price([lot], [2], 5)
    assert price == pytest.approx(15)
    assert dearer(lot, 2 * (price or 0)).economic == pytest.approx(400)


@given(st.lists(st.tuples(st.floats(10, 5000), st.floats(1, 100), st.floats(0.1, 5), st.floats(0.1, 4)), min_size=1, max_size=5),
       st.floats(0.05, 1.5))  # fmt: skip
def test_setups_at_the_price_fit_into_the_hours(rows: list[tuple[float, float, float, float]], share: float) -> None:
    lots, hours = [Lot(d, a, h) for d, a, h, _ in rows], [s for *_, s in rows]
    free = sum(x.demand / x.economic * s for x, s in zip(lots, hours, strict=True))
    price = hour_price(lots, hours, share * free)
    assert price is not None
    used = sum(x.demand / dearer(x, price * s).economic * s for x, s in zip(lots, hours, strict=True))
    assert used == pytest.approx(min(1, share) * free, rel=1e-4)


# --- bars (masses and counts recomputed; densities by EN 10088-1 and common tables) ----------------------------


@pytest.mark.parametrize(
    ("density", "masses"),
    [
        (2.70, {10: 0.2121, 12: 0.3054, 20: 0.8482, 25: 1.3254, 30: 1.9085, 50: 5.3014}),
        (8.00, {10: 0.6283, 12: 0.9048, 20: 2.5133, 25: 3.9270, 30: 5.6549, 50: 15.708}),
    ],
)
def test_mass_of_bars(density: float, masses: dict[int, float]) -> None:
    for diameter, mass in masses.items():
        assert kg_a_metre(diameter, density) == pytest.approx(mass, abs=5e-4 if mass > 10 else 5e-5)


@pytest.mark.parametrize(("pounds_cubic_inch", "pounds_a_foot"), [(0.098, 0.9236), (0.29, 2.733)])
def test_mass_of_inch_bars(pounds_cubic_inch: float, pounds_a_foot: float) -> None:
    """1 inch 6061 and 316."""
    density = pounds_cubic_inch * 0.45359237 / 0.0254**3 / 1000
    assert kg_a_metre(25.4, density) * 0.3048 / 0.45359237 == pytest.approx(pounds_a_foot, abs=5e-4)


@pytest.mark.parametrize(("length", "count"), [(3000, 62), (3657.6, 77)])
def test_parts_from_a_bar(length: float, count: int) -> None:
    assert parts_a_bar(length, 150, 42, 3, 0.5) == count


def test_the_last_piece_may_need_no_cut() -> None:
    assert parts_a_bar(2877, 0, 45, 3, last_uncut=True) == 60
    assert parts_a_bar(2877, 0, 45, 3) == 59


def test_a_bar_of_the_table() -> None:
    """The same 62, and 62.5 parts' worth of pieces take two bars; 3 m of 50 mm aluminium are 15.9 kg."""
    bar = Bar(3_000_000, 150_000, 42_000, 3_000, 500, 50_000, 2_700)
    assert parts_of(bar) == 62
    assert (bars_needed(62, 62), bars_needed(63, 62)) == (1, 2)
    assert kg_of(bar, 1) == pytest.approx(15.904, abs=5e-4)
    assert kg_of(replace(bar, diameter_um=None), 1) is None


# --- scrap (binomial, recomputed) --------------------------------------------------------------------------------


def test_start_quantity_by_confidence() -> None:
    """Steps of 98, 95, 99 and 97 %: 0.8940393 in all; 112 by division, and the chance that so many are enough for 100."""
    rolled = Fraction(98, 100) * Fraction(95, 100) * Fraction(99, 100) * Fraction(97, 100)
    assert float(rolled) == pytest.approx(0.8940393, abs=5e-8)
    assert start_quantity(100, rolled) == 112
    chances = {112: 0.592, 115: 0.843, 117: 0.932, 118: 0.958, 121: 0.992}
    for pieces, chance in chances.items():
        assert float(chance_enough(pieces, 100, rolled)) == pytest.approx(chance, abs=5e-4)
    assert [start_quantity(100, rolled, c) for c in (90, 95, 99)] == [117, 118, 121]


def test_fifty_good_at_95_percent() -> None:
    for pieces, chance in {52: 0.515, 55: 0.944, 56: 0.979}.items():
        assert float(chance_enough(pieces, 50, Fraction(95, 100))) == pytest.approx(chance, abs=5e-4)
    assert start_quantity(50, Fraction(95, 100), 90) == 55
    assert start_quantity(50, Fraction(95, 100), 95) == 56


@pytest.mark.parametrize(("scrap", "chance"), [(0, 0.047553), (5, 0.919163)])
def test_scrap_of_a_hundred_at_3_percent(scrap: int, chance: float) -> None:
    """At most so many bad are at least the others good."""
    assert float(chance_enough(100, 100 - scrap, Fraction(97, 100))) == pytest.approx(chance, abs=5e-7)


# --- the sample shop -----------------------------------------------------------------------------------------------


def test_what_is_suggested_costs_least_of_what_the_rule_allows(shop: Shop) -> None:
    """On the curve that is drawn no quantity is cheaper; the part's rule is kept; the economic batch is near where nothing is sent out."""
    found = quantities(shop)
    assert {q.part for q in found.parts} == {p.number for p in shop.parts.values() if p.own_product and p.made}
    assert found.hour_pence == 0
    for q in found.parts:
        rule = shop.parts[q.part].rule
        lot_at = next((p for p in q.curve if p.quantity == q.suggested), None)
        assert rule.maximum is None or q.suggested <= rule.maximum
        assert q.near_from <= q.suggested <= q.near_to
        if lot_at is not None:
            assert all(p.total >= lot_at.total - 2 for p in q.curve if p.quantity % rule.multiple == 0)
        if not q.charges and rule.maximum is None:
            assert abs(q.suggested - q.economic) <= 1
        assert q.suggested_share_percent <= q.setup_share_percent or q.suggested <= q.present
        assert q.by_hours == q.economic


def test_a_full_group_asks_for_larger_batches(shop: Shop) -> None:
    """Much more core work on the mills leaves few hours for setups; an hour gets a price and milled parts larger batches."""
    now = quantities(shop)
    busy = replace(shop, groups={**shop.groups, "mills": replace(shop.groups["mills"], availability_percent=56.2)})
    then = quantities(busy)
    assert then.limiting == "mills" and 0 < then.hours_for_setups < now.hours_for_setups
    assert then.hour_pence
    pairs = list(zip(now.parts, then.parts, strict=True))
    assert all((b.by_hours or 0) >= a.economic - 1 for a, b in pairs)
    assert any((b.by_hours or 0) > 1.2 * a.economic for a, b in pairs)
    full = replace(shop, groups={**shop.groups, "mills": replace(shop.groups["mills"], availability_percent=40.0)})
    none = quantities(full)
    assert none.hour_pence is None
    assert all(q.by_hours is None and "no hours left" in q.because for q in none.parts)


def test_minimum_charges_bars_and_starts(shop: Shop) -> None:
    """85.00 pounds at 1.90 a piece are covered from 45 on; 150 tubes at 97 %; bars are whole."""
    tube = next(q for q in quantities(shop, ["GR-101"]).parts)
    assert [(c.process, c.pieces) for c in tube.charges] == [("hard anodise", 45)]
    assert tube.suggested == 150 and "largest that the batch rule allows" in tube.because
    good = int(150 * 0.97)
    assert [s.pieces for s in tube.starts] == [start_quantity(good, Fraction(97, 100), c) for c in (0, 50, 80, 90, 95)]
    ring = next(q for q in quantities(shop, ["GR-106"]).parts)
    assert ring.bars is not None
    assert ring.bars.a_bar == (3000_000 - 200_000) // 17_500 == 160
    assert ring.bars.bars == -(-(ring.suggested + 1) // 160)


def test_setup_share_is_that_of_the_minutes(shop: Shop) -> None:
    """A batch of lids: 10, 60 and 5 minutes of setting; 20 s of sawing, 4 min of turning and 30 s of deburring each, one more
    piece sawn for the setting of the lathe."""
    lid = quantities(shop, ["GR-104"]).parts[0]
    n = lid.present
    run = -(-20 * (n + 1) // 60) + 4 * n + -(-n // 2)
    assert lid.setup_min == 75
    assert lid.setup_share_percent == round(100 * 75 / (75 + run), 1)
    assert 0 < lid.suggested_share_percent < lid.setup_share_percent


def test_the_rule_binds_what_is_suggested(shop: Shop) -> None:
    parts = {**shop.parts, "GR-104": replace(shop.parts["GR-104"], rule=BatchRule(40, 40, 160))}
    lid = next(q for q in quantities(replace(shop, parts=parts), ["GR-104"]).parts)
    assert lid.suggested == 160


def test_costs_come_from_the_tables(shop: Shop) -> None:
    """Dearer stock makes batches smaller, dearer hours larger."""
    plain = quantities(shop, ["GR-109"]).parts[0]
    dear = replace(shop, settings=replace(shop.settings, holding_percent=80))
    assert quantities(dear, ["GR-109"]).parts[0].economic == pytest.approx(plain.economic / 2, abs=1)
    groups = {n: replace(g, hourly_rate_pence=4 * (g.hourly_rate_pence or 1)) for n, g in shop.groups.items()}
    valued = {**shop.parts, "GR-109": replace(shop.parts["GR-109"], piece_value_pence=plain.value_pence)}
    four = quantities(replace(shop, groups=groups, parts=valued), ["GR-109"]).parts[0]
    assert four.economic > 1.9 * plain.economic


def test_without_a_forecast_the_orders_in_hand_count_and_it_says_so(shop: Shop) -> None:
    found = quantities(replace(shop, forecast=()), ["GR-106"])
    assert found.parts[0].demand_a_year > 400
    assert any("orders in hand alone" in line for line in found.assumptions)


def test_parts_that_are_not_made_and_not_asked_for(shop: Shop) -> None:
    with pytest.raises(UnknownPart, match="'BU-01' is bought, not made here"):
        quantities(shop, ["BU-01"])
    with pytest.raises(UnknownPart, match=r"no part 'GR106'\. Did you mean 'GR-106'"):
        quantities(shop, ["GR106"])
    none = replace(shop, forecast=(), orders={})
    found = quantities(none, ["GR-106"])
    assert found.parts == () and any("GR-106" in line for line in found.assumptions)
