"""Asking for a date on the page: answers come, wrong questions are told, enquiries are kept, and nothing else is written."""

from __future__ import annotations

import re
import shutil
import time
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from page_server import NARROW, WIDE, fits_at, served, shot, watched
from playwright.sync_api import Browser

from planner.answers.orders import orders
from planner.dates import SECONDS
from planner.dates.keeping import NewPart, like
from planner.intake import read_shop
from planner.main_job import Job, PlanRefused, make_plan, stored_job
from planner.store import Store
from planner.store.folder import take_in
from web.app import create_app

TINY = Path(__file__).parent / "data" / "tiny_shop"
QUESTION = {"part": "GR-120", "pieces": 30, "wanted": "2026-03-25", "seconds": 1}


@pytest.fixture(scope="module")
def job() -> Job:
    return make_plan(TINY, trials=60)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shutil.copytree(TINY, tmp_path / "shop")
    return tmp_path / "shop"


@pytest.fixture
def client(job: Job, folder: Path) -> TestClient:
    return TestClient(create_app(job.work, job.plan, job.shop, folder))


@pytest.fixture
def store(folder: Path, tmp_path: Path) -> Path:
    place = tmp_path / "shop.db"
    take_in(folder, place, "Ann").close()
    return place


@pytest.fixture
def of_store(job: Job, store: Path) -> TestClient:
    return TestClient(create_app(job.work, job.plan, job.shop, store))


def answers(client: TestClient, question: dict) -> list[dict]:
    return parts_of(client, client.post("/api/date", json=question).json()["run"])


def parts_of(client: TestClient, run: int) -> list[dict]:
    """What a run has handed out, once it is done."""
    while (now := client.get(f"/api/runs/{run}").json())["state"] == "running":
        time.sleep(0.05)
    assert now["state"] == "done", now["failure"]
    return now["parts"]


def test_each_answer_comes_at_once_and_then_with_its_chances(client: TestClient) -> None:
    parts = answers(client, QUESTION)
    behind = [p["reply"] for p in parts if p.get("way") == "behind everything"]
    assert [bool(reply["safe"]) for reply in behind] == [False, True]
    assert behind[0]["ready"] == behind[1]["ready"]
    assert behind[1]["why"]["sentence"].startswith("The enquiry (30 of GR-120) is ready")
    assert parts[-1]["all"]["assumptions"]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"part": "GR-12O"}, "Did you mean 'GR-120'?"),
        ({"pieces": 0}, "greater than or equal to 1"),
        ({"wanted": "2026-01-01"}, "before the plan start"),
        ({"part": "N-1", "like": "nothing"}, "There is no made part 'nothing'"),
        ({"wanted": "soon"}, "wanted"),
    ],
)
def test_a_wrong_question_is_told_at_once(client: TestClient, changes: dict, words: str) -> None:
    found = client.post("/api/date", json={**QUESTION, **changes})
    assert found.status_code == 422
    assert words in found.json()["error"]["detail"]


def test_an_enquiry_is_kept_in_the_tables_and_the_plan_stays(client: TestClient, folder: Path) -> None:
    order = {**QUESTION, "number": "Q-1", "promise": "2026-05-04", "hold_until": "2026-04-20"}
    kept = client.post("/api/date/keep", json=order)
    assert kept.status_code == 200, kept.text
    assert read_shop(folder).orders["Q-1"].quantity == 30
    again = client.post("/api/date/keep", json=order)
    assert again.status_code == 422
    assert "Q-1" in again.json()["error"]["detail"]


def test_a_new_part_is_made_once_and_where_to_plan_is_said(
    client: TestClient, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = []

    def counted(*how: str) -> NewPart:
        made.append(how)
        return like(*how)

    monkeypatch.setattr("web.date.like", counted)
    kept = client.post("/api/date/keep", json={**QUESTION, "part": "N-1", "like": "GR-120", "number": "Q-2"})
    assert kept.status_code == 200, kept.text
    assert len(made) == 1
    assert "N-1" in read_shop(folder).parts
    assert "with --keep" in kept.json()["note"]


def test_in_a_store_it_is_planned_from_the_today_page(of_store: TestClient) -> None:
    kept = of_store.post("/api/date/keep", json={**QUESTION, "number": "Q-3", "who": "Ann"})
    assert kept.status_code == 200, kept.text
    assert "waits to be accepted on the Today page" in kept.json()["note"]
    assert "--keep" not in kept.json()["note"]


def test_the_answer_that_is_chosen_is_kept_as_it_was_told(of_store: TestClient, store: Path) -> None:
    run = of_store.post("/api/date", json=QUESTION).json()["run"]
    told = {p["reply"]["way"]: p["reply"] for p in parts_of(of_store, run) if p.get("reply")}
    assert set(told) > {"behind everything"}
    way = next(way for way in told if way != "behind everything" and told[way]["pieces"] == 30)
    kept = of_store.post("/api/date/keep", json={**QUESTION, "number": "Q-4", "who": "Ann", "run": run, "answer": way})
    assert kept.status_code == 200, kept.text
    assert f"{way}, as told here" in kept.json()["note"]
    with Store(store) as opened:
        waiting = opened.waiting()
        assert waiting is not None
        with_it = stored_job(opened, waiting)
    (row,) = (o for o in orders(with_it.work, with_it.plan) if o.order == "Q-4")
    assert row.expected == told[way]["ready"]


def test_an_answer_that_is_not_there_is_not_kept_as_another(client: TestClient, folder: Path) -> None:
    before = (folder / "orders.csv").read_bytes()
    kept = client.post("/api/date/keep", json={**QUESTION, "number": "Q-5", "answer": "by the wanted date"})
    assert kept.status_code == 422
    assert "Ask again" in kept.json()["error"]["detail"]
    assert (folder / "orders.csv").read_bytes() == before


def test_an_order_that_is_kept_is_said_to_be_so_where_its_plan_is_refused(
    of_store: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_how: Any) -> None:
        raise PlanRefused([])

    monkeypatch.setattr("web.date.answer_job", refused)
    kept = of_store.post("/api/date/keep", json={**QUESTION, "number": "Q-3", "who": "Ann"})
    assert kept.status_code == 200, kept.text
    assert "plan from now on the Today page" in kept.json()["note"]


def test_asking_writes_nothing(client: TestClient, folder: Path) -> None:
    before = {file.name: file.read_bytes() for file in folder.iterdir()}
    answers(client, QUESTION)
    assert {file.name: file.read_bytes() for file in folder.iterdir()} == before


def test_ways_to_have_an_enquiry_sooner_are_planned(client: TestClient) -> None:
    page = client.get("/sooner?part=GR-120&pieces=30&by=2026-03-24").text
    assert "30 of GR-120" in page
    run = client.post("/api/sooner", json={"part": "GR-120", "pieces": 30, "by": "2026-03-24", "seconds": 1}).json()[
        "run"
    ]
    assert parts_of(client, run)[-1]["all"]
    wrong = client.post("/api/sooner", json={"part": "GR-12O", "pieces": 30, "by": "2026-03-24"})
    assert wrong.status_code == 422 and "GR-120" in wrong.json()["error"]["detail"]


def test_a_longer_look_can_be_chosen(client: TestClient) -> None:
    page = client.get("/date").text
    offered = re.findall(r'<option value="([\d.]+)"', page.split('name="seconds"')[1].split("</select>")[0])
    assert [float(seconds) for seconds in offered] == [SECONDS, 30, 120]
    assert client.post("/api/date", json={**QUESTION, "seconds": 121}).status_code == 422
    started = client.post("/api/date", json={**QUESTION, "seconds": offered[-1]})
    assert started.status_code == 200
    assert client.post(f"/api/runs/{started.json()['run']}/stop").status_code == 200


def test_without_the_tables_the_page_says_so(job: Job) -> None:
    bare = TestClient(create_app(job.work, job.plan))
    assert "without the shop's tables" in bare.get("/date").text
    assert bare.post("/api/date", json=QUESTION).status_code == 409


def test_in_a_browser_answers_appear_and_fit(chromium: Browser, job: Job, folder: Path) -> None:
    with served(create_app(job.work, job.plan, job.shop, folder)) as base, watched(chromium, base, NARROW) as page:
        page.goto(f"{base}/date")
        page.fill("[name=part]", "GR-120")
        page.fill("[name=wanted]", "2026-03-25")
        assert float(page.input_value("[name=seconds]")) == SECONDS
        page.evaluate("document.querySelector('[name=seconds]').options[0].value = '1'")
        with page.expect_request("**/api/date") as sent:
            page.click("button.main")
        assert sent.value.post_data_json["seconds"] == 1
        page.wait_for_selector("#status:has-text('Answered')", timeout=60_000)
        assert page.locator(".answer[data-way='behind everything'] svg .bar").count() > 0
        assert page.locator("#assumptions li").count() > 0
        shown = "chart => chart.getBoundingClientRect().width / chart.viewBox.baseVal.width"
        for size in (WIDE, NARROW):
            fits_at(page, size, "date-answers")
            assert page.eval_on_selector(".answer svg.ways", shown) > 0.8  # its words can be read
        page.fill("[name=number]", "Q-7")
        page.fill("[name=hold_until]", "2026-04-20")
        page.click("text=Write it into the tables")
        page.wait_for_selector("#kept:has-text('Q-7')")
        shot(page, "date")
    assert "Q-7" in read_shop(folder).orders


STEP = {
    "operation": "10",
    "description": "turn",
    "kind": "machine",
    "group": "lathes",
    "setup_min": "30",
    "cycle_sec": "60",
}


def test_steps_of_a_new_part_are_typed_in_and_checked(client: TestClient) -> None:
    parts = answers(client, {**QUESTION, "part": "N-9", "steps": [STEP]})
    assert any(p.get("reply", {}).get("used") for p in parts)
    own = parts[-1]["all"]["own"]
    assert set(own) == {p["way"] for p in parts if "reply" in p}
    wrong = client.post(
        "/api/date", json={**QUESTION, "part": "N-9", "steps": [{**STEP, "group": "lahtes", "cycle_sec": "x"}]}
    )
    assert wrong.status_code == 422
    assert all(words in wrong.json()["error"]["detail"] for words in ("the steps, row 1", "group", "cycle_sec"))
    strange = client.post("/api/date", json={**QUESTION, "part": "N-9", "steps": [{**STEP, "moov_min": "5"}, STEP]})
    assert strange.status_code == 422
    assert all(
        words in strange.json()["error"]["detail"]
        for words in ("Did you mean 'move_min'", "the steps, row 2, column 'operation'")
    )
    both = client.post("/api/date", json={**QUESTION, "part": "N-9", "like": "GR-120", "steps": [STEP]})
    assert both.status_code == 422


def test_in_a_browser_steps_are_typed_in(chromium: Browser, job: Job, folder: Path) -> None:
    with served(create_app(job.work, job.plan, job.shop, folder)) as base, watched(chromium, base, NARROW) as page:
        page.goto(f"{base}/date")
        page.fill("[name=part]", "N-9")
        page.click("summary:has-text('steps of its own')")
        page.click("#add-step")
        for column, text in STEP.items():
            if column != "kind":
                page.fill(f"#steps [data-column={column}]", text)
        page.evaluate("document.querySelector('[name=seconds]').options[0].value = '1'")
        page.click("button.main")
        page.wait_for_selector("#status:has-text('Answered')", timeout=60_000)
        assert page.locator(".answer").count() > 0
        assert page.locator("text=worked out for parts of the tables only").count() == 1
        for size in (NARROW, WIDE):
            fits_at(page, size, "date-steps")
