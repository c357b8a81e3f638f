"""The longer view: learning, what months ask for, and the program of how many fit in."""

from __future__ import annotations

import shutil
from collections import Counter
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from builders import DAY, ShopBuilder, days
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from intake_folders import Folder, add, place, put
from ortools.linear_solver import pywraplp
from random_shops import random_work

from planner.answers.load import OVERDUE, By, View, load
from planner.answers.spent import run_min
from planner.capacity.in_hand import InHand
from planner.capacity.learning import average_total, share_of_present, unit_time, unit_total
from planner.capacity.months import UnknownPart, long_view
from planner.capacity.months_told import MonthLoad
from planner.capacity.program import Means, most, steady
from planner.capacity.requirements import beyond_orders, good_pieces, products, wanted
from planner.capacity.rough import months_from, step_minutes, typical_batch, within_rule
from planner.explode import explode
from planner.intake import read_shop
from planner.search import search
from planner.shop import BatchRule, Forecast, Shop
from planner.verify.amounts import base_setup
from planner.work import Begun, Kind, Operation, Work
from planner.worktime import midnight

SAMPLE = Path(__file__).resolve().parent.parent / "sample_shop"


@pytest.fixture(scope="module")
def shop() -> Shop:
    return read_shop(SAMPLE)


# --- learning (values recomputed; forms: Crawford, and Wright 1936) -----------------------------------


@pytest.mark.parametrize(
    ("piece", "time"),
    [(1, 1), (2, 0.8), (3, 0.7021), (4, 0.64), (5, 0.5956), (8, 0.512), (10, 0.4765), (20, 0.3812), (50, 0.2838), (100, 0.2271)],
)  # fmt: skip
def test_unit_times_at_80_percent(piece: int, time: float) -> None:
    assert unit_time(piece, 80) == pytest.approx(time, abs=5e-5)


@pytest.mark.parametrize(
    ("pieces", "total"),
    [(2, 1.8), (3, 2.5021), (4, 3.1421), (5, 3.7377), (10, 6.3154), (20, 10.4849), (50, 20.1217), (100, 32.6508)],
)
def test_totals_at_80_percent_in_the_unit_form(pieces: int, total: float) -> None:
    assert unit_total(1, pieces, 80) == pytest.approx(total, abs=5e-5)


@pytest.mark.parametrize(("pieces", "total"), [(2, 1.6), (4, 2.56), (10, 4.7651), (100, 22.7062)])
def test_totals_at_80_percent_in_the_cumulative_average_form(pieces: int, total: float) -> None:
    """T. P. Wright, Journal of the Aeronautical Sciences 3:122-128, 1936; the second piece alone takes 0.6."""
    assert average_total(pieces, 80) == pytest.approx(total, abs=5e-5)
    assert average_total(2, 80) - average_total(1, 80) == pytest.approx(0.6)


def test_ninety_percent() -> None:
    found = [unit_time(n, 90) for n in (2, 4, 8, 10, 100)]
    assert found == [pytest.approx(x, abs=5e-5) for x in (0.9, 0.81, 0.729, 0.7047, 0.4966)]
    assert unit_total(1, 10, 90) == pytest.approx(7.9945, abs=5e-5)


def test_learning_goes_on_from_the_pieces_made_before() -> None:
    """The next piece takes the present time; after as many again as were made up to it, a tenth less."""
    assert share_of_present(99, 0, 1, 90) == 1
    assert share_of_present(99, 100, 1, 90) == pytest.approx(0.9)
    assert share_of_present(99, 0, 100, 90) == pytest.approx(unit_total(100, 199, 90) / 100 / unit_time(100, 90))
    assert share_of_present(99, 500, 10, 100) == share_of_present(99, 500, 0, 90) == 1
    with pytest.raises(ValueError):
        unit_time(2, 0)


# --- pieces and minutes -------------------------------------------------------------------------------


def test_a_months_pieces_are_the_larger_of_orders_and_forecast(shop: Shop) -> None:
    """Orders of 60, 25, 120 and 200 grinders (August, August, August, September): with a forecast of 300 in September 300."""
    months = months_from(date(2027, 7, 5), 4)
    none = replace(shop, forecast=())
    assert wanted(none, months)["GR-100A"].tolist() == [0, 180, 200, 0]
    more = replace(
        shop, forecast=(Forecast("GR-100A", date(2027, 9, 1), 300), Forecast("GR-100A", date(2027, 8, 1), 10))
    )
    assert wanted(more, months)["GR-100A"].tolist() == [0, 180, 300, 0]


def test_components_are_asked_for_by_the_parents_start_quantity(shop: Shop) -> None:
    """One of GR-100A takes one body, in which there is one tube and a hopper; the aluminium body yields 100 %, the tube 97 %."""
    good = good_pieces(shop, {"GR-100A": np.array([97.0]), "GR-100S": np.array([3.0])})
    assert (good["GR-101"][0], good["GR-102"][0], good["GR-103"][0]) == (97.0, 3.0, 100.0)
    assert "BU-02" not in good
    assert products(shop) == ["GR-100A", "GR-100S"]


def test_a_batch_takes_what_planning_gives_it(shop: Shop) -> None:
    """Setup, run, sample and setting pieces of every batch that is not released yet, by step, as in the work to plan."""
    work = explode(shop)
    seen = 0
    for batch in (b for b in work.batches if not b.is_open):
        steps = {s.number: s for s in step_minutes(shop, batch.part, batch.start_pieces)}
        for op in (work.operations[i] for i in batch.operations):
            if op.number not in steps or op.begun != 0 or len({a.cycle_sec for a in op.alternatives}) != 1:
                continue
            first = op.alternatives[0]
            run = -(-(-(-op.pieces // op.pieces_per_cycle) * first.cycle_sec) // 60)
            stretched = run * 1.25 if steps[op.number].manual and steps[op.number].skill == "inspect" else run
            if op.pieces == op.pieces_left and len({a.setup_min for a in op.alternatives}) == 1:
                assert (steps[op.number].setup_min, steps[op.number].run_min) == (first.setup_min, stretched)
                seen += 1
    assert seen > 300


def test_batches_follow_the_parts_rule(shop: Shop) -> None:
    assert typical_batch(shop, "GR-101", 100) == 104  # 100 / 0.97, rounded up
    assert typical_batch(shop, "GR-101", 400) == 150  # the largest allowed
    assert [within_rule(BatchRule(20, 10, 120), q) for q in (3, 44, 46, 500)] == [20, 40, 50, 120]


def test_months_of_load_add_up_to_batches_of_steps(shop: Shop) -> None:
    """One product, one month of 52 pieces of a single part with nothing else: hand-added minutes of its group."""
    alone = replace(shop, orders={}, batches={}, forecast=(Forecast("C-401", date(2027, 9, 1), 52),))
    rows = [r for r in long_view(alone, months=6).loads if r.needed_min]
    batch = typical_batch(alone, "C-401", 52 / 6)
    minutes: dict[str, float] = {}
    for step in step_minutes(alone, "C-401", batch):
        minutes[step.group] = minutes.get(step.group, 0) + 52 / batch * step.minutes
    assert {r.month for r in rows} == {"2027-09"}
    assert {r.name: r.core_min for r in rows if r.kind == "group"} == {g: round(m) for g, m in minutes.items()}
    assert all(r.own_min == 0 for r in rows)


# --- work in hand -------------------------------------------------------------------------------------


def own_minutes(work: Work, op: Operation) -> int:
    """Setting and running on the machine it is on, or the first that can do it, from the operation's own data."""
    machine = next((m for m in (op.begun_machine, op.pin_machine) if m is not None), None)
    alternative = next(a for a in op.alternatives if machine in (None, a.machine))
    run = run_min(op, alternative.machine)
    if op.kind is Kind.MANUAL and op.skill in {o.first_off_skill for o in work.operations} - {None}:
        run = -(-run * work.inspection_stretch_percent // 100)
    return base_setup(op, alternative) + run


def left_by_group(work: Work) -> Counter[str]:
    """Minutes still to be done by group."""
    found = Counter[str]()
    for op in work.operations:
        if op.begun is not Begun.DONE and op.alternatives:
            found[work.groups[work.machines[op.alternatives[0].machine].group].name] += own_minutes(work, op)
    return found


def test_months_hold_what_is_left_of_the_work_in_hand(shop: Shop) -> None:
    """Nothing forecast: over all months each group is asked for the minutes left of its operations, no more and no less."""
    left = left_by_group(explode(shop))
    counted: Counter[str] = Counter()
    for row in long_view(replace(shop, forecast=())).loads:
        if row.kind == "group":
            counted[row.name] += row.needed_min
    assert left.total() > 100_000
    assert counted == left


def test_forecast_beyond_the_orders_comes_on_top_of_the_work_in_hand(shop: Shop) -> None:
    """200 grinders are ordered for September: a forecast of 200 adds nothing there, one of 300 asks for 100 more."""

    def added(pieces: int, month: date) -> int:
        forecast = (Forecast("GR-100A", month, pieces),)
        with_it, bare = (long_view(replace(shop, forecast=f), months=6) for f in (forecast, ()))
        return sum(r.needed_min for r in with_it.loads) - sum(r.needed_min for r in bare.loads)

    september = date(2027, 9, 1)
    assert added(200, september) == 0
    assert added(300, september) > 0
    more = replace(shop, forecast=(Forecast("GR-100A", september, 300), Forecast("GR-100A", date(2027, 8, 1), 10)))
    assert beyond_orders(more, months_from(date(2027, 7, 5), 4))["GR-100A"].tolist() == [0, 0, 100, 0]


def two_months() -> tuple[Work, list[tuple[int, int]]]:
    """Monday 23 March 08:00 to the end of the month, and April; machines 08:00 to 16:00 on working days.

    Due on Thursday 2 April at 10:00: 600 minutes of turning end there, 480 of them on 1 April, 120 on the 2nd. Milled before, 100 minutes
    by the turning's start: on 31 March. One of 50 minutes was due before the plan start; one of 30 feeds no order.
    """
    april = 9 * DAY - 8 * 60 - 60  # the clocks go forward on the 29th
    shift = tuple((a - (60 if a > 6 * DAY else 0), b - (60 if a > 6 * DAY else 0)) for a, b in days(30, (0, 480)))
    work = (
        ShopBuilder().machine("L1", shift, group="lathes").machine("M1", shift, group="mills").person("Ann", "set", shift)
        .batch("B1", pieces=100, own_product=True).op("M1").op("L1", cycle=360).order("O1", "B1", due=10 * DAY + 60)
        .batch("B2", pieces=20).op("L1", setup=30, skill="set").order("O2", "B2", due=-5)
        .batch("B3", pieces=30).op("M1").build()
    )  # fmt: skip
    return work, [(0, april), (april, april + 30 * DAY)]


def test_work_in_hand_falls_into_the_months_of_its_latest_dates() -> None:
    """As :func:`two_months` says: March has the milling, what is overdue and what feeds no order; April the turning."""
    work, months = two_months()
    core, own = InHand(work, months).minutes()
    assert {key: list(found) for key, found in own.items()} == {
        ("group", "mills"): [100, 0],
        ("group", "lathes"): [0, 600],
    }
    assert {key: list(found) for key, found in core.items()} == {
        ("group", "lathes"): [50, 0], ("skill", "set"): [30, 0], ("group", "mills"): [30, 0],
    }  # fmt: skip
    part = work.orders[0].part
    core, own = InHand(work, months).minutes(without=[part])
    assert sum(m.sum() for m in own.values()) == 0


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.integers(0, 400))
def test_months_and_load_before_levelling_say_the_same(number: int) -> None:
    """One machine to each step, so that the plan's choice is no other: months are the days of 'load --as latest' added up, what is
    overdue with the first."""
    work = random_work(number)
    work = replace(
        work, operations=tuple(replace(o, alternatives=o.alternatives[:1], pin_machine=None) for o in work.operations)
    )
    if any(o.begun_machine not in (None, *(a.machine for a in o.alternatives)) for o in work.operations):
        return
    made = search(work, trials=1, workers=1)
    days_ = load(work, made, View.LATEST, By.DAY)
    labels = sorted({r.week[:7] for r in days_.rows if r.week != OVERDUE})
    first = date.fromisoformat(f"{labels[0]}-01")
    edges = [midnight(m, work.zone, work.plan_start) for m in months_from(first, 25)]
    months = [(max(0, a), b) for a, b in pairwise(edges)]
    core, own = InHand(work, months).minutes()
    expected: dict[tuple[str, str], Counter[int]] = {}
    for row in days_.rows:
        if row.kind in ("group", "skill") and row.needed_min:
            there = date.fromisoformat(row.week) if row.week != OVERDUE else first
            month = 12 * (there.year - first.year) + there.month - first.month
            expected.setdefault((row.kind, row.name), Counter())[month] += row.needed_min
    assert expected
    found = {key: sum(x.get(key, np.zeros(24)) for x in (core, own)) for key in {*core, *own}}
    assert {k: {m: n for m, n in enumerate(v) if n} for k, v in found.items()} == expected


def test_a_month_says_the_same_however_many_are_looked_at(shop: Shop) -> None:
    """Load, mix and what fits in, for 3, 6 and all months."""
    whole = long_view(shop)
    for count in (3, 6, 18):
        some = long_view(shop, months=count)
        both = {m for m in some.months if m in whole.months}
        assert [x for x in some.loads if x.month in both] == [x for x in whole.loads if x.month in both]
        assert [m for m in some.made if m.month in both] == [m for m in whole.made if m.month in both]
        assert some.products == whole.products


def test_hours_after_the_calendar_are_marked(shop: Shop) -> None:
    """Known to the end of 2027; availability of the lathes is taken once."""
    rows: list[MonthLoad] = [r for r in long_view(shop).loads if (r.kind, r.name) == ("group", "lathes")]
    assert next(r.month for r in rows if not r.known) == "2028-01"
    assert all(r.counted_min == round(0.95 * r.attended_min) for r in rows)
    assert 0.9 < rows[-1].attended_min / rows[2].attended_min < 1.1


# --- how many fit in ------------------------------------------------------------------------------------


def two_groups(other: float = 20.0, months: int = 1) -> Means:
    """A: 100 hours, 40 taken, half an hour a piece. B: 80, 20 taken, an hour a piece; 10 of overtime at 20, 5 sent out at 30."""

    def grid(*rows: float) -> np.ndarray:
        return np.array([[r] * months for r in rows])

    return Means(
        grid(100, 80), grid(40, other), grid(0.5, 1), grid(0, 10), grid(0, 5), np.array([20.0, 20.0]), np.array([30.0, 30.0])
    )  # fmt: skip


def test_overtime_pays_and_work_sent_out_does_not() -> None:
    """60 fit B's own hours; 10 more at 20 of overtime for 25 each; sent out at 30 none. An hour of B is worth a piece."""
    found = most(two_groups(), 25)
    assert found.made[0] == pytest.approx(70)
    assert found.overtime[:, 0] == pytest.approx([0, 10])
    assert found.outside[:, 0] == pytest.approx([0, 0])
    assert found.value == pytest.approx(70 * 25 - 10 * 20)
    assert found.worth[:, 0] == pytest.approx([0, 25])


def test_what_costs_more_than_it_brings_is_left_alone() -> None:
    """Worth 15: no overtime at 20. Worth 40: all of it, and what can be sent out; then A would be next, at 120."""
    assert most(two_groups(), 15).made[0] == pytest.approx(60)
    found = most(two_groups(), 40)
    assert (found.made[0], found.outside[1, 0]) == (pytest.approx(75), pytest.approx(5))


def test_hours_that_other_work_lacks_are_told_and_nothing_fits() -> None:
    means = two_groups(other=100)
    assert means.short[:, 0].tolist() == [0, 5]
    assert most(means, 1000).made[0] == pytest.approx(0)


@pytest.mark.parametrize(("other", "rate"), [((20, -20), 60), ((-20, 20), 80)])
def test_the_same_every_month_builds_ahead_but_not_behind(other: tuple[float, float], rate: float) -> None:
    """60 and 100 a month: 60, for the first month cannot have what the second makes. 100 and 60: 80."""
    means = two_groups(months=2)
    none = np.zeros((2, 2))
    alone = Means(means.there, np.array([[0, 0], other], float), means.each * [[0], [1]], none, none, *means_rates())
    assert steady(alone, 10).rate == pytest.approx(rate)


def means_rates() -> tuple[np.ndarray, np.ndarray]:
    return np.array([20.0, 20.0]), np.array([30.0, 30.0])


def test_a_piece_that_takes_nothing_has_no_end() -> None:
    means = two_groups()
    with pytest.raises(ValueError):
        most(replace(means, each=np.zeros_like(means.each)), 10)


figures = st.floats(0, 200).map(lambda x: round(x, 2))


@settings(max_examples=30, deadline=None)
@given(st.integers(1, 4), st.integers(1, 4), st.data())
def test_a_second_solver_finds_the_same(groups: int, months: int, data: st.DataObject) -> None:
    """GLOP of ortools, on the program written out again."""

    def grid() -> np.ndarray:
        return np.array(
            data.draw(st.lists(st.lists(figures, min_size=months, max_size=months), min_size=groups, max_size=groups))
        )

    rates = [np.array(data.draw(st.lists(figures, min_size=groups, max_size=groups))) for _ in range(2)]
    means = Means(grid(), grid(), grid() + 0.1, grid(), grid(), *rates)
    worth = data.draw(st.floats(1, 500))
    solver = pywraplp.Solver.CreateSolver("GLOP")
    made = [solver.NumVar(0, solver.infinity(), "") for _ in range(months)]
    cost = 0
    for g in range(groups):
        for m in range(months):
            over, out = solver.NumVar(0, means.overtime[g, m], ""), solver.NumVar(0, means.outside[g, m], "")
            room = means.there[g, m] + means.short[g, m] - means.other[g, m]
            solver.Add(means.each[g, m] * made[m] - over - out <= room)
            cost += rates[0][g] * over + rates[1][g] * out
    solver.Maximize(worth * sum(made) - cost)
    assert solver.Solve() == pywraplp.Solver.OPTIMAL
    assert most(means, worth).value == pytest.approx(solver.Objective().Value(), rel=1e-6, abs=1e-4)


def test_grinders_beside_core_work(shop: Shop) -> None:
    """In every month more with overtime than without; the hours they take and those of core work fill some group."""
    found = long_view(shop)
    assert [p.part for p in found.products] == ["GR-100A", "GR-100S"]
    assert found.worth_in == "pence"
    for month in found.made:
        assert month.with_more >= month.in_own_hours - 0.1
        assert month.limited_by
    assert found.steady_in_own_hours is not None and found.steady_with_more is not None
    assert min(m.in_own_hours for m in found.made) <= found.steady_in_own_hours + 0.1 <= found.steady_with_more + 0.2
    bare = replace(shop, parts={n: replace(p, contribution_pence=None) for n, p in shop.parts.items()})
    other = long_view(bare)
    assert other.worth_in == "pieces"
    assert [m.in_own_hours for m in other.made] == [m.in_own_hours for m in found.made]
    assert all(o.with_more >= f.with_more - 0.1 for o, f in zip(other.made, found.made, strict=True))


def test_months_of_a_part_that_is_not_made(shop: Shop) -> None:
    with pytest.raises(UnknownPart):
        long_view(shop, ["GR-9"])


def test_months_that_are_over_are_left_out_and_named(shop: Shop) -> None:
    """Time goes on; their rows are no fault."""
    start = shop.settings.plan_start.date().replace(day=1)
    own = next(part for part in shop.parts if shop.parts[part].made)
    before, now = (
        replace(shop, forecast=(Forecast(own, month, 10_000),)) for month in (start - timedelta(days=1), start)
    )
    bare = replace(shop, forecast=())
    assert (
        long_view(before, ["GR-100S"], 6).loads
        == long_view(bare, ["GR-100S"], 6).loads
        != long_view(now, ["GR-100S"], 6).loads
    )
    over = f"({start - timedelta(days=1):%Y-%m})"
    assert any(over in line for line in long_view(before, ["GR-100S"], 6).assumptions)
    assert not any("that are over" in line for line in long_view(now, ["GR-100S"], 6).assumptions)


# --- the table ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("edit", "at", "expected"),
    [
        (put("forecast", 2, "month", "2026-4"), ("forecast.csv", 2, "month"), "YYYY-MM"),
        (put("forecast", 2, "month", "2026-13"), ("forecast.csv", 2, "month"), "YYYY-MM"),
        (put("forecast", 2, "pieces", "-4"), ("forecast.csv", 2, "pieces"), "a whole number, 0 or more"),
        (put("forecast", 2, "part", "GR-900"), ("forecast.csv", 2, "part"), "a part that is made here"),
        (put("forecast", 2, "part", "GR-9"), ("forecast.csv", 2, "part"), "a name from parts.csv"),
        (put("forecast", 3, "month", "2026-04"), ("forecast.csv", 3, "month"), "part and month not already in row 2"),
        (put("bars", 2, "bar_mm", "190"), ("bars.csv", 2, "bar_mm"), "a bar long enough for one part, remnant, cut-off and facing included"),
        (put("bars", 2, "part_mm", "42,5"), ("bars.csv", 2, "part_mm"), "a number, 0 or more, with up to three decimals"),
        (put("parts", 2, "learning_percent", "40"), ("parts.csv", 2, "learning_percent"), "50 to 100"),
        (add("forecast", "part=GR-100|month=2026-06|pieces="), ("forecast.csv", 4, "pieces"), "a whole number, 0 or more"),
    ],
)  # fmt: skip
def test_bad_rows_say_where_what_and_how_to_mend(tmp_path: Path, edit: object, at: tuple, expected: str) -> None:
    fault = Folder(tmp_path / "shop").edit(edit).only_fault()  # type: ignore[arg-type]
    assert place(fault) == at
    assert fault.expected == expected
    assert fault.mend


def test_no_plan_depends_on_forecasts_bars_costs_and_learning(tmp_path: Path) -> None:
    """Without the tables and with the columns empty the work to plan is the same."""
    folder = tmp_path / "shop"
    shutil.copytree(SAMPLE, folder)
    (folder / "forecast.csv").unlink()
    (folder / "bars.csv").unlink()
    bare = read_shop(folder)
    full = read_shop(SAMPLE)
    plain = replace(
        bare,
        groups={n: replace(g, availability_percent=50.0, hourly_rate_pence=1, overtime_percent=0) for n, g in bare.groups.items()},
        parts={n: replace(p, piece_value_pence=1, contribution_pence=None, learning_percent=70.0) for n, p in bare.parts.items()},
    )  # fmt: skip
    assert explode(plain).fingerprint == explode(full).fingerprint
