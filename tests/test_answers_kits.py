"""Kits: dates, slack, shortages and the component an assembly waits for."""

from __future__ import annotations

from dataclasses import replace

from builders import ShopBuilder, plan, step

from planner.answers.kits import kits
from planner.answers.rows import as_rows
from planner.plan import Plan
from planner.work import Begun, Work


def grinder(**second: object) -> tuple[Work, Plan]:
    """An assembly of a made body (ready 300), a receipt at 200 and stock."""
    shop = (
        ShopBuilder().person("Ann", "assembly")
        .batch("B1", part="body", pieces=5).op("L1")
        .batch("B2", part="grinder", pieces=5).manual("bench", 60, skill="assembly", **second)
        .need("B2", 10, "B1", pieces=5).need("B2", 10, at=200, pieces=10).need("B2", 10, pieces=15)
        .order("O1", "B2", due=900)
    )  # fmt: skip
    work = shop.build()
    done = second.get("begun") is Begun.DONE
    steps = [step(work, "B1", 10, "L1", run=(295, 300))]
    steps += [] if done else [step(work, "B2", 10, "bench", stints=[("Ann", 320, 325)])]
    return work, plan(work, *steps)


def test_the_kit_date_is_the_latest_component_and_names_it() -> None:
    (kit,) = kits(*grinder())
    assert (kit.batch, kit.kit_min, kit.start_min, kit.orders) == ("B2", 300, 320, ("O1",))
    assert kit.kit_date == "Mon 23 Mar 2026 13:00"
    assert kit.waits_for == "body (batch B1)"
    assert kit.shortages == ()


def test_slack_is_the_time_between_a_component_and_the_kit_date() -> None:
    (kit,) = kits(*grinder())
    assert [(c.source, c.pieces, c.date_min, c.slack_min) for c in kit.components] == [
        ("batch B1", 5, 300, 0), ("receipt R2", 10, 200, 100), ("stock", 15, 0, 300),
    ]  # fmt: skip
    assert [c.date for c in kit.components][1:] == ["Mon 23 Mar 2026 11:20", "here"]


def test_what_is_not_on_order_is_short_and_has_no_date() -> None:
    work, made = grinder()
    needs = tuple(replace(n, receipt="not on order") if n.pieces == 15 else n for n in work.needs)
    (kit,) = kits(replace(work, needs=needs), made)
    assert kit.shortages == ("bought: 15 not on order",)
    short = kit.components[0]
    assert (short.short, short.date, short.date_min, short.slack_min) == (True, "no date", None, None)
    assert kit.kit_min == 300


def test_a_kit_from_stock_alone_is_here_and_waits_for_nothing() -> None:
    work = ShopBuilder().batch("B1").op("L1").need("B1", 10).build()
    (kit,) = kits(work, plan(work, step(work, "B1", 10, "L1", run=(0, 1))))
    assert (kit.kit_date, kit.waits_for, kit.kit_min) == ("here", "", 0)


def test_a_finished_component_is_here() -> None:
    work = (
        ShopBuilder().batch("B1").op("L1", begun=Begun.DONE).batch("B2").op("L2").need("B2", 10, "B1").build()
    )  # fmt: skip
    (kit,) = kits(work, plan(work, step(work, "B2", 10, "L2", run=(0, 1))))
    assert kit.components[0].date == "here"


def test_batches_without_needs_or_with_the_step_done_have_no_kit() -> None:
    assert kits(*grinder(begun=Begun.DONE)) == []
    work = ShopBuilder().batch("B1").op("L1").build()
    assert kits(work, plan(work, step(work, "B1", 10, "L1", run=(0, 1)))) == []


def test_a_component_without_a_place_in_the_plan_is_not_planned() -> None:
    work, made = grinder()
    (kit,) = kits(work, replace(made, steps=made.steps[1:]))
    assert (kit.components[0].source, kit.components[0].date) == ("batch B1", "not planned")
    assert kit.kit_min == 200


def test_kits_come_in_order_of_start() -> None:
    work = (
        ShopBuilder().batch("B1").op("L1").need("B1", 10).batch("B2").op("L2").need("B2", 10).build()
    )  # fmt: skip
    made = plan(work, step(work, "B1", 10, "L1", run=(9, 10)), step(work, "B2", 10, "L2", run=(3, 4)))
    assert [k.batch for k in kits(work, made)] == ["B2", "B1"]
    assert as_rows(kits(work, made))[0]["components"][0]["source"] == "stock"
