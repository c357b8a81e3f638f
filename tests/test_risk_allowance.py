"""Allowance for work that is not ordered yet: queues of known length, gaps of a plan, minutes put off in a calendar."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from builders import ShopBuilder, days

from planner.capacity.waiting import waiting_by_load
from planner.plan import Listed, Plan
from planner.risk.allowance import Station, delayed, later_min, station_of, stations_of
from planner.search import search
from planner.work import Work
from planner.worktime import OpenTime

DRAWS = 4000
WEEK = days(5, (0, 480))


@pytest.mark.parametrize(
    ("station", "wait_min"),
    [
        # Hopp and Spearman, Factory Physics, 3rd ed., section 8.6: utilisation 23/24, effective time 20 min
        (Station(1, 23 / 24, 20, 6.25), 1667.5),
        (Station(1, 23 / 24, 20, 1.0), 460),
        (Station(3, 23 / 24, 20, 1.0), 2.467 * 60),  # the same, pooled
        (Station(1, 2 / 3, 20, 1.0), 40),  # Heizer and Render: M/M/1 with 2 and 3 an hour
    ],
)
def test_long_run_waits_of_textbooks(station: Station, wait_min: float) -> None:
    assert station.wait_min == pytest.approx(wait_min, rel=2e-4)


def numbers() -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(7)
    return 1 - rng.random(DRAWS), rng.standard_normal(DRAWS)


def test_a_queue_fills_from_nothing_to_its_long_run_length() -> None:
    """Held Brownian motion ends up exponential: mean and standard deviation are the long-run wait."""
    station = Station(1, 0.8, 60, 1.0)
    means = [float(station.queue_min(gap, *numbers()).mean()) for gap in (0, 100, 1000, 10_000, 1_000_000)]
    assert means[0] == 0 and means == sorted(means)
    full = station.queue_min(1_000_000, *numbers())
    assert full.mean() == pytest.approx(station.wait_min, rel=0.05)
    assert full.std() == pytest.approx(station.wait_min, rel=0.07)


def test_stations_from_what_was_booked() -> None:
    held = [60.0] * 10 + [120.0] * 10
    station = station_of(2, 4000, held)
    assert station == Station(2, 1800 / 4000, 90, 30**2 / 90**2)
    assert station_of(2, 4000, held[:19]) is None
    busy = station_of(1, 100, held)
    assert busy is not None and busy.used_share < 1


def test_stations_from_what_is_planned() -> None:
    """25 operations of 60 minutes with nothing before them: the load that the capacity answers give, and no spread."""
    builder = ShopBuilder().machine("L", days(26, (0, 480))).calendar("shop", days(26, (0, 480)), shop=True)
    for i in range(25):
        builder.batch(f"B{i}").op("L", cycle=3600).order(f"O{i}", f"B{i}", due=9999)
    work, plan = planned(builder)
    (waiting,) = waiting_by_load(work, plan)
    assert stations_of([waiting]) == {"L": Station(1, waiting.at[0].load_percent / 100, 60, 0.0)}
    assert stations_of([replace(waiting, jobs=19)]) == {}


def planned(builder: ShopBuilder, *first: str) -> tuple[Work, Plan]:
    work = builder.build()
    listed = [
        op.index
        for name in first
        for b in work.batches
        if b.name == name
        for op in map(work.operations.__getitem__, b.operations)
    ]
    return work, search(work, trials=1, start=[Listed(i, None, 0) for i in listed], workers=1, solver=False)


def later(work: Work, plan: Plan, order: str, stations: dict[str, Station]) -> np.ndarray:
    index = next(o.index for o in work.orders if o.number == order)
    return later_min(work, plan, index, stations, DRAWS, 1)


def test_nothing_is_added_while_the_visible_load_lasts() -> None:
    """B2 stands right behind B1; B3 waits for its material for days in which nothing is planned."""
    builder = ShopBuilder().machine("L", WEEK).calendar("shop", WEEK, shop=True)
    builder.batch("B1").op("L", cycle=300 * 60).batch("B2").op("L", cycle=60 * 60).batch("B3", release=3 * 1440).op(
        "L", cycle=60 * 60
    )
    builder.order("O1", "B1", due=9999).order("O2", "B2", due=9999).order("O3", "B3", due=9999)
    work, plan = planned(builder, "B1", "B2", "B3")
    stations = {"L": Station(1, 0.8, 60, 1.0)}
    assert not later(work, plan, "O1", stations).any()
    assert not later(work, plan, "O2", stations).any()
    gap_min = 480 * 3 - 360
    expected = stations["L"].queue_min(gap_min, *numbers()).mean()
    assert later(work, plan, "O3", stations).mean() == pytest.approx(expected, rel=0.08)
    assert not later(work, plan, "O3", {}).any()


@pytest.mark.parametrize(("hours_a_day", "share"), [(8, 1.0), (16, 0.5)])
def test_waits_are_told_in_minutes_of_the_shop_calendar(hours_a_day: int, share: float) -> None:
    """The shop is open for eight hours; a machine that runs for sixteen works its queue off in half as many of its days."""
    builder = ShopBuilder().machine("L", days(5, (0, 60 * hours_a_day))).calendar("shop", WEEK, shop=True)
    builder.batch("B", release=3 * 1440).op("L", cycle=3600).order("O", "B", due=9999)
    work, plan = planned(builder, "B")
    station = Station(1, 0.8, 60, 1.0)
    expected = share * station.queue_min(3 * 60 * hours_a_day, *numbers()).mean()
    assert later(work, plan, "O", {"L": station}).mean() == pytest.approx(expected, rel=0.08)


def test_a_kit_waits_for_its_longest_component() -> None:
    builder = ShopBuilder().machine("L", WEEK).machine("M", WEEK).machine("A", WEEK)
    builder.batch("C1", release=1440).op("L").batch("C2", release=3 * 1440).op("M").batch("K").op("A")
    builder.need("K", 10, "C1").need("K", 10, "C2").order("O", "K", due=9999)
    work, plan = planned(builder, "C1", "C2", "K")
    only = {name: later(work, plan, "O", {name: Station(1, 0.8, 60, 1.0)}).mean() for name in "LMA"}
    together = later(work, plan, "O", {name: Station(1, 0.8, 60, 1.0) for name in "LMA"}).mean()
    assert max(only["L"], only["M"]) + only["A"] < together < sum(only.values())


def test_minutes_put_off_count_in_open_time() -> None:
    hours = OpenTime(WEEK)
    finish = np.array([100, 470, 500, 4 * 1440 + 470, 100])
    put_off = delayed(finish, np.array([20, 20, 20, 20, 0]), hours)
    assert put_off.tolist() == [120, 1440 + 10, 1440 + 20, 4 * 1440 + 490, 100]
