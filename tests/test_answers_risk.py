"""How sure orders and kits are, as the manager reads it, and the command that says so."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from builders import ShopBuilder, as_plan
from commands import run

from planner.answers.risk import Risk, chance_text, read_off, risk
from planner.faults import PlanFileFault
from planner.intake import read_shop
from planner.main_job import load_plan, make_plan, save
from planner.risk import Late, Lognormal, Spreads
from planner.risk.spread import AsBooked
from planner.timetable import Timetable
from planner.work import Work

TINY = Path(__file__).parent / "data" / "tiny_shop"


def answer(work: Work, draws: int = 400, **spreads) -> Risk:
    table = Timetable(work)
    assert table.time(table.repaired([])) == 0
    return read_off(None, work, as_plan(work, table), replace(Spreads.none(), **spreads), draws=draws)


HALF = AsBooked((1.0, 3.0), 1.0, Lognormal())


def assembly() -> Work:
    """Two components, X in half of the draws 200 minutes late; the kit is planned to start at 150."""
    shop = ShopBuilder().batch("X").op("M", 0, 60 * 100).batch("Y").op("N", 0, 60 * 120)
    shop.batch("K").op("A", 0, 60 * 10, not_before_min=150).need("K", 10, "X").need("K", 10, "Y").need("K", 10, at=140)
    return shop.order("O", "K", due=160, weight=4).order("P", "Y", due=2000, weight=8).build()


def test_orders_with_the_most_to_lose_come_first_with_what_governs_them() -> None:
    found = answer(assembly(), own={0: HALF})
    first, second = found.orders
    assert (first.order, second.order) == ("O", "P")
    assert first.on_time == pytest.approx(0.5, abs=0.1)
    assert first.planned_min == 160
    assert (first.early_min, first.safe_min, first.late_min) == (160, 310, 310)
    assert first.weighted_late_min == pytest.approx(4 * 150 * (1 - first.on_time))
    assert first.expected_late_days == round(150 * (1 - first.on_time) / 1440, 2)
    (governs,) = first.governs  # X is 200 later, of which K had 50 in hand
    assert (governs.step, governs.place, governs.percent, governs.lost_min) == ("X op 10", "M", 100, 200)
    assert [(w.step, w.orders) for w in found.worst] == [("X op 10", ("O",))]
    assert found.worst[0].weighted_min == pytest.approx(4 * 200 * (1 - first.on_time), abs=0.1)
    assert found.worst[0].text.endswith(
        f": {found.worst[0].weighted_min:,.0f} weighted minutes lost on average; makes O late"
    )
    assert governs.text == "X op 10 (X step 10, M): 3 h 20 min lost on average whenever the order is late"
    assert second.chance == "over 99 %" and second.governs == () and second.weighted_late_min == 0


def test_the_weighted_lateness_of_all_orders_is_their_sum_beside_that_of_the_plan() -> None:
    """O, of weight 4, is planned 10 late and half of the time 150 more; S, of weight 3, always 5 late."""
    shop = ShopBuilder().batch("X").op("M", 0, 60 * 100).batch("S").op("N", 0, 60 * 5)
    work = shop.order("O", "X", due=90, weight=4).order("S", "S", due=0, weight=3).build()
    calm, found = answer(work), answer(work, own={0: HALF})
    assert (calm.weighted_late_min, calm.planned_weighted_late_min) == (4 * 10 + 3 * 5, 4 * 10 + 3 * 5)
    assert found.planned_weighted_late_min == 55
    assert found.weighted_late_min == pytest.approx(sum(r.weighted_late_min for r in found.orders), abs=0.2)
    more = [r.likely_min > 100 for r in found.orders if r.order == "O"]
    assert len(more) == 1 and found.weighted_late_min == pytest.approx(55 + 4 * 200 * 0.5, rel=0.2)


def test_a_step_that_decides_some_late_draws_is_told_with_its_share() -> None:
    """Either of two machines may be late: each in about two of three late draws, never in all of them."""
    shop = ShopBuilder().batch("X").op("M", 0, 60 * 100).batch("Y").op("N", 0, 60 * 100)
    shop.batch("K").op("A", 0, 60 * 10).need("K", 10, "X").need("K", 10, "Y")
    (found,) = answer(shop.order("O", "K", due=110).build(), own={0: HALF, 1: HALF}).orders
    assert {g.step for g in found.governs} == {"X op 10", "Y op 10"}
    for governs in found.governs:
        assert governs.percent < 100
        assert governs.text.endswith(
            f"3 h 20 min lost on average in {governs.percent} % of the draws in which the order is late"
        )


def test_a_kit_is_as_sure_as_its_components_at_the_planned_start() -> None:
    (kit,) = answer(assembly(), own={0: HALF}).kits
    assert kit.batch == "K" and kit.start_min == 150 and kit.orders == ("O",)
    assert kit.full == pytest.approx(0.5, abs=0.1)
    assert kit.safe_min == 300
    assert [(w.component, w.source, w.percent) for w in kit.waits_for] == [("X", "batch X", 100)]


def test_each_component_that_comes_last_is_named_with_its_share() -> None:
    (kit,) = answer(assembly(), own={0: HALF}, receipts=Late(50, 0.001)).kits
    shares = {w.component: w.percent for w in kit.waits_for}
    assert set(shares) == {"X", "bought"}  # a receipt that is late is a day late, and so the last
    assert shares["bought"] == pytest.approx(100 * 0.5 / 0.75, abs=10)
    assert sum(shares.values()) in (99, 100, 101)


def test_with_nothing_spread_all_is_as_planned() -> None:
    found = answer(assembly())
    assert [(r.on_time, r.likely_min, r.safe_min) for r in found.orders] == [(1, 120, 120), (1, 160, 160)][::-1]
    assert [k.full for k in found.kits] == [1]
    assert found.kits[0].waits_for == ()


@pytest.mark.parametrize(
    ("share", "text"),
    [
        (1, "over 99 %"),
        (0.991, "over 99 %"),
        (0.99, "99 %"),
        (0.899, "89 %"),
        (0.29, "29 %"),
        (0.01, "1 %"),
        (0.009, "under 1 %"),
        (0, "under 1 %"),
    ],
)
def test_near_the_ends_no_more_is_said_than_is_known(share: float, text: str) -> None:
    assert chance_text(share) == text


def test_an_altered_plan_is_a_fault_in_plain_words() -> None:
    work = assembly()
    table = Timetable(work)
    table.time(table.repaired([]))
    plan = as_plan(work, table)
    with pytest.raises(PlanFileFault, match="Make it again"):
        risk(None, work, replace(plan, steps=(replace(plan.steps[0], start=1), *plan.steps[1:])))


# --- on the small shop ----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def plan_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("plan") / "plan.json"
    save(make_plan(TINY, trials=20), file)
    return file


def test_the_command_says_the_same_as_the_answer(plan_file: Path) -> None:
    result = run("risk", TINY, plan_file, "--draws", 60, "--seed", 4, "--sure", 80, "--json")
    assert result.exit_code == 0, result.output
    told, job = json.loads(result.stdout), load_plan(TINY, plan_file)
    found = risk(read_shop(TINY), job.work, job.plan, draws=60, seed=4, sure_percent=80)
    assert (told["draws"], told["seed"], told["sure_percent"]) == (60, 4, 80)
    assert [r["order"] for r in told["orders"]] == [r.order for r in found.orders]
    assert [r["on_time"] for r in told["orders"]] == [r.on_time for r in found.orders]
    assert [k["full"] for k in told["kits"]] == [k.full for k in found.kits]


def test_the_command_shows_orders_kits_and_what_it_takes_for_granted(plan_file: Path) -> None:
    text = run("risk", TINY, plan_file, "--draws", 40).stdout
    for words in (
        "A draw is one way it may go",
        "Weighted lateness in all",
        "as planned",
        "O-1",
        "90 % sure",
        "all there",
        "taken for granted",
        "Nobody plans again",
        "spread by 30 %",
    ):
        assert words in text


def test_the_safe_day_rises_with_how_sure_it_is_to_be(plan_file: Path) -> None:
    days = []
    for sure in (50, 90, 99):
        told = json.loads(run("risk", TINY, plan_file, "--draws", 200, "--sure", sure, "--json").stdout)
        days.append({r["order"]: r["safe_day"] for r in told["orders"]})
    assert all(days[0][o] <= days[1][o] <= days[2][o] for o in days[0])


@pytest.mark.parametrize("words", [("--draws", 0), ("--sure", 100), ("--sure", 0), ("--draws", "many")])
def test_wrong_use(plan_file: Path, words: tuple) -> None:
    assert run("risk", TINY, plan_file, *words).exit_code == 2
