"""Spreads: learned from bookings, read from the shop's tables, and days that can be promised."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from intake_folders import Folder, add, case, gone, place, put

from planner.explode import explode
from planner.explode.clock import clock_of
from planner.main_job import read_work
from planner.risk import Booked, BookedDays, Late, Lognormal, Spreads, ThreePoint, Turn, draw, safe_day, spreads_of
from planner.risk.common import common_of
from planner.risk.spread import AsBooked
from planner.risk.spreads import RUN, SETUP
from planner.risk.turns import days_of
from planner.search import search
from planner.shop import Process
from planner.work import NEVER, Begun

SAMPLE = Path(__file__).parent.parent / "sample_shop"
CHANCES = (np.arange(100_000) + 0.5) / 100_000


def mean(spreads: Spreads, kind: str = RUN, first_time: bool = False, group: str = "") -> float:
    return float(spreads.of(kind, first_time, group).ratios(CHANCES).mean())


# --- shapes -------------------------------------------------------------------------------------


@pytest.mark.parametrize("percent", [0, 10, 60, 150])
def test_a_lognormal_keeps_its_mean_and_has_its_spread(percent: float) -> None:
    ratios = Lognormal(percent, 1.2).ratios(CHANCES)
    assert ratios.mean() == pytest.approx(1.2, rel=0.01)
    assert ratios.std() == pytest.approx(1.2 * percent / 100, rel=0.08)


def test_three_points_that_are_one_are_no_spread() -> None:
    assert (ThreePoint(5, 5, 5).ratios(CHANCES) == 5).all()
    assert ThreePoint(5, 5, 5).up_to(np.array([4.5, 5.5])).tolist() == [0, 1]


@pytest.mark.parametrize("points", [(2, 1, 3), (1, 4, 3)])
def test_three_points_that_do_not_rise_are_refused(points: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="must rise"):
        ThreePoint(*points)


def test_booked_ratios_come_with_their_share_each_as_likely() -> None:
    ratios = AsBooked((0.5, 2.0), 0.6, Lognormal(0, 7.0)).ratios(CHANCES)
    assert [(ratios == r).mean() for r in (0.5, 2.0, 7.0)] == pytest.approx([0.3, 0.3, 0.4], abs=1e-4)


def test_booked_days_come_as_often_as_they_were_booked() -> None:
    days = BookedDays((4, 4, 4, 6))
    assert (days.low, days.high) == (4, 6)
    assert days.up_to(np.array([3.5, 4.5, 5.5, 6.5])).tolist() == [0, 0.75, 0.75, 1]


# --- learned ----------------------------------------------------------------------------------------


def booked(count: int, ratio: float, **fields) -> list[Booked]:
    return [Booked(fields.pop("kind", RUN), 100, 100 * ratio, **fields) for _ in range(count)]


def test_no_bookings_teach_nothing_and_empty_ones_neither() -> None:
    spreads = Spreads()
    assert spreads.learned([]) == spreads
    assert spreads.learned([Booked(RUN, 0, 5), Booked(RUN, 5, 0)]) == spreads


@pytest.mark.parametrize("count", [1, 20, 180])
def test_bookings_weigh_by_their_number_against_twenty(count: int) -> None:
    weight = count / (count + 20)
    assert mean(Spreads().learned(booked(count, 1.5))) == pytest.approx(1 + 0.5 * weight, abs=0.003)


def test_a_group_is_learned_on_top_of_its_class() -> None:
    history = booked(80, 1.5, group="mills") + booked(100, 1.0, group="lathes")
    learned = Spreads().learned(history)
    whole = (180 * (80 * 1.5 + 100) / 180 + 20) / 200
    assert mean(learned) == pytest.approx(whole, abs=0.003)
    assert mean(learned, group="mills") == pytest.approx((80 * 1.5 + 20 * whole) / 100, abs=0.003)
    assert mean(learned, group="saw") == mean(learned)


def test_classes_are_learned_apart() -> None:
    learned = Spreads().learned(booked(500, 2.0, first_time=True))
    assert mean(learned, first_time=True) > 1.9
    assert mean(learned) == mean(Spreads())
    assert mean(learned, SETUP, True) == mean(Spreads(), SETUP, True)


def test_the_order_of_bookings_does_not_matter() -> None:
    history = [Booked(SETUP, 50, minutes, group=group) for minutes in (40, 60, 90) for group in ("a", "b")]
    assert Spreads().learned(history) == Spreads().learned(reversed(history))


# --- of a shop -----------------------------------------------------------------------------------------


def test_the_usual_turn_of_each_collection_is_the_plans() -> None:
    shop, work = read_work(SAMPLE)
    spreads = spreads_of(shop, work)
    assert set(spreads.turns) == set(range(len(work.services)))
    for i, turn in spreads.turns.items():
        assert 0 < len(turn.backs) <= len(work.services[i].trips)
        for backs, trip in zip(turn.backs, work.services[i].trips, strict=False):
            assert backs[int(turn.days.likely)] == trip.back_min
            assert list(backs) == sorted(backs)
    out = [o for o in work.operations if o.begun is Begun.OUT]
    assert out and set(spreads.out_turns) == {o.index for o in out}
    for op in out:
        turn = spreads.out_turns[op.index]
        assert turn.backs[0][int(turn.days.likely)] == op.back_min


NOTHING_BOOKED = (gone("booked_times.csv"), gone("booked_turns.csv"))


def test_where_a_shop_says_nothing_there_are_defaults(tmp_path: Path) -> None:
    shop = Folder(tmp_path / "shop").edit(*NOTHING_BOOKED).read()
    work = explode(shop)
    found, plain = spreads_of(shop, work), Spreads()
    assert (found.times, found.common) == (plain.times, plain.common)
    assert {work.machines[m].name for m in found.breakdowns} == {"L1", "L2", "M1"}  # benches do not
    assert set(found.missed.values()) == {0.02}
    assert found.first_time == frozenset()


def test_what_the_tables_say_is_taken(tmp_path: Path) -> None:
    folder = Folder(tmp_path / "shop").edit(
        put("parts", 3, "first_time", "yes"), put("machines", 2, "hours_between_breakdowns", "0"),
        put("machines", 5, "hours_between_breakdowns", "900"), put("machines", 5, "repair_hours", "2"),
        put("processes", 2, "turn_low", "5"), put("processes", 2, "turn_high", "9"), put("collections", 2, "missed_percent", "30"),
        add("settings", "name=run_spread_percent|value=15"), add("settings", "name=absence_days|value=0"), *NOTHING_BOOKED,
    )  # fmt: skip
    shop = folder.read()
    work = explode(shop)
    found = spreads_of(shop, work)
    names = {work.machines[m].name: b for m, b in found.breakdowns.items()}
    assert set(names) == {"L2", "M1", "D1"}
    assert (names["D1"].between_hours, names["D1"].repair_hours) == (900, 2)
    assert found.turns[0].days == ThreePoint(5, 5, 9)
    assert found.of(RUN, False, "") == Lognormal(15)
    assert found.absence_days == 0
    tuesdays = {i for i, run in enumerate(work.runs) if work.local(run.collect_min).weekday() == 1}
    assert {i for i, chance in found.missed.items() if chance == 0.3} == tuesdays
    assert {work.batches[b].part for b in found.first_time} == {"GR-110"}


def test_spreads_do_not_change_what_a_plan_is_made_for(tmp_path: Path) -> None:
    plain = explode(Folder(tmp_path / "plain").read())
    folder = Folder(tmp_path / "shop").edit(
        put("parts", 3, "first_time", "yes"), put("machines", 2, "hours_between_breakdowns", "90"),
        put("processes", 2, "turn_high", "9"), put("collections", 2, "missed_percent", "30"),
        add("settings", "name=setup_spread_percent|value=80"),
    )  # fmt: skip
    assert explode(folder.read()).fingerprint == plain.fingerprint


def test_with_all_widths_of_a_shop_at_nothing_each_draw_is_the_plan() -> None:
    """Turns, what is at the firm, yields of a hundred percent: by the tables of the shop, not left out."""
    shop, work = read_work(SAMPLE)
    plan, found = search(work, trials=1), spreads_of(shop, work)

    def narrow(turns: Mapping[int, Turn]) -> dict[int, Turn]:
        return {i: Turn(ThreePoint(t.days.likely, t.days.likely, t.days.likely), t.backs) for i, t in turns.items()}

    nothing = replace(
        found, times=dict.fromkeys(found.times, Lognormal(0)), common=Lognormal(0), turns=narrow(found.turns),
        out_turns=narrow(found.out_turns), missed={}, breakdowns={}, yields={}, absence_days=0, receipts=Late(),
    )  # fmt: skip
    draws = draw(work, plan, nothing, draws=2)
    assert all((draws.end[:, s.operation] == s.end).all() for s in plan.steps)


@pytest.mark.parametrize(("usual", "expected"), [(0, (0, 0, 1)), (1, (0, 1, 2)), (5, (4, 5, 8))])
def test_turns_where_the_shop_says_nothing(usual: int, expected: tuple[int, int, int]) -> None:
    assert days_of(Process("plate", usual)) == ThreePoint(*expected)


def test_what_is_left_of_a_routing_has_its_share_of_the_scrap() -> None:
    shop, work = read_work(SAMPLE)
    spreads = spreads_of(shop, work)
    for batch in work.batches:
        good = shop.parts[batch.part].yield_percent / 100
        if good == 1:
            assert batch.index not in spreads.yields
        else:
            begun = any(work.operations[i].begun is not Begun.NO for i in batch.operations)
            assert good <= spreads.yields[batch.index] + 1e-12 <= 1 + 1e-12
            assert (spreads.yields[batch.index] == pytest.approx(good)) == (not begun)


# --- tables that cannot be right ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("at", "bad", "good"),
    [
        case("shortest turn too long", ("processes.csv", 2, "turn_low"), [put("processes", 2, "turn_low", "6")],
             [put("processes", 2, "turn_low", "5")]),
        case("longest turn too short", ("processes.csv", 2, "turn_high"), [put("processes", 2, "turn_high", "4")],
             [put("processes", 2, "turn_high", "5")]),
        case("more than certain to be missed", ("collections.csv", 2, "missed_percent"),
             [put("collections", 2, "missed_percent", "101")], [put("collections", 2, "missed_percent", "100")]),
        case("spread too wide", ("settings.csv", 9, "value"), [add("settings", "name=run_spread_percent|value=301")],
             [add("settings", "name=run_spread_percent|value=300")]),
        case("chance over one", ("settings.csv", 9, "value"), [add("settings", "name=receipt_late_percent|value=101")],
             [add("settings", "name=receipt_late_percent|value=100")]),
        case("away all year", ("settings.csv", 9, "value"), [add("settings", "name=absence_days|value=101")],
             [add("settings", "name=absence_days|value=100")]),
    ],
)  # fmt: skip
def test_faults(tmp_path: Path, at, bad, good) -> None:
    assert place(Folder(tmp_path / "bad").edit(*bad).only_fault()) == at
    Folder(tmp_path / "good").edit(*good).read()


# --- days that can be promised ---------------------------------------------------------------------------


def test_a_safe_day_is_that_of_the_first_cut_off_of_an_open_day(tmp_path: Path) -> None:
    """The tiny shop: dispatch at 16:00 on weekdays; Good Friday 3 April and Easter Monday 6 April 2026 are closed."""
    shop = Folder(tmp_path / "shop").read()
    clock = clock_of(shop)
    monday = clock.due(date(2026, 3, 23))
    assert safe_day(shop, monday) == date(2026, 3, 23)
    assert safe_day(shop, monday + 1) == date(2026, 3, 24)
    closed = [day for day in range(1, 29) if not clock.open_on(date(2026, 4, day))]
    assert {3, 6} <= set(closed)
    assert safe_day(clock, clock.due(date(2026, 4, 2)) + 1) == date(2026, 4, 7)
    assert safe_day(clock, NEVER) is None


def test_beyond_the_known_calendar_there_is_no_safe_day(tmp_path: Path) -> None:
    shop = Folder(tmp_path / "shop").read()
    clock = clock_of(shop)
    assert clock.calendar is not None
    assert safe_day(clock, clock.due(clock.calendar.known_to) + 1) is None


# --- spells -----------------------------------------------------------------------------------------


def test_weeks_that_differ_only_by_chance_share_no_spell() -> None:
    """Log ratios +-d in each week: no week differs from another."""
    assert common_of([[0.8, 1.25] * 4] * 8) == Lognormal(0.0)


def test_the_spread_of_weeks_is_found_behind_that_of_jobs() -> None:
    """Weekly factors of 10 % under job factors of 30 %, lognormal."""
    rng = np.random.default_rng(5)
    weeks = np.exp(0.1 * rng.standard_normal((400, 1)) + 0.3 * rng.standard_normal((400, 30)))
    found = common_of(weeks.tolist())
    assert found is not None and found.percent == pytest.approx(10, abs=1.2)


def test_a_few_weeks_tell_nothing() -> None:
    assert common_of([[1.0, 1.2, 0.9, 1.1, 1.3]] * 5) is None
    assert common_of([[1.0, 1.2, 0.9, 1.1]] * 50) is None
