"""What a history teaches: which bookings count, what draws make of them, and that nothing booked changes nothing."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
from commands import run
from intake_folders import Folder, add, case, gone, place, put

from planner.answers.risk import risk
from planner.dates.assumed import later_work
from planner.explode import explode
from planner.explode.clock import clock_of
from planner.intake import read_shop
from planner.main_job import read_work
from planner.risk import BookedDays, Lognormal, Spreads, ThreePoint, draw, spreads_of
from planner.risk.allowance import Station, booked_stations
from planner.risk.learning import FORGOTTEN, KEPT, SHORT, learned_lines, lesson_of
from planner.risk.spread import AsBooked, shrunk_days
from planner.risk.spreads import RUN, SETUP
from planner.risk.turns import days_of, turns_of
from planner.search import search
from planner.shop import BookedBatch, BookedGroup, BookedTime, BookedTurn, History, Shop
from planner.store.folder import take_in, write_out

TINY = Path(__file__).parent / "data" / "tiny_shop"
MONDAY = date(2026, 3, 2)


@pytest.fixture(scope="module")
def tiny() -> Shop:
    return replace(read_shop(TINY), history=History())


def with_times(
    shop: Shop, *times: tuple[int, int], what: str = SETUP, group: str = "lathes", first: bool = False
) -> Shop:
    booked = tuple(BookedTime(MONDAY, what, group, planned, actual, first) for planned, actual in times)
    return replace(shop, history=replace(shop.history, times=shop.history.times + booked))


# --- nothing booked ------------------------------------------------------------------------------------


def test_with_nothing_booked_spreads_are_those_that_are_assumed(tiny: Shop) -> None:
    found, s = spreads_of(tiny, explode(tiny)), tiny.settings
    assert found.times == {
        (SETUP, True, ""): Lognormal(s.setup_spread_first_percent), (SETUP, False, ""): Lognormal(s.setup_spread_percent),
        (RUN, True, ""): Lognormal(s.run_spread_first_percent), (RUN, False, ""): Lognormal(s.run_spread_percent),
    }  # fmt: skip
    assert found.common == Lognormal(s.common_spread_percent)
    assert {type(t.days) for t in found.turns.values()} == {ThreePoint}
    assert learned_lines(tiny) == ()


def test_what_is_all_left_out_changes_no_draw(tiny: Shop) -> None:
    """To the bit; but it says that it was left out."""
    work = explode(tiny)
    plan = search(work, trials=1)
    odd = with_times(with_times(tiny, (4, 9), (100, 501)), (100, 1000), what=RUN)
    odd = replace(odd, history=replace(odd.history, turns=(BookedTurn(MONDAY, "Bright Coat", "hard anodise", 90),)))
    one, two = (draw(work, plan, spreads_of(shop, work), draws=60, seed=3) for shop in (tiny, odd))
    assert (one.end == two.end).all() and (one.late_added == two.late_added).all()
    assert learned_lines(odd) == (f"Left out of what was booked: 3 {FORGOTTEN}; 1 {SHORT}.",)
    before, after = (risk(shop, work, plan, draws=60) for shop in (tiny, odd))
    assert replace(after, assumptions=before.assumptions) == before
    assert set(before.assumptions) < set(after.assumptions)


# --- what counts ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("planned", "actual", "reason"),
    [
        (100, 500, ""), (100, 501, FORGOTTEN), (100, 20, ""), (100, 19, FORGOTTEN),
        (5, 6, ""), (4, 6, SHORT), (4, 400, SHORT),
    ],
)  # fmt: skip
def test_what_was_forgotten_or_is_too_short_is_left_out(tiny: Shop, planned: int, actual: int, reason: str) -> None:
    lesson = lesson_of(with_times(tiny, (planned, actual)))
    assert len(lesson.times) == (reason == "")
    assert lesson.left_out == (((reason, 1),) if reason else ())


@pytest.mark.parametrize(("days", "counts"), [(0, True), (30, True), (31, False)])
def test_a_turn_that_was_forgotten_is_left_out(tiny: Shop, days: int, counts: bool) -> None:
    """Usually five days."""
    turn = BookedTurn(MONDAY, "Bright Coat", "hard anodise", days)
    lesson = lesson_of(replace(tiny, history=History(turns=(turn,))))
    assert lesson.turns == ({("Bright Coat", "hard anodise"): (days,)} if counts else {})
    assert bool(lesson.left_out) is not counts


def test_only_the_last_bookings_count(tiny: Shop) -> None:
    old = BookedTime(MONDAY - timedelta(days=1), RUN, "mills", 100, 200)
    shop = with_times(replace(tiny, history=History(times=(old,))), *[(100, 100)] * KEPT)
    assert old not in lesson_of(shop).times and len(lesson_of(shop).times) == KEPT
    fewer = replace(shop, history=History(times=shop.history.times[:-1]))
    assert old in lesson_of(fewer).times


# --- what draws make of it -------------------------------------------------------------------------------


def test_learned_setups_have_the_booked_quantiles_in_their_share_of_the_draws(tiny: Shop) -> None:
    """Twenty bookings, 1.00 to 1.95 times their plan: a half of the draws, the other half as was assumed."""
    shop = with_times(tiny, *[(100, 100 + 5 * i) for i in range(20)])
    found = spreads_of(shop, explode(shop))
    spread = found.of(SETUP, False, "mills")  # of any group: the class
    assert spread == AsBooked(tuple((100 + 5 * i) / 100 for i in range(20)), 0.5, Lognormal(30))
    chance = np.array([0.0, 0.024, 0.026, 0.25, 0.499, 0.5, 0.75])
    expected = [1.0, 1.0, 1.05, 1.5, 1.95, *Lognormal(30).ratios(np.array([0.0, 0.5]))]
    assert spread.ratios(chance).tolist() == pytest.approx(expected)
    assert found.of(SETUP, False, "lathes") == AsBooked(spread.booked, 0.5, spread)  # its own group on top
    for other in ((SETUP, True), (RUN, False), (RUN, True)):
        assert isinstance(found.of(*other, "lathes"), Lognormal)


def test_learned_times_make_draws_longer(tiny: Shop) -> None:
    work = explode(tiny)
    plan = search(work, trials=1)
    slow = with_times(with_times(tiny, *[(60, 120)] * 60), *[(100, 180)] * 60, what=RUN)
    before, after = (draw(work, plan, spreads_of(shop, work), draws=200, seed=3) for shop in (tiny, slow))
    assert after.finish.mean() > before.finish.mean() + 60


def test_turns_are_drawn_as_booked_in_their_share_and_come_back_as_late(tiny: Shop) -> None:
    """Twenty of twelve days, where eight are the most that was assumed."""
    booked = tuple(BookedTurn(MONDAY, "Bright Coat", "hard anodise", 12) for _ in range(20))
    shop = replace(tiny, history=History(turns=booked))
    work = explode(shop)
    found = spreads_of(shop, work).turns[0]
    usual = days_of(shop.suppliers["Bright Coat"].processes[0])
    assert found.days == BookedDays((12,) * 20, 0.5, usual) == shrunk_days([12] * 20, usual)
    assert (found.days.low, found.days.high) == (usual.low, 12)
    values = np.array([usual.low - 0.5, usual.high + 0.5, 11.5, 12.5])
    assert found.days.up_to(values).tolist() == pytest.approx([0, 0.5, 0.5, 1])
    plain, _ = turns_of(tiny, work, clock_of(tiny), {})
    assert [row[: len(backs)] for row, backs in zip(found.backs, plain[0].backs, strict=True)] == list(plain[0].backs)
    assert all(len(row) == 13 and list(row) == sorted(row) for row in found.backs)
    plan = search(work, trials=1)
    only_turns = replace(Spreads.none(), turns={0: found})
    draws = draw(work, plan, only_turns, draws=400)
    first = min((s for s in plan.steps if s.trip is not None), key=lambda s: s.run_start)
    late = found.backs[first.trip][12]
    assert late > max(plain[0].backs[first.trip])
    assert (draws.end[:, first.operation] == late).mean() == pytest.approx(0.5, abs=0.1)


def test_days_that_were_booked_widen_on_both_sides() -> None:
    days = shrunk_days([1, 1, 9, 9], ThreePoint(4, 5, 6))
    assert (days.low, days.high) == (1, 9)
    share = 4 / 24
    assert days.up_to(np.array([0.5, 1.5, 8.5, 9.5])).tolist() == pytest.approx(
        [0, share / 2, share / 2 + 1 - share, 1]
    )
    assert shrunk_days([], ThreePoint(4, 5, 6)) == ThreePoint(4, 5, 6)


def test_scrap_is_mixed_with_the_yield_of_the_table(tiny: Shop) -> None:
    """Ten batches of 40 of which 4 were lost each, against 97.5 %: a third of 90 and two thirds of 97.5."""
    shop = replace(tiny, history=History(batches=(BookedBatch("GR-120", 40, 4),) * 10))
    assert lesson_of(shop).good_share("GR-120", 0.975) == pytest.approx((10 * 0.9 + 20 * 0.975) / 30)
    assert lesson_of(shop).good_share("GR-110", 0.95) == 0.95
    work = explode(shop)
    before, after = spreads_of(tiny, work).yields, spreads_of(shop, work).yields
    for i, good in before.items():
        assert after[i] < good if work.batches[i].part == "GR-120" else after[i] == good


def test_good_and_bad_weeks_are_learned_where_they_differ(tiny: Shop) -> None:
    times = tuple(
        BookedTime(MONDAY - timedelta(weeks=week), RUN, "mills", 100, actual)
        for week in range(8)
        for actual in ((80, 80, 80, 80, 80) if week % 2 else (125, 125, 125, 125, 125))
    )
    shop = replace(tiny, history=History(times=times))
    found = spreads_of(shop, explode(shop)).common
    assert isinstance(found, Lognormal) and found.percent > 20
    assert "how far good and bad weeks differ" in learned_lines(shop)[0]
    few = replace(tiny, history=History(times=times[:25]))
    assert spreads_of(few, explode(few)).common == Lognormal(5)


def test_a_group_is_a_queue_by_what_was_booked_where_that_is_enough(tiny: Shop) -> None:
    groups = (BookedGroup("lathes", 2, 4000, (60,) * 10 + (120,) * 10), BookedGroup("mills", 1, 4000, (60,) * 19))
    shop = replace(tiny, history=History(groups=groups))
    found = booked_stations(shop)
    assert found == {"lathes": Station(2, 0.45, 90, 900 / 8100)}
    planned = {"mills": Station(1, 0.8, 60, 1.0)}
    assert len(later_work(planned)) == 1
    assert later_work({**planned, **found}, found)[1].startswith("How full lathes is was learned from what was booked")


# --- in words --------------------------------------------------------------------------------------------


def test_it_is_said_in_a_sentence_what_was_learned_from_how_many_bookings(tiny: Shop) -> None:
    shop = with_times(with_times(tiny, (100, 150), (100, 90)), (50, 50), what=RUN)
    turn = BookedTurn(date(2026, 3, 5), "Bright Coat", "hard anodise", 6)
    shop = replace(
        shop,
        history=replace(shop.history, turns=(turn,), batches=(BookedBatch("GR-120", 40, 1),), unclear=(("odd", 2),)),
    )
    learned, left_out = learned_lines(shop)
    assert learned.startswith(
        "Learned from what was booked (2026-03-02 to 2026-03-05): 2 setups (on average 1.20 times as long as planned), "
        "1 run (on average 1.00 times as long as planned), 1 outside turn and the scrap of 1 finished batch;"
    )
    assert "Breakdowns, absence, missed vans and late receipts are assumed still." in learned
    assert left_out == "Left out of what was booked: 2 odd."


# --- the tables --------------------------------------------------------------------------------------------

TIMES, TURNS = "booked_times", "booked_turns"


def test_the_tables_are_read(tmp_path: Path) -> None:
    """The group of a machine counts where none is named."""
    history = Folder(tmp_path / "shop").read().history
    assert history.times == (
        BookedTime(date(2026, 3, 18), "setup", "lathes", 65, 80, False, "GR-110 operation 10"),
        BookedTime(date(2026, 3, 19), "run", "lathes", 200, 190, False, "GR-110 operation 10"),
        BookedTime(date(2026, 3, 20), "run", "mills", 75, 90, True, "GR-120 operation 20"),
    )
    assert [(t.supplier, t.process, t.days) for t in history.turns] == [
        ("Bright Coat", "hard anodise", n) for n in (6, 5)
    ]
    bare = Folder(tmp_path / "bare").edit(gone(f"{TIMES}.csv"), gone(f"{TURNS}.csv")).read()
    assert bare.history == History()


def test_no_plan_depends_on_what_was_booked(tmp_path: Path) -> None:
    bare = Folder(tmp_path / "bare").edit(gone(f"{TIMES}.csv"), gone(f"{TURNS}.csv"))
    assert explode(bare.read()).fingerprint == read_work(TINY)[1].fingerprint


@pytest.mark.parametrize(
    ("at", "bad", "good"),
    [
        case("no machine and no group", (f"{TIMES}.csv", 4, "group"), [put(TIMES, 4, "group", "")],
             [put(TIMES, 4, "group", ""), put(TIMES, 4, "machine", "M1")]),
        case("machine of another group", (f"{TIMES}.csv", 2, "group"), [put(TIMES, 2, "group", "mills")],
             [put(TIMES, 2, "group", "lathes")]),
        case("day to come", (f"{TIMES}.csv", 2, "day"), [put(TIMES, 2, "day", "2026-03-24")], [put(TIMES, 2, "day", "2026-03-23")]),
        case("back to come", (f"{TURNS}.csv", 2, "day"), [put(TURNS, 2, "day", "2026-03-24")], [put(TURNS, 2, "day", "2026-03-23")]),
        case("neither setup nor run", (f"{TIMES}.csv", 2, "what"), [put(TIMES, 2, "what", "set")], [put(TIMES, 2, "what", "run")]),
        case("no planned time", (f"{TIMES}.csv", 2, "planned_min"), [put(TIMES, 2, "planned_min", "0")],
             [put(TIMES, 2, "planned_min", "1")]),
        case("no time at all", (f"{TIMES}.csv", 2, "actual_min"), [put(TIMES, 2, "actual_min", "0")],
             [put(TIMES, 2, "actual_min", "1")]),
        case("another process", (f"{TURNS}.csv", 2, "process"), [put(TURNS, 2, "process", "hard anodize")],
             [put(TURNS, 2, "process", "hard anodise")]),
        case("no days", (f"{TURNS}.csv", 2, "days"), [put(TURNS, 2, "days", "")], [put(TURNS, 2, "days", "0")]),
    ],
)  # fmt: skip
def test_faults(tmp_path: Path, at, bad, good) -> None:
    assert place(Folder(tmp_path / "bad").edit(*bad).only_fault()) == at
    Folder(tmp_path / "good").edit(*good).read()


def test_they_come_out_of_a_store_as_they_went_in(tmp_path: Path) -> None:
    with take_in(TINY, tmp_path / "shop.db", "Ann") as store:
        write_out(store, tmp_path / "out")
    for name in (TIMES, TURNS):
        assert (tmp_path / "out" / f"{name}.csv").read_bytes() == (TINY / f"{name}.csv").read_bytes()
    assert read_shop(tmp_path / "out").history == read_shop(TINY).history


def test_the_command_says_what_it_learned(tmp_path: Path) -> None:
    folder = Folder(tmp_path / "shop").edit(
        *[add(TIMES, f"day=2026-03-20|machine=M1|what=run|planned_min=60|actual_min={90 + i}") for i in range(5)],
        add(TIMES, "day=2026-03-20|machine=M1|what=run|planned_min=60|actual_min=900"),
    )
    plan = tmp_path / "plan.json"
    assert run("plan", folder.path, "--trials", 20, "--out", plan).exit_code == 0
    told = " ".join(run("risk", folder.path, plan, "--draws", 20).stdout.split())
    assert "1 setup (on average 1.23 times as long as planned), 7 runs" in told
    assert f"Left out of what was booked: 1 {FORGOTTEN}." in told
    words = ("--part", "GR-120", "--qty", "5", "--trials", "20")
    assert "7 runs" in " ".join(run("date", folder.path, plan, *words).stdout.split())
