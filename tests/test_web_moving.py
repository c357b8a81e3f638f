"""Moving a step by hand on the chart: a press that hardly moves is a click, and who it was is known from before."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from days import Day, at
from intake_folders import TINY_SHOP
from page_server import WIDE, served, watched
from playwright.sync_api import Browser, Page

from planner.day import clock
from planner.store import Store
from planner.store.folder import take_in
from web.app import create_store_app

OP = ("O-1/GR-110-1", 10)


@pytest.fixture(scope="module")
def accepted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("moving") / "shop.db"
    with take_in(TINY_SHOP, place, "Ann") as store:
        Day(store, place).plan("08:00", accept=True)
    return place


@pytest.fixture
def page(accepted: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, chromium: Browser) -> Iterator[Page]:
    """The chart at half past nine, steps to be moved by dragging."""
    monkeypatch.setattr(clock, "wall_clock", lambda _: at("09:30"))
    place = Path(shutil.copy(accepted, tmp_path / "shop.db"))
    with (
        Store(place) as store,
        served(create_store_app(store)) as address,
        watched(chromium, address, WIDE) as view,
    ):
        view.goto(f"{address}/plan")
        view.evaluate("localStorage.setItem('batchwright-who', 'Ben')")
        view.reload()
        view.locator("#chart[data-drawn=yes]").wait_for()
        view.check("#move-drag")
        op = Day(store, place).followed.work.places[OP]
        view.evaluate("op => window.planChart.bring(window.planChart.barOf.get(op), true)", op)
        view.evaluate("op => { window.asked = op; }", op)
        yield view


def test_the_name_is_there_from_last_time(page: Page) -> None:
    assert page.input_value("#who") == "Ben"


def test_a_click_that_wanders_a_little_moves_nothing(page: Page) -> None:
    sent: list[str] = []
    page.on("request", lambda r: sent.append(r.url) if r.url.endswith("/api/decisions") else None)
    box = page.evaluate("window.planChart.boxOf(window.asked)")
    x, y = box["x"] + min(4, box["width"] / 2), box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 2, y + 1)
    assert page.locator(".ghost").is_hidden()
    page.mouse.up()
    page.wait_for_timeout(300)
    assert sent == []
    assert page.input_value("#move [name=batch]") == "O-1/GR-110-1"  # it was opened, as by a click
