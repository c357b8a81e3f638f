"""The pages for what if and sooner: what they take, what they answer, and both plans on one chart."""

from __future__ import annotations

import json
import shutil
import time
from dataclasses import replace
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
import run_tasks
from fastapi.testclient import TestClient
from page_server import NARROW, WIDE, fits_at, fits_sideways, served, shot, watched
from playwright.sync_api import Browser
from web_fixtures import HOSTILE, made_plan, made_work

from planner.alter import KINDS, altered
from planner.alter.named import FILE
from planner.alter.phrase import from_phrase
from planner.main_job import Job, make_plan
from planner.search import search
from web.app import create_app
from web.site import Site
from web.whatif_chart import BELOW, compared

TINY = Path(__file__).parent / "data" / "tiny_shop"
DROP = {"kind": "drop", "order": "O-3"}


@pytest.fixture(scope="module")
def job() -> Job:
    return make_plan(TINY, trials=10)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(TINY, tmp_path / "shop"))


@pytest.fixture
def client(job: Job, folder: Path) -> TestClient:
    return TestClient(create_app(job.work, job.plan, job.shop, folder, job.accepted))


def ended(client: TestClient, run: int) -> Any:
    """A run once it has ended."""
    for _ in range(600):
        now = client.get(f"/api/runs/{run}").json()
        if now["state"] != "running":
            return now
        time.sleep(0.05)
    raise AssertionError("it does not end")


# --- what if ------------------------------------------------------------------------------------


def test_every_kind_is_offered_with_its_fields_and_names(client: TestClient) -> None:
    kinds = {k["kind"]: k for k in client.get("/api/whatif/kinds").json()}
    assert list(kinds) == list(KINDS)
    assert kinds["drop"]["fields"][0]["names"] == ["O-1", "O-2", "O-3", "O-4", "O-5"]
    assert kinds["split"]["fields"][0]["names"]
    assert [f["needed"] for f in kinds["shift"]["fields"]] == [True, True, True, False]


def test_changes_are_checked_together_and_said_in_words(client: TestClient) -> None:
    found = client.post("/api/whatif/changes", json={"changes": [DROP]}).json()
    assert [(c["text"], c["texts"]) for c in found] == [("Order O-3 taken out.", DROP)]
    wrong = client.post("/api/whatif/changes", json={"changes": [DROP, DROP, {"kind": "drp"}]})
    assert wrong.status_code == 422
    twice = client.post("/api/whatif/changes", json={"changes": [DROP, DROP]})
    assert "the name of an order of the shop" in twice.json()["error"]["detail"]


def test_a_question_is_answered_by_a_run_with_the_chart(client: TestClient) -> None:
    run = client.post("/api/whatif", json={"changes": [DROP], "seconds": 0.5}).json()["run"]
    now = ended(client, run)
    assert now["state"] == "done", now["failure"]
    (part,) = now["parts"]
    assert [o["order"] for o in part["answer"]["orders"] if o["what"] == "removed"] == ["O-3"]
    rows = [row["name"] for row in part["chart"]["chart"]["rows"]]
    assert rows[1::2] == [BELOW + name for name in rows[::2]]


def test_a_kept_question_is_there_again_and_can_be_removed(client: TestClient, folder: Path) -> None:
    assert client.get("/api/whatif/named").json() == {}
    kept = client.post("/api/whatif/named", json={"name": "without", "changes": [DROP]}).json()
    assert [c["texts"] for c in kept["without"]] == [DROP]
    assert (folder / FILE).exists()
    assert client.post("/api/whatif/named/forget", json={"name": "without"}).json() == {}
    assert client.post("/api/whatif/named/forget", json={"name": "without"}).status_code == 422


def test_kept_questions_that_need_mending_are_told(client: TestClient, folder: Path) -> None:
    (folder / FILE).write_text('{"a": [{"kind": "drp"}]}', "utf-8")
    found = client.get("/api/whatif/named")
    assert found.status_code == 422
    assert "Did you mean 'drop'" in found.json()["error"]["detail"]


def test_a_database_server_keeps_no_questions(job: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("web.site.is_store", lambda _: False)  # none is asked
    client = TestClient(create_app(job.work, job.plan, job.shop, "postgresql://ann@nowhere/shop"))
    assert client.get("/api/whatif/named").json() == {}
    assert 'id="kept"' not in client.get("/whatif").text
    assert client.post("/api/whatif/named", json={"name": "a", "changes": [DROP]}).status_code == 422


def test_changes_that_do_not_fit_the_shop_are_not_kept(client: TestClient, folder: Path) -> None:
    gone = {"kind": "drop", "order": "O-33"}
    assert client.post("/api/whatif/named", json={"name": "a", "changes": [gone]}).status_code == 422
    assert not (folder / FILE).exists()


@pytest.mark.parametrize("address", ["/api/whatif", "/api/whatif/changes", "/api/whatif/named"])
def test_every_change_that_cannot_be_read_is_told(client: TestClient, address: str) -> None:
    wrong = [{"kind": "drp"}, {"kind": "due", "order": "O-3", "due": "soon"}]
    found = client.post(address, json={"name": "a", "changes": wrong})
    assert found.status_code == 422
    assert len(found.json()["error"]["detail"].splitlines()) == 2


def test_without_tables_or_folder_it_says_what_it_cannot_do(job: Job) -> None:
    bare = TestClient(create_app(job.work, job.plan))
    assert "without the shop" in bare.get("/whatif").text
    assert "without the shop" in bare.get("/sooner").text
    assert bare.post("/api/whatif", json={"changes": []}).status_code == 409
    assert bare.post("/api/sooner", json={"order": "O-1", "by": "2026-04-01"}).status_code == 409
    no_folder = TestClient(create_app(job.work, job.plan, job.shop))
    assert no_folder.post("/api/whatif/named", json={"name": "a", "changes": []}).status_code == 409


# --- sooner -------------------------------------------------------------------------------------


def test_ways_come_one_by_one_and_then_in_order(client: TestClient) -> None:
    run = client.post("/api/sooner", json={"order": "O-2", "by": "2026-03-25", "seconds": 3}).json()["run"]
    now = ended(client, run)
    assert now["state"] == "done", now["failure"]
    *ways, last = now["parts"]
    assert {w["way"]["said"] for w in ways} >= {w["said"] for w in last["all"]}
    assert last["all"][0]["texts"][0] == "Plan again with this order first."


def test_an_unknown_order_is_said_at_once(client: TestClient) -> None:
    early = client.post("/api/sooner", json={"order": "O-2", "by": "2020-01-01"})
    assert early.status_code == 422
    assert "expected a time after the plan start" in early.json()["error"]["detail"]
    answer = client.post("/api/sooner", json={"order": "O-22", "by": "2026-03-25"})
    assert answer.status_code == 422
    assert "Did you mean 'O-2'" in answer.json()["error"]["detail"]


# --- both plans on one chart ----------------------------------------------------------------------


def test_the_same_plan_twice_has_nothing_that_moves(job: Job) -> None:
    site = Site(job.work, job.plan, job.shop)
    both = compared(site, site)
    assert both.moved == ()
    assert len(both.chart.bars) == 2 * len(job.plan.steps)
    assert len({bar.op for bar in both.chart.bars}) == len(both.chart.bars)


def test_each_plan_has_its_own_strip_with_its_own_hours(job: Job) -> None:
    change = from_phrase(KINDS["machine"], "L9 like L1")
    copy = altered(job.shop, [change])
    after = Site(copy.work, search(copy.work, trials=10), copy.shop)
    both = compared(Site(job.work, job.plan, job.shop), after)
    names = [row.name for row in both.chart.rows]
    at = names.index("L9")
    assert names[at + 1] == f"{BELOW}L9"
    assert both.chart.rows[at].hours is None  # the plan as it is has no such machine
    assert both.chart.rows[at + 1].hours is not None
    assert all((bar.op >= both.first_after) == bool(bar.row % 2) for bar in both.chart.bars)
    orders = {both.chart.orders[o].number for bar in both.chart.bars for o in both.chart.batches[bar.batch].orders}
    assert orders == {o.number for o in job.work.orders if any(s.batch is not None for s in o.sources)}


def test_what_stands_elsewhere_moves_in_both(job: Job) -> None:
    """One step begun a minute later: it and its like in the other plan, and nothing else."""
    steps = list(job.plan.steps)
    at = next(n for n, s in enumerate(steps) if s.machine is not None and s.start > 0)
    steps[at] = replace(steps[at], start=steps[at].start + 1)
    later = Site(job.work, replace(job.plan, steps=tuple(steps)), job.shop)
    both = compared(Site(job.work, job.plan, job.shop), later)
    assert both.moved == (steps[at].operation, steps[at].operation + both.first_after)


# --- in a real browser ----------------------------------------------------------------------------


def test_a_question_from_the_form_to_the_chart(chromium: Browser, job: Job, folder: Path) -> None:
    app = create_app(job.work, job.plan, job.shop, folder)
    with served(app) as base, watched(chromium, base, NARROW) as page:
        page.goto(f"{base}/whatif")
        page.select_option("#kind", "drop")
        page.select_option("[name=order]", "O-3")
        page.click("#add button")
        page.wait_for_selector("#changes li")
        page.fill("#name", "without O-3")
        page.click("#keep")
        page.wait_for_selector("#kept option[value='without O-3']", state="attached")
        page.evaluate("document.querySelector('[name=seconds]').options[0].value = '0.5'")
        page.click("#question button.main")
        page.wait_for_selector("#chart[data-drawn]")
        assert "taken out" in page.inner_text("#verdict")
        assert fits_sideways(page)
        page.focus("#chart")
        for key in ("ArrowRight", "+", "-", "Home"):
            page.keyboard.press(key)
        page.uncheck("#only-moved")
        for size in (NARROW, WIDE):
            fits_at(page, size, "whatif")


def test_changes_in_the_address_are_taken_once_and_can_be_left_out(chromium: Browser, job: Job, folder: Path) -> None:
    given = urlencode({"changes": json.dumps([DROP])})
    with served(create_app(job.work, job.plan, job.shop, folder)) as base, watched(chromium, base, WIDE) as page:
        asked = []
        page.on("request", lambda r: asked.append(r.url) if r.url.endswith("/api/whatif/changes") else None)
        page.goto(f"{base}/whatif?{given}")
        page.wait_for_selector("#changes li")
        page.wait_for_timeout(500)
        assert len(asked) == 1
        page.click("#changes button")
        page.wait_for_timeout(500)
        assert page.locator("#changes li").count() == 0


def test_ways_to_have_an_order_sooner_on_the_page(chromium: Browser, job: Job, folder: Path) -> None:
    app = create_app(job.work, job.plan, job.shop, folder)
    with served(app) as base, watched(chromium, base) as page:
        page.goto(f"{base}/sooner?order=O-2")
        page.fill("[name=by]", "2026-03-25")
        page.evaluate("document.querySelector('[name=seconds]').options[0].value = '3'")
        page.click("button.main")
        page.wait_for_selector("#weighing:not(:empty)")
        assert "Plan again with this order first." in page.inner_text("#ways")
        assert fits_sideways(page)
        shot(page, "sooner")


@pytest.mark.parametrize(("about", "added"), [("order=O-2", 0), ("part=GR-120&pieces=30", 1)])
def test_a_way_can_be_asked_as_what_if(
    chromium: Browser, job: Job, folder: Path, monkeypatch: pytest.MonkeyPatch, about: str, added: int
) -> None:
    """One for an enquiry begins with the enquiry, which is no order of the shop."""
    monkeypatch.setattr("web.sooner._ways", run_tasks.first_ways)
    with served(create_app(job.work, job.plan, job.shop, folder)) as base, watched(chromium, base) as page:
        page.goto(f"{base}/sooner?{about}")
        page.fill("[name=by]", "2026-03-23")
        page.click("button.main")
        page.wait_for_selector("#weighing:not(:empty)")
        way = page.locator("#ways tbody tr", has_text="Ask it as what if").first
        texts = way.locator("th.what div").all_inner_texts()
        way.get_by_text("Ask it as what if").click()
        page.wait_for_selector("#changes li")
        changes = page.locator("#changes li").all_inner_texts()
        assert page.inner_text("#faults") == ""
        assert all(text.startswith("Order enquiry added: 30 pieces of GR-120") for text in changes[:added])
        assert changes[added].startswith(texts[0])


def test_names_from_the_tables_are_text_on_the_pages() -> None:
    """A part with markup in its name comes out escaped, in the page and in the chart's JSON."""
    work = made_work(60)
    site = Site(work, made_plan(work))
    assert any(HOSTILE in batch.part for batch in compared(site, site).chart.batches)
    page = TestClient(create_app(work, made_plan(work))).get("/sooner").text
    assert HOSTILE not in page
