"""The page that says why an order is ready when it is, without and with a browser."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from itertools import pairwise
from urllib.parse import quote

import pytest
from builders import ShopBuilder, days, plan
from fastapi.testclient import TestClient
from page_server import NARROW, WIDE, fits_sideways, served, shot, watched
from playwright.sync_api import Browser
from web_fixtures import HOSTILE, made_plan, made_work
from why_chains import timed

from planner.answers import why as answers
from planner.answers.why import why
from planner.chain import PartKind
from planner.verify import Breach
from web.app import create_app
from web.site import Site
from web.why import LOOKS, why_page

WORK = made_work(120)
PLAN = made_plan(WORK)
# a tube goes into a body, the body into a grinder, and all three wait for something
KIT = (
    ShopBuilder().machine("L1", days(20, (0, 480))).service("Blue Tank", [(n * 1440, n * 1440 + 60, (n + 3) * 1440) for n in (2, 9)])
    .batch("B0", pieces=700).op("L1").batch("TUBE", pieces=400).op("L1").outside("Blue Tank")
    .batch("BODY", pieces=90, release=300).op("L2").need("BODY", 10, "TUBE")
    .batch("GRINDER", pieces=60).op("L3", move_min=20).op("L1").need("GRINDER", 10, "BODY").order("O-1", "GRINDER", due=7000).build()
)  # fmt: skip
KIT_PLAN = timed(KIT, "B0")


@pytest.fixture(scope="module")
def client() -> TestClient:
    return TestClient(create_app(WORK, PLAN))


def test_an_explanation_that_is_wrong_is_answered_in_words(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    wrong = Breach("chain sum", "part", "1", "2")
    monkeypatch.setattr(answers, "verify_chains", lambda work, made, chains: [wrong])
    number = WORK.orders[0].number
    told = client.get(f"/api/why/{number}")
    assert told.status_code == 500
    assert told.json()["error"]["detail"] == (
        "The explanation does not agree with the plan and is not shown: rule chain sum: part: expected 1, found 2"
    )
    assert "does not agree with the plan" in client.get(f"/why/{number}").text


@pytest.mark.parametrize("order", [o.number for o in WORK.orders[:6]])
def test_the_page_says_what_its_document_says(client: TestClient, order: str) -> None:
    told = client.get(f"/api/why/{order}").json()
    text = unescape(client.get(f"/why/{order}").text)
    assert told["sentence"] in text
    assert all(note in text for note in told["notes"])
    assert all(line["text"] in text for leg in told["legs"] for stage in leg["stages"] for line in stage["lines"])
    assert text.count('class="fold leg"') == len(told["legs"])
    assert sum(bit["end_min"] - bit["start_min"] for bit in told["bits"]) == told["lead_min"]


def test_every_order_of_the_orders_page_leads_to_its_reason(client: TestClient) -> None:
    links = re.findall(r'href="(/why/[^"]+)"', client.get("/orders").text)
    assert len(links) == len(WORK.orders)
    assert client.get(links[0]).status_code == 200


def test_a_batch_is_asked_for_by_its_own_name_even_with_a_slash() -> None:
    work = ShopBuilder().batch("G-1/GR-2-1").op("L1").order("O/1", "G-1/GR-2-1", due=9).build()
    own = TestClient(create_app(work, timed(work)))
    assert own.get("/api/why/G-1/GR-2-1", params={"batch": True}).json()["name"] == "G-1/GR-2-1"
    assert own.get("/api/why/O/1").json()["lead_min"] == 1
    assert f'href="/why/{quote("O/1")}"' in own.get("/orders").text


@pytest.mark.parametrize("address", ["/why/O-9999", "/why/O-1001?batch=true", "/api/why/nothing"])
def test_an_unknown_name_is_not_found_and_the_nearest_is_named(client: TestClient, address: str) -> None:
    answer = client.get(address)
    assert answer.status_code == 404
    assert "The plan has no" in answer.text


def test_names_are_shown_as_they_are_and_never_run(client: TestClient) -> None:
    hostile = next(b.name for b in WORK.batches if b.part == HOSTILE)
    text = client.get(f"/why/{hostile}", params={"batch": True}).text
    assert HOSTILE not in text and HOSTILE in unescape(text)


def test_an_order_that_is_ready_has_a_sentence_and_nothing_to_scale() -> None:
    work = ShopBuilder().order("O1", due=10).build()
    text = TestClient(create_app(work, plan(work))).get("/why/O1").text
    assert "O1 is ready now" in text and "<rect" not in text


def test_the_segments_fill_the_strip_side_by_side() -> None:
    page = why_page(Site(KIT, KIT_PLAN), why(KIT, KIT_PLAN, "O-1"))
    assert [leg.text for leg in page.legs] == ["TUBE", "BODY", "GRINDER"]
    for row in (page.segments, page.legs):
        assert row[0].x == 0 and row[-1].x + row[-1].width == pytest.approx(100, abs=0.01)
        assert all(a.x + a.width == pytest.approx(b.x, abs=0.01) for a, b in pairwise(row))
    assert page.marks and all(0 < mark.x < 100 for mark in page.marks)


def test_every_kind_has_a_letter_and_kinds_that_look_alike_have_different_ones() -> None:
    assert set(LOOKS) == set(PartKind)
    told = {(look.letter, look.words) for look in LOOKS.values()}
    assert len({letter for letter, _ in told}) == len(told)


# --- in a browser ------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def base() -> Iterator[str]:
    with served(create_app(KIT, KIT_PLAN)) as address:
        yield address


@pytest.mark.parametrize("size", [WIDE, NARROW], ids=["wide", "narrow"])
def test_the_page_fits_and_shows_its_parts_to_scale(chromium: Browser, base: str, size: tuple[int, int]) -> None:
    """The strip on a wide window, bars below one another on a narrow one."""
    with watched(chromium, base, size) as page:
        page.goto(f"{base}/why/O-1")
        assert page.locator("h1").count() == 1
        assert fits_sideways(page)
        assert page.locator("svg.strip").is_visible() == (size is WIDE)
        bars = page.locator("details[open] .bar rect")
        widths = [bars.nth(i).bounding_box() for i in range(bars.count())]
        assert widths and all(box is not None and box["width"] > 0 for box in widths)
        shot(page, "page-why")


def test_a_component_s_chain_opens_up(chromium: Browser, base: str) -> None:
    with watched(chromium, base) as page:
        page.goto(f"{base}/why/O-1")
        legs = page.locator("details.leg")
        assert [legs.nth(i).locator("table").is_visible() for i in range(3)] == [False, False, True]
        legs.first.locator("summary").click()
        assert legs.first.locator("table").is_visible()
        page.emulate_media(media="print")
        assert legs.nth(1).locator("table").is_visible()
