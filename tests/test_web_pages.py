"""Pages and their JSON documents without a browser: what they say, and that they say the same."""

from __future__ import annotations

import re
import time
from dataclasses import replace
from html import escape, unescape
from pathlib import Path

import pytest
from builders import ShopBuilder
from fastapi.testclient import TestClient
from web_fixtures import HOSTILE, made_plan, made_work

from planner.answers.proposals import SPLIT_CAUTION
from planner.faults import Fault
from planner.intake import read_shop
from planner.plan import Cost
from planner.search import search
from planner.work import Change, Proposal
from web.app import create_app, create_fault_app
from web.templating import BAR

PLACES = [place for places in BAR.values() for place in places]
WORK = made_work()
PLAN = made_plan(WORK)
SAMPLE = Path(__file__).resolve().parent.parent / "sample_shop"


@pytest.fixture(scope="module")
def client() -> TestClient:
    return TestClient(create_app(WORK, PLAN))


@pytest.mark.parametrize("place", PLACES, ids=lambda p: p.path)
def test_every_place_of_the_navigation_is_a_page_and_marks_itself(client: TestClient, place) -> None:
    answer = client.get(place.path)
    assert answer.status_code == 200
    assert f'href="{place.path}" aria-current="page"' in answer.text


def test_every_json_document_of_the_index_answers(client: TestClient) -> None:
    """The footer's link lists them all, with the description of their shapes."""
    index = client.get("/api").json()
    assert {"summary", "plan", "load", "limits", "months", "quantities", "orders", "lists", "kits", "vans"} <= set(
        index
    )
    for address in index.values():
        asked = address.replace("{op}", "0").replace("{name:path}", WORK.orders[0].number)
        assert client.get(asked).status_code == 200


def test_the_description_names_every_document(client: TestClient) -> None:
    paths = client.get("/openapi.json").json()["paths"]
    assert {f"/api/{n}" for n in ("summary", "plan", "load", "orders", "lists", "kits", "vans")} <= set(paths)


def test_there_are_no_documentation_pages_from_elsewhere(client: TestClient) -> None:
    assert {client.get(path).status_code for path in ("/docs", "/redoc")} == {404}


def test_every_answer_forbids_loading_from_elsewhere(client: TestClient) -> None:
    for address in ("/", "/load", "/api/orders", "/static/site.css", "/nowhere"):
        policy = client.get(address).headers["content-security-policy"]
        assert "default-src 'none'" in policy and "script-src 'self'" in policy


@pytest.mark.parametrize("address", ["/", "/orders", "/lists?day=", "/kits", "/vans", "/load"])
def test_names_are_shown_as_they_are_and_never_run(client: TestClient, address: str) -> None:
    """A part is named with markup in it."""
    text = client.get(address).text
    assert HOSTILE not in text
    if address in ("/lists?day=", "/orders"):
        assert HOSTILE in unescape(text)


def test_the_orders_page_has_the_rows_of_its_document(client: TestClient) -> None:
    rows = client.get("/api/orders").json()
    shown = re.findall(r'href="/plan\?order=([^"]+)"', client.get("/orders").text)
    assert shown == [r["order"] for r in rows]
    assert client.get("/orders").text.count('<tr class="late">') == sum(r["late"] for r in rows)


def test_the_summary_counts_what_the_orders_say(client: TestClient) -> None:
    told, rows = client.get("/api/summary").json(), client.get("/api/orders").json()
    assert told["orders_late"] == sum(r["late"] for r in rows) > 0
    assert told["orders_late"] + told["orders_on_time"] == len(rows)
    assert f"{told['orders_late']} are late" in client.get("/").text


def test_load_cells_are_the_document_s_percentages(client: TestClient) -> None:
    view = client.get("/api/load").json()
    text = client.get("/load").text
    for line in view["machines"]:
        row = text[text.index(f'nowrap">{line["name"]}</th>') :]
        cells = re.findall(r'<td class="num">([^<\s]+)', row[: row.index("</tr>")])
        assert cells == ["shut" if c["percent"] is None else f"{c['percent']:.0f}" for c in line["weeks"]]


@pytest.mark.parametrize("view", ["planned", "latest", "backlog"])
@pytest.mark.parametrize("by", ["week", "day"])
def test_load_is_shown_in_three_ways_by_week_and_by_day(client: TestClient, view: str, by: str) -> None:
    """Every cell of the document is in the table; periods have a heading each; a wrong way is a clear fault."""
    data = client.get(f"/api/load?view={view}&by={by}").json()
    text = client.get(f"/load?view={view}&by={by}").text
    assert (data["view"], data["by"], len(data["weeks"])) == (view, by, len(data["headings"]))
    for line in data["machines"]:
        assert [c["week"] for c in line["weeks"]] == data["weeks"]
    assert text.count('<td class="num">') >= sum(len(line["weeks"]) for line in data["machines"])
    assert ("Use of machines and groups" in text) == (view == "planned")
    assert client.get(f"/load?view=hoped&by={by}").status_code == 422


def test_limits_page_shows_every_week_and_who_pays(client: TestClient) -> None:
    found = client.get("/api/limits").json()
    text = client.get("/limits").text
    assert found["savings"] is None and "Work it out" in text
    for top in found["tops"]:
        assert top["week"] in text and escape(top["by_load"]) in text
    for paid in found["paid"]:
        assert all(o["order"] in text for o in paid["orders"])
    assert "An estimate for the long run" in text


def test_what_more_would_save_is_a_run_and_then_on_the_page() -> None:
    """On a shop of its own, so that other tests see the page without it."""
    client = TestClient(create_app(WORK, PLAN))
    run = client.post("/api/limits/savings", json={"seconds": 1, "most": 1}).json()["run"]
    for _ in range(600):
        now = client.get(f"/api/runs/{run}").json()
        if now["state"] != "running":
            break
        time.sleep(0.1)
    assert now["state"] == "done", now
    savings = now["parts"][0]["limits"]["savings"]
    assert len(savings["found"]) == 1 and savings["noise"] >= 0
    assert "planned twice with the same effort" in client.get("/limits").text
    assert client.get("/api/limits").json()["savings"]["base"] == savings["base"]
    assert client.post("/api/limits/savings", json={"seconds": 0, "most": 2}).status_code == 422


def test_longer_views_need_the_tables(client: TestClient) -> None:
    for name in ("months", "quantities"):
        assert "made without the shop&#39;s tables" in client.get(f"/{name}").text
        assert client.get(f"/api/{name}").json() is None


def test_months_and_quantities_are_the_documents_figures() -> None:
    """Of the sample shop: each group and month, each part."""
    shop = read_shop(SAMPLE)
    client = TestClient(create_app(WORK, PLAN, shop))
    data, text = client.get("/api/months").json(), client.get("/months").text
    assert all(m in text for m in data["months"]) and all(p["part"] in text for p in data["products"])
    assert len(re.findall(r'<td class="num[^"]*" title=', text)) == len(data["loads"])
    data, text = client.get("/api/quantities").json(), client.get("/quantities").text
    for part in data["parts"]:
        assert f'data-part="{part["part"]}"' in text
        assert f"<b>{part['suggested']:,}</b>" in text
    assert "Access-Control-Allow-Origin" not in client.get("/quantities").headers


def test_lists_cover_every_step_on_a_machine_once(client: TestClient) -> None:
    tasks = client.get("/api/lists").json()
    held = [s for s in PLAN.steps if s.machine is not None]
    assert len(tasks) == len(held)
    assert client.get("/lists?day=").text.count('<td class="num">') == 2 * len(held)


def test_lists_and_operations_say_the_same_of_how_long_they_can_wait(client: TestClient) -> None:
    free = [t for t in client.get("/api/lists").json() if t["at_the_latest_min"] is not None]
    assert free
    places = {(t["batch"], t["operation"]): t["at_the_latest_min"] for t in free}
    for index in range(0, len(WORK.operations), 20):
        page = client.get(f"/api/operations/{index}").json()
        batch, number = page["title"].split(":")[0].split(" step ")
        facts = {f["name"]: f["text"] for f in page["facts"]}
        assert ("At the latest" in facts) == ((batch, int(number)) in places) or "Collected" in facts
        assert ("At the latest" in facts) == ("No need before" in facts)


def test_a_list_can_be_of_one_machine_and_one_day(client: TestClient) -> None:
    one = client.get("/api/lists", params={"who": "machine:lathe 1", "day": "2026-03-24"}).json()
    assert one and {t["machine"] for t in one} == {"lathe 1"}
    page = client.get("/lists", params={"who": "machine:lathe 1", "day": "2026-03-24"}).text
    assert page.count('class="sheet"') == 1


def test_a_person_s_list_names_only_that_person(client: TestClient) -> None:
    one = client.get("/api/lists", params={"who": "person:Ada"}).json()
    assert one and {t["person"] for t in one} == {"Ada"}


def test_a_list_opens_as_a_spreadsheet(client: TestClient) -> None:
    answer = client.get("/lists.csv", params={"who": "people"})
    assert answer.headers["content-type"].startswith("text/csv")
    assert answer.content.startswith(b"\xef\xbb\xbfperson,start,end,")


@pytest.mark.parametrize(
    ("address", "words"),
    [
        ("/lists?who=machine:lathe 99", "no machine lathe 99"),
        ("/lists?who=person:Zed", "no person Zed"),
        ("/lists?who=groups", "by machine or person"),
        ("/lists?day=tomorrow", "tomorrow is not a day"),
        ("/lists?day=2026-02-30", "2026-02-30 is not a day"),
        ("/lists?day=9999-12-31", "9999-12-31 is not a day"),
        ("/lists?day=0001-01-01", "0001-01-01 is not a day"),
        ("/nowhere", "Nothing is at /nowhere"),
    ],
)
def test_a_wrong_address_says_what_is_wrong(client: TestClient, address: str, words: str) -> None:
    answer = client.get(address)
    assert answer.status_code == 404
    assert words in unescape(answer.text) and "Traceback" not in answer.text


def test_an_operation_of_another_plan_is_not_shown_beside_a_chart(client: TestClient) -> None:
    """The page may be open while somebody accepts another plan: the same number is another operation there."""
    data = client.get("/api/plan").json()
    op = data["bars"][0]["op"]
    assert client.get(f"/api/operations/{op}?plan={data['plan']}").json() == client.get(f"/api/operations/{op}").json()
    other = client.get(f"/api/operations/{op}?plan=0123456789abcdef")
    assert other.status_code == 409
    assert "load the page again" in other.json()["error"]["detail"]


def test_an_unknown_operation_is_not_found_in_plain_words(client: TestClient) -> None:
    answer = client.get(f"/api/operations/{len(WORK.operations)}")
    assert answer.status_code == 404
    assert "error" in answer.json()


def test_an_operation_that_is_no_number_is_a_wrong_question(client: TestClient) -> None:
    assert client.get("/api/operations/first").status_code == 422


def test_a_plan_without_late_orders_outside_work_or_kits_says_so() -> None:
    shop = ShopBuilder().batch("B1", pieces=10).op("mill", 10, 60)
    work = shop.order("O1", "B1", due=100_000).build()
    client = TestClient(create_app(work, search(work, trials=5)))
    assert "The one order is ready on time" in client.get("/").text
    assert "Nothing in this plan goes out" in client.get("/vans").text
    assert "No batch in this plan is put together" in client.get("/kits").text


def test_faults_in_the_tables_are_the_only_page() -> None:
    """With file, row, column, value, what was expected and how to mend it, escaped."""
    fault = Fault("orders.csv", 7, "due", "<b>soon</b>", "an ISO date", "Write 2027-07-05.")
    client = TestClient(create_fault_app([fault]))
    for place in PLACES:
        answer = client.get(place.path)
        assert answer.status_code == 503
        assert "orders.csv, row 7, column due" in answer.text
        assert "<b>soon</b>" not in answer.text and "<b>soon</b>" in unescape(answer.text)
    assert client.get("/api/plan").json()["error"]["faults"][0]["row"] == 7


def test_the_summary_lists_batch_proposals_with_their_caution() -> None:
    """In the document and on the page the same; a plan without any has no such section."""
    saved = Cost(3330, 0, 0, -300, 0)
    halves = (
        ShopBuilder()
        .batch("B7/1", pieces=20, part="PIN")
        .op("L1", setup=30)
        .batch("B7/2", pieces=20, part="PIN")
        .op("L2", setup=30)
    )
    plain = halves.order("O7", "B7/1", "B7/2", due=1000).build()
    proposal = Proposal(Change.SPLIT, "PIN", ("B7",), (20, 20), saved, (("O7", 2880),))
    work = replace(plain, proposals=(proposal,))
    client = TestClient(create_app(work, search(work, trials=1)))
    (row,) = client.get("/api/summary").json()["proposals"]
    assert row["text"].startswith(
        "B7 (B7/1 PIN, 40 pieces) is run as 20 on L1 and 20 on L2: order O7 ready 2.0 days earlier"
    )
    page = unescape(client.get("/").text)
    assert "Batch proposals (1)" in page
    assert row["text"] in page
    assert page.count(SPLIT_CAUTION) == 2  # with the proposal and among the cautions
    assert "Batch proposals" not in TestClient(create_app(plain, search(plain, trials=1))).get("/").text
