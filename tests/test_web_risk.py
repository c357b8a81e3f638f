"""The risk page and the orders page's own column, without a browser and in a real one."""

from __future__ import annotations

import re
import threading
from collections.abc import Iterator
from dataclasses import replace
from html import unescape

import pytest
from builders import ShopBuilder, as_plan
from days import Day
from fastapi.testclient import TestClient
from page_server import NARROW, WIDE, fits_sideways, served, shot, watched
from playwright.sync_api import Browser
from web_fixtures import HOSTILE, made_plan, made_work

import web.site
from planner.timetable import Timetable
from web.app import create_app, create_store_app, draw_ahead
from web.site import Site

WORK = made_work(200)
PLAN = made_plan(WORK)


@pytest.fixture(scope="module")
def client() -> TestClient:
    return TestClient(create_app(WORK, PLAN))


def test_the_page_has_the_rows_of_its_document(client: TestClient) -> None:
    told, text = client.get("/api/risk").json(), client.get("/risk").text
    assert re.findall(r'href="/plan\?order=([^"]+)"', text) == [r["order"] for r in told["orders"]]
    assert text.count("<tr class=\"late\">") == sum(
        100 * r["on_time"] < 90 for r in told["orders"]
    ) + sum(100 * k["full"] < 90 for k in told["kits"])  # fmt: skip
    words = (
        f"{told['weighted_late_min']:,.0f} on average over the draws, {told['planned_weighted_late_min']:,} as planned"
    )
    assert words in text and "A draw is one way it may go" in text
    assert told["planned_weighted_late_min"] == PLAN.cost.late
    for worst in told["worst"]:
        assert worst["text"] in unescape(text) and "weighted minutes lost on average" in worst["text"]
    for line in told["assumptions"]:
        assert line in unescape(text)
    assert HOSTILE not in text


def test_the_orders_page_does_not_wait_for_the_draws(monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*args: object, **more: object) -> None:
        raise AssertionError("drawn")

    monkeypatch.setattr(web.site, "risk", never)
    answer = TestClient(create_app(WORK, PLAN)).get("/orders")
    assert answer.status_code == 200
    assert answer.text.count("data-chance=") == len(WORK.orders)


def test_for_the_pages_of_a_store_it_is_worked_out_before_somebody_asks(
    planned: Day, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun = threading.Event()
    monkeypatch.setattr("web.app.draw_ahead", draw_ahead)
    monkeypatch.setattr(Site, "work_out_risk", lambda site: begun.set())
    create_store_app(planned.store)
    assert begun.wait(10)


def test_it_is_worked_out_once_for_all_who_ask(monkeypatch: pytest.MonkeyPatch) -> None:
    calls = []
    real = web.site.risk
    monkeypatch.setattr(web.site, "risk", lambda *a, **k: calls.append(1) or real(*a, draws=20))
    site = Site(WORK, PLAN)
    askers = [threading.Thread(target=lambda: site.risk) for _ in range(4)]
    for asker in askers:
        asker.start()
    for asker in askers:
        asker.join()
    assert calls == [1]


def test_a_plan_that_cannot_be_timed_again_says_so() -> None:
    work = ShopBuilder().batch("B").op("M", 0, 6000).order("O", "B", due=1).build()
    table = Timetable(work)
    table.time(table.repaired([]))
    plan = as_plan(work, table)
    altered = replace(plan, steps=(replace(plan.steps[0], start=1),))
    client = TestClient(create_app(work, altered))
    assert "cannot be timed again" in client.get("/risk").text
    assert client.get("/api/risk").status_code == 404


def test_a_shop_without_orders_or_kits_has_a_page() -> None:
    work = ShopBuilder().batch("B").op("M", 0, 6000).build()
    table = Timetable(work)
    table.time(table.repaired([]))
    text = TestClient(create_app(work, as_plan(work, table))).get("/risk").text
    assert "There are no orders" in text and "No batch in this plan" in text


# --- in Chromium -----------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def base() -> Iterator[str]:
    with served(create_app(WORK, PLAN)) as address:
        yield address


@pytest.mark.parametrize("size", [WIDE, NARROW], ids=["wide", "narrow"])
def test_every_order_has_a_band_that_is_told_in_words_too(chromium: Browser, base: str, size: tuple[int, int]) -> None:
    with watched(chromium, base, size) as page:
        page.goto(f"{base}/risk")
        bands = page.locator("#risks td.band svg")
        assert bands.count() == len(WORK.orders)
        assert "One draw in ten" in (bands.first.get_attribute("aria-label") or "")
        assert fits_sideways(page)
        shot(page, "risk")


def test_the_orders_page_fills_its_column_and_sorts_by_it(chromium: Browser, base: str) -> None:
    with watched(chromium, base) as page:
        page.goto(f"{base}/orders")
        page.wait_for_selector("html[data-risk=shown]")
        assert page.locator("#orders td[data-chance] svg").count() == len(WORK.orders)
        page.get_by_role("button", name="Chance to be in time").click()
        keys = page.eval_on_selector_all("#orders td[data-chance]", "cells => cells.map(c => Number(c.dataset.key))")
        assert keys == sorted(keys) and max(keys) <= 1
        shot(page, "orders-chance")


def test_the_risk_page_shows_only_what_is_less_sure_when_asked(chromium: Browser, base: str) -> None:
    with watched(chromium, base) as page:
        page.goto(f"{base}/risk")
        page.get_by_label("sure only").check()
        shown = page.locator("#risks tbody tr:visible").count()
        assert shown == page.locator("#risks tbody tr.late").count() < len(WORK.orders)
