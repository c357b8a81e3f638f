"""A batch proposal switched off on the Summary page and on again; a folder's page says which option and row do it."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from days import Day, at
from fastapi.testclient import TestClient
from page_server import NARROW, WIDE, fits_sideways, served, shot, watched
from playwright.sync_api import Browser, Page

from planner.day import clock
from planner.store import Store
from web.app import create_app, create_store_app

BUTTON = "Switch it off: leave O-6-1 as it is"


@pytest.fixture
def shop(in_halves: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Day]:
    monkeypatch.setattr(clock, "wall_clock", lambda _: at("08:30"))
    place = Path(shutil.copy(in_halves, tmp_path / "shop.db"))
    with Store(place) as store:
        yield Day(store, place)


@pytest.fixture(params=[WIDE, NARROW], ids=["wide", "narrow"])
def page(request: pytest.FixtureRequest, shop: Day, chromium: Browser) -> Iterator[tuple[Page, str]]:
    with served(create_store_app(shop.store)) as address, watched(chromium, address, request.param) as found:
        yield found, address


def test_the_page_offers_it_for_what_is_not_switched_off_and_lists_what_is(shop: Day) -> None:
    client = TestClient(create_store_app(shop.store))
    before = client.get("/").text
    assert BUTTON in before and "Switched off" not in before
    assert "a row of left_alone.csv" in before  # the tiny shop has one
    said = client.post("/api/events", json={"what": "leave alone", "subject": "O-6-1/2", "who": "Ben"}).json()
    assert "Batch O-6-1 is left as it is" in said["words"]
    after = client.get("/").text
    assert BUTTON not in after and "Switched off" in after
    assert f'data-number="{said["entry"]}"' in after
    client.post("/api/undo", json={"who": "Ben", "number": said["entry"]})
    assert client.get("/").text == before


def test_today_offers_the_names_of_planned_batches(shop: Day) -> None:
    page = TestClient(create_store_app(shop.store)).get("/today").text
    planned = page.split('id="names-planned"')[1].split("</datalist>")[0]
    assert '"O-6-1"' in planned and '"B-1"' not in planned


def test_of_a_folder_the_page_says_what_to_type(shop: Day) -> None:
    job = shop.followed
    page = TestClient(create_app(job.work, job.plan, job.shop)).get("/").text
    assert "plan again with --leave-alone O-6-1; for good: put a row O-6-1 into left_alone.csv and plan again." in page
    assert BUTTON not in page and "day.js" not in page


def test_it_is_switched_off_with_a_button_and_on_again(page: tuple[Page, str], shop: Day) -> None:
    view, address = page
    view.goto(address)
    view.get_by_role("button", name=BUTTON).click()
    view.get_by_text("Say your name first").wait_for()
    view.fill("#who", "Ben")
    shot(view, "proposals")
    view.get_by_role("button", name=BUTTON).click()
    view.get_by_text("Batch O-6-1 is left as it is: from the next plan on").wait_for()
    assert view.get_by_role("button", name=BUTTON).count() == 0
    assert shop.row("left_alone", batch="O-6-1")["reason"] == ""
    assert fits_sideways(view)
    shot(view, "proposals-off")
    view.get_by_role("button", name="Undo", exact=True).click()
    view.get_by_role("button", name=BUTTON).wait_for()
    assert shop.store.sheets().find("left_alone", batch="O-6-1") is None
