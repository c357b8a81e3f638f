"""Draws of a plan: none of them differs where nothing is spread, all the same for the same seed, and known answers."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from builders import ShopBuilder, as_plan, at, days
from hypothesis import given, settings
from hypothesis import strategies as st
from random_shops import decided, random_work

from planner.answers.feeds import order_finish
from planner.plan import Listed, Plan
from planner.risk import Breakdown, Late, Lognormal, Spreads, ThreePoint, Turn, draw
from planner.risk.spread import AsBooked
from planner.risk.spreads import RUN, SETUP
from planner.search import search, start_later
from planner.timetable import Timetable
from planner.work import NEVER, Begun, Work

DAY = days(400, (0, 480))
NOTHING = Spreads.none()
WIDE = replace(
    NOTHING, times={(SETUP, False, ""): Lognormal(80), (RUN, False, ""): Lognormal(60)}, common=Lognormal(20),
    absence_days=40, receipts=Late(50, 3),
)  # fmt: skip


def timed(work: Work) -> Plan | None:
    """In the order of the operations, on the machine that ends soonest; None where something finds no place."""
    table = Timetable(work)
    return None if table.time(table.repaired([])) else as_plan(work, table)


def must(work: Work) -> Plan:
    plan = timed(work)
    assert plan is not None
    return plan


def one_run(minutes: int = 1000, hours=None, **fields) -> Work:
    shop = ShopBuilder()
    shop.machine("M", hours) if hours else None
    return shop.batch("B").op("M", 0, 60 * minutes, **fields).order("O", "B", due=minutes).build()


# --- nothing spread: the plan ------------------------------------------------------------------


@settings(max_examples=100)
@given(number=st.integers(0, 100_000), pinned=st.booleans(), passing=st.booleans(), held=st.booleans())
def test_with_nothing_spread_every_draw_is_the_plan(number: int, pinned: bool, passing: bool, held: bool) -> None:
    """Transfer quantities, first-offs, people, equipment, outside work, begun work, pins, holds: to the minute."""
    work = random_work(number)
    work = decided(work, random.Random(number)) if pinned else work
    plan = timed(work)
    if plan is None:
        return
    plan = start_later(work, plan) if held else plan
    breakdowns = {m: Breakdown(1e9, 1) for m in range(len(work.machines))}
    draws = draw(work, plan, replace(NOTHING, breakdowns=breakdowns), draws=3, passing=passing)
    for step in plan.steps:
        assert draws.end[:, step.operation].tolist() == [step.end] * 3
    expected = [order_finish(work, plan.step_of(), order) for order in work.orders]
    assert (draws.finish == np.array(expected)).all()


@settings(max_examples=30)
@given(number=st.integers(0, 100_000))
def test_with_nothing_spread_who_is_named_does_it_in_every_draw(number: int) -> None:
    work, rng = random_work(number), random.Random(number)
    table = Timetable(work)
    choice = np.array([a if (a := _somebody(table, op, rng)) else -1 for op in range(len(work.operations))])
    if table.time(table.repaired([]), choice):
        return
    plan = as_plan(work, table)
    draws = draw(work, plan, NOTHING, draws=2)
    for step in plan.steps:
        assert draws.end[:, step.operation].tolist() == [step.end] * 2


def _somebody(table: Timetable, op: int, rng: random.Random) -> int | None:
    row = table.data.op[op]
    return rng.randrange(row["own_lo"], row["own_hi"]) if row["own_lo"] < row["own_hi"] else None


def test_who_is_named_and_away_has_it_done_by_another() -> None:
    """Ben begins an hour later than Ann; where he does not come, Ann does it at once."""
    shop = ShopBuilder().person("Ann", "s", days(5, (0, 600))).person("Ben", "s", days(5, (60, 600)))
    work = shop.batch("A", pieces=70).op("M", 30, skill="s").order("O", "A", due=0).build()
    plan = search(work, trials=1, start=[Listed(0, 0, named=1)], workers=1, solver=False)
    assert plan.steps[0].end == 160
    assert set(draw(work, plan, NOTHING, draws=20).end[:, 0].tolist()) == {160}
    seen = set(draw(work, plan, replace(NOTHING, absence_days=80), draws=300).end[:, 0].tolist())
    assert {100, 160} <= seen


@settings(max_examples=30)
@given(number=st.integers(0, 100_000))
def test_every_draw_of_a_shop_with_wide_spreads_finds_a_place_for_all(number: int) -> None:
    """Runs that may not pause included: they are drawn no longer than some stretch."""
    work = random_work(number)
    plan = timed(work)
    if plan is None:
        return
    breakdowns = {m: Breakdown(60, 8) for m in range(len(work.machines))}
    yields = {b: 0.9 for b in range(len(work.batches))}
    spreads = replace(WIDE, breakdowns=breakdowns, yields=yields, missed={r: 0.2 for r in range(len(work.runs))})
    draws = draw(work, plan, spreads, draws=40)
    assert (draws.end < NEVER).all()
    assert (draws.finish >= 0).all()


def test_what_is_at_the_firm_comes_back_as_planned_or_as_drawn() -> None:
    work = (
        ShopBuilder()
        .service("plate", [(600, 700, 5000)])
        .batch("B")
        .outside("plate", begun=Begun.OUT, back_min=3000)
        .op("M", 0, 60)
        .order("O", "B", due=9000)
        .build()
    )
    plan = must(work)
    assert (draw(work, plan, NOTHING, draws=2).finish == 3001).all()
    turn = Turn(ThreePoint(1, 1, 2), ((100, 3000, 4000),))
    finish = draw(work, plan, replace(NOTHING, out_turns={0: turn}), draws=400).finish
    # beta-PERT (1, 1, 2) is Beta(1, 5): nearer to 2 than to 1 with chance 0.5^5
    assert set(finish[:, 0].tolist()) == {3001, 4001}
    assert (finish == 4001).mean() == pytest.approx(0.5**5, abs=0.03)


# --- the same again ------------------------------------------------------------------------------


def test_a_seed_gives_the_same_draws_and_more_draws_begin_with_them() -> None:
    work = random_work(7)
    plan = must(work)
    first, again = (draw(work, plan, WIDE, draws=120, seed=5) for _ in range(2))
    more = draw(work, plan, WIDE, draws=200, seed=5)
    other = draw(work, plan, WIDE, draws=120, seed=6)
    assert (first.end == again.end).all()
    assert (first.end[:100] == more.end[:100]).all()
    assert (first.end != other.end).any()
    assert (first.late_count == again.late_count).all() and (first.late_added == again.late_added).all()


def test_draws_do_not_alter_the_plan_or_its_work() -> None:
    work = random_work(7)
    plan, fingerprint = must(work), work.fingerprint
    draw(work, plan, WIDE, draws=20)
    assert must(work) == plan
    assert replace(work).fingerprint == fingerprint


def test_a_plan_that_is_not_that_of_its_list_is_refused() -> None:
    work = one_run()
    plan = must(work)
    altered = replace(plan, steps=(replace(plan.steps[0], start=5),))
    with pytest.raises(ValueError, match="list of operations"):
        draw(work, altered, NOTHING)
    with pytest.raises(ValueError, match="at least one draw"):
        draw(work, plan, NOTHING, draws=0)


# --- small cases that are known --------------------------------------------------------------------


def test_a_case_small_enough_to_count_out() -> None:
    """Three runs that take half or half as long again, each as likely: A then B on one machine, C on another, both for O."""
    shop = ShopBuilder().batch("A").op("M", 0, 60 * 100).batch("B").op("M", 0, 60 * 200).batch("C").op("N", 0, 60 * 300)
    work = shop.order("O", "B", "C", due=300).build()
    half = AsBooked((0.5, 1.5), 1.0, Lognormal())
    draws = draw(work, must(work), replace(NOTHING, own=dict.fromkeys(range(3), half)), draws=4000)
    cases = [max(100 * a + 200 * b, 300 * c) for a, b, c in product((0.5, 1.5), repeat=3)]
    seen = draws.finish[:, 0]
    assert set(seen.tolist()) == set(cases)
    for finish in set(cases):
        share = cases.count(finish) / 8
        assert (seen == finish).mean() == pytest.approx(share, abs=4 * (share * (1 - share) / 4000) ** 0.5)
    assert draws.on_time(0) == pytest.approx(sum(c <= 300 for c in cases) / 8, abs=0.032)
    assert draws.at(0, 0.999) == 450


def test_at_is_the_smallest_minute_by_which_the_share_is_ready() -> None:
    work = one_run()
    draws = draw(work, must(work), replace(NOTHING, own={0: Lognormal(30)}), draws=200)
    finish = draws.finish[:, 0]
    for share in (0.005, 0.1, 0.5, 0.9, 0.905, 1.0):
        minute = draws.at(0, share)
        assert (finish <= minute).mean() >= share
        assert (finish <= minute - 1).mean() < share


@pytest.mark.parametrize("slack", [50, 300])
def test_a_wider_spread_makes_an_order_with_slack_no_surer(slack: int) -> None:
    work = (
        ShopBuilder().batch("B").op("M", 100, 6000).op("N", 50, 6000).op("P", 0, 60000).order("O", "B", due=0).build()
    )
    plan = must(work)
    work = replace(work, orders=(replace(work.orders[0], due_min=plan.steps[-1].end + slack),))
    shares = [
        draw(work, replace(plan, fingerprint=work.fingerprint), _spread(percent), draws=2000).on_time(0)
        for percent in (0, 5, 10, 20, 40)
    ]
    assert shares == sorted(shares, reverse=True)
    assert shares[0] == 1 and shares[-1] < 1


def _spread(percent: float) -> Spreads:
    return replace(NOTHING, times={(SETUP, False, ""): Lognormal(percent), (RUN, False, ""): Lognormal(percent)})


def test_times_are_whole_minutes_and_never_shrink_to_nothing() -> None:
    work = ShopBuilder().batch("B").op("M", 1, 60).order("O", "B", due=1).build()
    finish = draw(work, must(work), _spread(300), draws=500).finish
    assert finish.min() == 2


def test_first_time_parts_are_spread_by_their_own_class() -> None:
    work = (
        ShopBuilder()
        .batch("A")
        .op("M", 0, 6000)
        .batch("B")
        .op("N", 0, 6000)
        .order("O", "A", due=1)
        .order("P", "B", due=1)
        .build()
    )
    spreads = replace(NOTHING, times={(RUN, True, ""): Lognormal(30)}, first_time=frozenset({1}))
    finish = draw(work, must(work), spreads, draws=50).finish
    assert (finish[:, 0] == 100).all()
    assert finish[:, 1].std() > 10


def test_a_group_of_its_own_goes_before_any_group() -> None:
    work = (
        ShopBuilder()
        .batch("A")
        .op("M", 0, 6000)
        .batch("B")
        .op("N", 0, 6000)
        .order("O", "A", due=1)
        .order("P", "B", due=1)
        .build()
    )
    spreads = replace(NOTHING, times={(RUN, False, ""): Lognormal(0, 2.0), (RUN, False, "N"): Lognormal(0, 3.0)})
    assert draw(work, must(work), spreads, draws=1).finish.tolist() == [[200, 300]]


# --- scrap ------------------------------------------------------------------------------------------


def scrapped(pieces: int, wanted: int, good: float, **fields) -> Work:
    shop = ShopBuilder().batch("B", pieces=pieces).op("M", 0, 60, **fields)
    return shop.order("O", "B", due=pieces, pieces=wanted).build()


def test_pieces_that_come_short_run_with_their_batch() -> None:
    """All are scrapped but for chance: 10 wanted, none good, 10 / 0.001 more at a minute each."""
    work = scrapped(10, 10, 0.001)
    finish = draw(work, must(work), replace(NOTHING, yields={0: 0.001}), draws=20).finish
    assert set(finish[:, 0].tolist()) <= {10 + 1000 * short for short in range(8, 11)}


def test_a_sample_stays_a_sample_and_what_is_not_wanted_is_not_made_again() -> None:
    shop = (
        ShopBuilder()
        .batch("B", pieces=100)
        .op("M", 0, 60)
        .manual("bench", 60, skill="look", pieces=5)
        .person("Ann", "look")
    )
    work = shop.order("O", "B", due=1, pieces=50).build()
    draws = draw(work, must(work), replace(NOTHING, yields={0: 0.9}), draws=50)
    assert (draws.finish == 105).all()
    more = replace(work, orders=(replace(work.orders[0], sources=(replace(work.orders[0].sources[0], pieces=100),)),))
    draws = draw(more, must(more), replace(NOTHING, yields={0: 0.9}), draws=50)
    assert (draws.end[:, 0] > 100).all()
    assert (draws.end[:, 1] == draws.end[:, 0] + 5).all()


# --- outside -----------------------------------------------------------------------------------------


def sent(**fields) -> Work:
    trips = [(1000 * n, 1000 * n + 100, 1000 * n + 5000) for n in range(1, 30)]
    shop = ShopBuilder().service("plate", trips, **fields).batch("B", pieces=4).op("M", 0, 60).outside("plate")
    return shop.order("O", "B", due=6000).build()


def test_a_missed_van_means_the_next() -> None:
    work = sent()
    draws = draw(work, must(work), replace(NOTHING, missed={0: 1.0, 1: 1.0}), draws=3)
    assert (draws.finish == 8000).all()
    draws = draw(work, must(work), replace(NOTHING, missed={0: 0.25}), draws=2000)
    assert draws.on_time(0) == pytest.approx(0.75, abs=0.04)


def test_all_that_goes_with_one_van_is_back_together_after_the_drawn_days() -> None:
    shop = ShopBuilder().service("plate", [(1000, 1100, 6000), (2000, 2100, 7000)])
    for name in ("A", "B"):
        shop.batch(name).outside("plate").order(name, name, due=6000)
    work = shop.build()
    turn = Turn(ThreePoint(1, 2, 4), ((1, 5500, 6000, 6500, 7000), (1, 6500, 7000, 7500, 8000)))
    finish = draw(work, must(work), replace(NOTHING, turns={0: turn}), draws=1000).finish
    assert (finish[:, 0] == finish[:, 1]).all()
    shape = turn.days.up_to(np.array([1.5, 2.5, 3.5]))
    for back, share in zip((5500, 6000, 6500), shape, strict=True):
        assert (finish[:, 0] <= back).mean() == pytest.approx(share, abs=0.06)


def test_receipts_come_late_by_whole_days_and_never_early() -> None:
    shop = ShopBuilder().batch("B").op("M", 0, 60).need("B", 10, at=500).order("O", "B", due=501)
    work = shop.build()
    draws = draw(work, must(work), replace(NOTHING, receipts=Late(30, 2)), draws=2000)
    assert draws.on_time(0) == pytest.approx(0.7, abs=0.045)
    assert set(((draws.finish - 501) % 1440).ravel().tolist()) == {0}
    assert (draws.there(work.needs[0]) == draws.finish[:, 0] - 1).all()


# --- machines and people that are not there -------------------------------------------------------


def test_breakdowns_take_what_their_rate_and_repair_say() -> None:
    """A machine open round the clock with a run of 100,000 minutes: one stop in 2,000, 100 long, on average."""
    work = one_run(100_000)
    draws = draw(work, must(work), replace(NOTHING, breakdowns={0: Breakdown(2000 / 60, 100 / 60)}), draws=500)
    stopped = draws.finish[:, 0] - 100_000
    # 50 stops on average, exponential lengths: mean 5,000, variance 50 x 2 x 100^2
    assert stopped.mean() == pytest.approx(5000, abs=4 * 1000 / 500**0.5 + 60)
    assert stopped.std() == pytest.approx(1000, rel=0.15)


def test_a_machine_is_mended_only_while_somebody_is_there() -> None:
    """Whatever breaks at night stands until the morning: the run ends in attended hours or within the night's first minutes."""
    hours = days(400, (0, 480))
    shop = ShopBuilder().machine("M", hours, days(400, (480, 1440)))
    work = shop.batch("B").op("M", 0, 60 * 20_000, unattended_limit_min=960).order("O", "B", due=1).build()
    calm = draw(work, must(work), NOTHING, draws=1).finish[0, 0]
    draws = draw(work, must(work), replace(NOTHING, breakdowns={0: Breakdown(100, 1)}), draws=100)
    lost = draws.finish[:, 0] - calm
    assert (lost >= 0).all()
    # a stop at night loses hours, not the one hour of the repair: about 20,000 / 6,000 stops, two thirds of them at night
    assert lost.mean() > 2 * 60 * 20_000 / 6000


def test_people_who_are_away_do_not_work_meanwhile() -> None:
    """One person, 300 shifts of work: 300 / (1 - 30 / 225) shifts on average until it is done."""
    shop = ShopBuilder().person("Ann", "fit", days(1200, (0, 480)))
    work = shop.batch("B").manual("bench", 60 * 480 * 300, skill="fit").order("O", "B", due=1).build()
    draws = draw(work, must(work), replace(NOTHING, absence_days=30), draws=300)
    weekdays = (draws.finish[:, 0] / 1440) * 5 / 7
    assert weekdays.mean() == pytest.approx(300 / (1 - 30 / 225), rel=0.02)


def test_who_is_away_is_replaced_by_who_is_there() -> None:
    shop = ShopBuilder().person("Ann", "fit", DAY).person("Ben", "fit", DAY)
    work = shop.batch("B").manual("bench", 60 * 480 * 100, skill="fit").order("O", "B", due=1).build()
    alone = ShopBuilder().person("Ann", "fit", DAY).batch("B").manual("bench", 60 * 480 * 100, skill="fit")
    single = alone.order("O", "B", due=1).build()
    spreads = replace(NOTHING, absence_days=40)
    both, one = draw(work, must(work), spreads, draws=100), draw(single, must(single), spreads, draws=100)
    assert both.finish.mean() < one.finish.mean() - 5 * 1440


# --- a machine that waits -----------------------------------------------------------------------


def test_a_waiting_machine_does_what_can_go_only_where_it_may_pass() -> None:
    """B stands behind A on M; A's first step on N takes three times as long, so M would stand idle."""
    shop = (
        ShopBuilder()
        .batch("A")
        .op("N", 0, 60 * 100)
        .op("M", 0, 60 * 100)
        .batch("B")
        .op("M", 0, 60 * 50, not_before_min=200)
    )
    work = shop.order("A", "A", due=200).order("B", "B", due=250).build()
    spreads = replace(NOTHING, own={0: Lognormal(0, 3.0)})
    assert draw(work, must(work), spreads, draws=1, passing=False).finish.tolist() == [[400, 450]]
    assert draw(work, must(work), spreads, draws=1).finish.tolist() == [[400, 250]]


def test_what_passes_starts_not_before_its_planned_start_and_delays_nothing_before_it() -> None:
    shop = ShopBuilder().batch("A").op("N", 0, 60 * 100).op("M", 0, 60 * 100).batch("B").op("M", 0, 60 * 50)
    work = shop.order("A", "A", due=200).order("B", "B", due=250).build()
    # planned from 200: there is a gap before A only from then on, and 40 minutes are too short for it
    for factor, expected in ((1.5, [250, 300]), (2.4, [340, 390]), (2.5, [350, 250])):
        found = draw(work, must(work), replace(NOTHING, own={0: Lognormal(0, factor)}), draws=1).finish.tolist()
        assert found == [expected]


# --- what governs -----------------------------------------------------------------------------------


def test_the_delay_on_the_way_adds_up_to_the_delay_of_the_order() -> None:
    work = random_work(21)
    plan = must(work)
    draws = draw(work, plan, WIDE, draws=200)
    planned = {o.index: order_finish(work, plan.step_of(), o) or 0 for o in work.orders}
    for order in work.orders:
        late = draws.finish[:, order.index] > order.due_min
        delay = int((draws.finish[late, order.index] - planned[order.index]).sum())
        assert draws.late_added[order.index].sum() == delay
        assert draws.late_count[order.index].max(initial=0) == late.sum()


def test_the_step_that_takes_longer_is_the_one_that_governs() -> None:
    work = (
        ShopBuilder()
        .batch("A")
        .op("M", 0, 6000)
        .op("N", 0, 6000)
        .batch("C")
        .op("P", 0, 6000)
        .order("O", "A", "C", due=250)
        .build()
    )
    slow = {at(work, "A", 20).index: AsBooked((1.0, 3.0), 1.0, Lognormal())}
    draws = draw(work, must(work), replace(NOTHING, own=slow), draws=400)
    late = int((draws.finish > 250).sum())
    assert draws.late_added[0].tolist() == [0, 200 * late, 0]
    assert draws.late_count[0].tolist() == [late, late, 0]
