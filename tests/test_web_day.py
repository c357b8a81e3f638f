"""The day on pages: what needs a look, bookings with a thumb, plans accepted; and nothing of it for a folder."""

from __future__ import annotations

import shutil
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import run_tasks
from days import Day, at
from fastapi.testclient import TestClient
from intake_folders import TINY_SHOP
from page_server import NARROW, WIDE, fits_at, fits_sideways, served, shot, watched
from playwright.sync_api import Browser, Page

from planner.day import acceptance, clock
from planner.store import Note, Store, Writing
from planner.store.folder import take_in
from planner.verify import verify
from web.app import create_store_app


@pytest.fixture(scope="module")
def accepted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("day") / "shop.db"
    with take_in(TINY_SHOP, place, "Ann") as store:
        Day(store, place).plan("08:00", accept=True)
    return place


@pytest.fixture
def shop(accepted: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Day]:
    """It is half past nine on the day on which the plan starts."""
    monkeypatch.setattr(clock, "wall_clock", lambda _: at("09:30"))
    place = Path(shutil.copy(accepted, tmp_path / "shop.db"))
    with Store(place) as store:
        yield Day(store, place)


@pytest.fixture
def client(shop: Day) -> TestClient:
    return TestClient(create_store_app(shop.store))


def test_today_says_what_is_late_and_what_is_not_booked(shop: Day, client: TestClient) -> None:
    shop.book("good", "B-1", 10, "09:00", good=1)
    shop.happen("down", "L2", "16:00", until=shop.shop.settings.plan_start.replace(hour=16, minute=30))
    now = client.get("/api/today").json()
    assert now["now"] == "2026-03-23 16:00"
    assert [(s["batch"], s["operation"]) for s in now["missing"] if s["what"] == "should be done"][:1] == [("B-1", 10)]
    assert {e["what"] for e in now["entries"]} >= {"good", "down"}
    waiting = {whom["kind"]: whom["waits"] for whom in now["waiting"]}
    assert {"since", "until", "behind", "order", "late", "binds"} <= waiting["machine"][0].keys()
    page = client.get("/today").text
    assert "What waits for whom" in page and f"{waiting['machine'][0]['batch']} op" in page
    assert "should be done" in page and "L2 is down" in page
    assert 'href="/today"' in client.get("/").text


def test_a_station_has_what_is_on_it_and_what_comes_next(client: TestClient) -> None:
    on_l1 = client.get("/api/stations/L1").json()
    assert [(s["batch"], s["good"], s["left"], s["bookings"][0]) for s in on_l1["now"]] == [("B-1", 22, 27, "good")]
    on_m1 = client.get("/api/stations/M1").json()
    assert on_m1["now"][0]["bookings"] == ["setup done", "stop"]
    ready = {(s["batch"], s["operation"]): s for s in on_m1["next"]}
    assert ready["B-1", 20]["waits"] == "waits for operation 10"
    assert client.get("/api/stations/M9").status_code == 404
    assert client.get("/booking?at=M9").status_code == 404


def test_a_booking_is_entered_and_one_that_cannot_be_is_told(shop: Day, client: TestClient) -> None:
    booking = {"what": "good", "batch": "B-1", "operation": 10, "who": "Ben", "good": 3}
    assert client.post("/api/bookings", json=booking).json()["words"] == "3 pieces good of batch B-1 operation 10."
    assert (shop.step("B-1", 10)["good"], shop.store.entries()[-1].who) == ("25", "Ben")
    refused = client.post("/api/bookings", json={**booking, "good": 99})
    assert (refused.status_code, "99 more is too many" in refused.json()["error"]["detail"]) == (409, True)
    assert client.post("/api/bookings", json={**booking, "what": "tea"}).status_code == 422
    for nobody in ("", "   ", "\x00", "Ben\nAnn", "\u200b\x1f"):
        assert client.post("/api/bookings", json={**booking, "who": nobody}).status_code == 422
    assert client.post("/api/undo", json={"who": "Ben"}).status_code == 200
    assert shop.step("B-1", 10)["good"] == "22"
    assert client.post("/api/undo", json={"who": "Ben"}).status_code == 409


def test_what_is_sent_again_because_no_answer_came_is_entered_once(shop: Day, client: TestClient) -> None:
    booking = {"what": "good", "batch": "B-1", "operation": 10, "who": "Ben", "good": 3, "sent": "k1-x"}
    assert client.post("/api/bookings", json={**booking, "good": 99}).status_code == 409  # nothing came of that
    told = [client.post("/api/bookings", json=booking).json() for _ in range(2)]
    assert told[0] == told[1]
    assert shop.step("B-1", 10)["good"] == "25"
    client.post("/api/bookings", json={**booking, "sent": "k2-x"})
    assert shop.step("B-1", 10)["good"] == "28"
    for _ in range(2):
        client.post("/api/undo", json={"who": "Ben", "sent": "k3-x"})
    assert shop.step("B-1", 10)["good"] == "25"


def test_who_is_setting_elsewhere_cannot_start_another_step(shop: Day, client: TestClient) -> None:
    (step,) = (s for s in client.get("/api/stations/L2").json()["next"][:1])
    booking = {"what": "start", "batch": step["batch"], "operation": step["operation"], "machine": "L2", "who": "Ben"}
    refused = client.post("/api/bookings", json={**booking, "person": "Ada"})
    assert (refused.status_code, "Ada is setting batch B-2" in refused.json()["error"]["detail"]) == (409, True)
    assert client.post("/api/bookings", json={**booking, "person": "Ben"}).status_code == 200


def ended(client: TestClient, run: int) -> dict[str, Any]:
    while (now := client.get(f"/api/runs/{run}").json())["state"] == "running":
        time.sleep(0.05)
    return now


def test_a_plan_is_made_accepted_and_then_shown(shop: Day, client: TestClient) -> None:
    shop.happen("down", "M1", "09:00", until=shop.shop.settings.plan_start.replace(day=26))
    before = client.get("/api/lists").json()
    run = client.post("/api/replan", json={"who": "Ann", "seconds": 0.5}).json()["run"]
    now = ended(client, run)
    assert now["state"] == "done", now["failure"]
    assert now["parts"][0]["words"]
    assert client.get("/api/lists").json() == before
    assert "waits for a decision" in client.get("/today").text
    assert client.post("/api/accept", json={"who": "Ann", "number": now["parts"][0]["plan"]}).status_code == 200
    assert client.get("/api/lists").json() != before
    assert client.post("/api/unaccept", json={"who": "Ann"}).status_code == 200
    assert client.get("/api/lists").json() == before


def test_a_plan_that_is_stopped_is_kept_as_good_as_it_is(shop: Day, client: TestClient) -> None:
    run = client.post("/api/replan", json={"who": "Ann", "seconds": 600}).json()["run"]
    while not client.get(f"/api/runs/{run}").json()["progress"]:
        time.sleep(0.02)
    client.post(f"/api/runs/{run}/stop")
    now = ended(client, run)
    assert (now["state"], now["parts"][0]["plan"]) == ("stopped", 2)
    assert client.post("/api/accept", json={"who": "Ann", "number": 2}).status_code == 200
    assert verify(shop.followed.work, shop.followed.plan) == []


def test_while_a_plan_is_made_pages_answer_and_another_is_refused(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("web.day.planned_from_now", run_tasks.held_plan)
    run = client.post("/api/replan", json={"who": "Ann"}).json()["run"]
    second = client.post("/api/replan", json={"who": "Ben"})
    assert (second.status_code, "is being worked out" in second.json()["error"]["detail"]) == (409, True)
    for page in ("/", "/today", "/booking?at=L1", "/plan"):
        assert client.get(page).status_code == 200
    assert (
        client.post(
            "/api/bookings", json={"what": "good", "batch": "B-1", "operation": 10, "who": "Ben", "good": 1}
        ).status_code
        == 200
    )
    assert client.get(f"/api/runs/{run}").json()["state"] == "running"
    client.post(f"/api/runs/{run}/stop")
    assert ended(client, run)["state"] == "stopped"


def test_an_event_is_entered_and_one_that_cannot_be_is_told(shop: Day, client: TestClient) -> None:
    event = {"what": "down", "subject": "L2", "until": "2026-03-23T12:00", "who": "Ben", "reason": "coolant"}
    assert (
        client.post("/api/events", json=event).json()["words"]
        == "L2 is down from 2026-03-23 09:30 to 2026-03-23 12:00."
    )
    assert (
        "There is no machine" in client.post("/api/events", json={**event, "subject": "L9"}).json()["error"]["detail"]
    )
    assert client.post("/api/events", json={**event, "what": "tea"}).status_code == 422


def test_a_decision_tells_what_it_breaks_and_changes(shop: Day, client: TestClient) -> None:
    """The assembly of O-2 is moved to a time at which its components are not there."""
    decision = {
        "what": "move",
        "batch": "O-2-1",
        "operation": 10,
        "machine": "A1",
        "until": "2026-03-24T08:00",
        "who": "Ben",
    }
    said = client.post("/api/decisions", json=decision).json()
    assert said["breaks"] and said["plan"] == 2 and said["changes"]
    assert "Plan 2 by Ben waits for a decision" in client.get("/today").text
    assert client.post("/api/decisions", json={**decision, "batch": "B-1"}).status_code == 409


def test_a_moment_in_another_zone_is_the_shop_s_own(shop: Day, client: TestClient) -> None:
    """On 31 March the shop has summer time: 10:00 in UTC is 11:00 there. Days without any such time are told."""
    event = {"what": "down", "subject": "L2", "until": "2026-03-31T10:00:59Z", "who": "Ben"}
    assert client.post("/api/events", json=event).json()["words"].endswith("to 2026-03-31 11:00.")
    decision = {"what": "hold", "batch": "O-2-1", "operation": 10, "until": "2026-03-31T12:00+02:00", "who": "Ben"}
    assert "not before 2026-03-31 11:00" in client.post("/api/decisions", json=decision).json()["words"]
    for beyond in ("0001-01-01T00:00+14:00", "9999-12-31T23:59-12:00", "9999-12-31T23:59"):
        for address, asked in (("/api/events", event), ("/api/decisions", decision)):
            assert client.post(address, json={**asked, "until": beyond}).status_code == 409, (address, beyond)


@pytest.mark.parametrize("number", [0, -1, 2**31, 2**63, 10**30, -(10**30)])
def test_a_number_that_nothing_has_is_told(client: TestClient, number: int) -> None:
    for address in ("/api/undo", "/api/accept", "/api/refuse"):
        assert client.post(address, json={"who": "Ben", "number": number}).status_code == 409, address


def test_with_no_accepted_plan_the_pages_say_so_and_plan(shop: Day, client: TestClient) -> None:
    """The only acceptance is taken back: every address says what to do, entries go on, and a plan can be made and accepted."""
    assert client.post("/api/unaccept", json={"who": "Ann"}).status_code == 200
    for address, status in (("/", 200), ("/today", 409), ("/booking?at=L1", 409)):
        page = client.get(address)
        assert (page.status_code, "No plan is accepted now" in page.text) == (status, True)
        assert "Accept plan 1" in page.text and "Plan from now" in page.text
    told = client.get("/api/lists")
    assert (told.status_code, "batchwright replan" in told.json()["error"]["detail"]) == (409, True)
    booking = {"what": "good", "batch": "B-1", "operation": 10, "who": "Ben", "good": 3}
    assert client.post("/api/bookings", json=booking).status_code == 200
    assert client.post("/api/unaccept", json={"who": "Ann"}).status_code == 409
    assert client.post("/api/refuse", json={"who": "Ann"}).status_code == 200
    assert "No plan waits for a decision" in client.get("/").text
    run = client.post("/api/replan", json={"who": "Ann", "seconds": 0.5}).json()["run"]
    while (now := client.get(f"/api/runs/{run}").json())["state"] == "running":
        time.sleep(0.05)
    assert now["state"] == "done", now["failure"]
    assert now["parts"][0] == {"plan": 2, "words": ["There is nothing to compare it with: no plan is accepted now."]}
    assert "Plan 2 by Ann waits for a decision." in client.get("/").text
    assert client.post("/api/accept", json={"who": "Ann", "number": 2}).status_code == 200
    assert client.get("/api/lists").status_code == 200
    assert client.get(f"/api/runs/{run}").json()["parts"] == now["parts"]


def test_a_store_that_was_just_made_is_served(tmp_path: Path) -> None:
    with take_in(TINY_SHOP, tmp_path / "new.db", "Ann") as store:
        page = TestClient(create_store_app(store)).get("/")
    assert (page.status_code, "No plan is accepted now" in page.text) == (200, True)


def test_an_accepted_plan_that_cannot_be_read_is_told_and_taken_back(shop: Day, client: TestClient) -> None:
    """As after a change of the program: the plan before is followed again with one button."""

    def keep_damaged(writing: Writing) -> Note:
        plan = writing.accepted()
        assert plan is not None
        number = writing.keep_plan(plan.document.replace("GR-1", "GR-2"), "Ann", plan.decided or 0)
        return Note("damaged", decides=(number, "accepted"))

    shop.store.write("Ann", at("09:00"), "plan", "accepted", keep_damaged)
    page = client.get("/")
    assert (page.status_code, "cannot be shown" in page.text, "Back to the plan before" in page.text) == (
        200,
        True,
        True,
    )
    assert client.get("/api/lists").status_code == 409
    assert client.post("/api/unaccept", json={"who": "Ann"}).status_code == 200
    assert client.get("/api/lists").status_code == 200
    today = client.get("/today")  # where the damaged one waits now
    assert (today.status_code, "cannot be read any more, so refuse it" in today.text) == (200, True)
    assert client.post("/api/refuse", json={"who": "Ann"}).status_code == 200


def test_a_store_that_cannot_be_used_just_now_is_told(shop: Day, client: TestClient, tmp_path: Path) -> None:
    """Its file is damaged for a while; pages are there again once it is not."""
    file = tmp_path / "shop.db"
    shop.store.close()
    good = file.read_bytes()
    for more in ("-wal", "-shm"):
        file.with_name(file.name + more).unlink(missing_ok=True)
    file.write_bytes(b"SQLite format 3\x00" + b"not really" * 500)
    found = client.get("/api/lists")
    assert (found.status_code, "shop.db" in found.json()["error"]["detail"]) == (503, True)
    assert "cannot be used just now" in client.get("/today").text
    assert client.post("/api/undo", json={"who": "Ann"}).status_code == 503
    shop.store.close()
    file.write_bytes(good)
    assert client.get("/today").status_code == 200


def test_a_run_goes_on_when_another_plan_is_accepted_meanwhile(shop: Day, client: TestClient) -> None:
    """Two browsers: one plans for long, the other accepts the plan that waits; the first still sees its run, and stops it."""
    shop.plan("09:00")
    run = client.post("/api/replan", json={"who": "Ann", "seconds": 60}).json()["run"]
    assert client.post("/api/accept", json={"who": "Ben", "number": 2}).status_code == 200
    assert client.get(f"/api/runs/{run}").json()["state"] == "running"
    assert client.post(f"/api/runs/{run}/stop").status_code == 200
    while (now := client.get(f"/api/runs/{run}").json())["state"] == "running":
        time.sleep(0.05)
    assert (now["state"], now["parts"][0]["plan"]) == ("stopped", 3)


# --- in a browser -------------------------------------------------------------------------------------


@pytest.fixture(params=[WIDE, NARROW], ids=["wide", "narrow"])
def page(request: pytest.FixtureRequest, shop: Day, chromium: Browser) -> Iterator[tuple[Page, str]]:
    with served(create_store_app(shop.store)) as address, watched(chromium, address, request.param) as found:
        yield found, address


@pytest.fixture
def phone(shop: Day, chromium: Browser) -> Iterator[tuple[Page, str]]:
    """A narrow window only, for what takes long; made wide at the end."""
    with served(create_store_app(shop.store)) as address, watched(chromium, address, NARROW) as found:
        yield found, address


def test_a_count_is_booked_with_a_thumb(page: tuple[Page, str], shop: Day) -> None:
    """Say a name, count, book; it is told on the page, and a wrong one is told too."""
    view, address = page
    view.goto(f"{address}/booking?at=L1")
    view.fill("#who", "Ben")
    view.fill("input[name=pieces]", "4")
    view.get_by_role("button", name="Good", exact=True).click()
    view.get_by_text("4 pieces good of batch B-1 operation 10.").wait_for()
    assert shop.step("B-1", 10)["good"] == "26"
    assert view.input_value("#who") == "Ben"
    assert fits_sideways(view)
    shot(view, "booking")


def test_a_count_whose_answer_is_lost_can_be_sent_again(shop: Day, chromium: Browser) -> None:
    """The shop gets it, the phone hears nothing: it says so, and what is sent again is counted once.

    The browser tells its console of the lost answer, so the page is not a watched one.
    """
    with served(create_store_app(shop.store)) as address:
        view = chromium.new_page(viewport={"width": NARROW[0], "height": NARROW[1]})
        view.goto(f"{address}/booking?at=L1")
        view.fill("#who", "Ben")
        view.fill("[name=pieces]", "2")
        good = view.get_by_role("button", name="Good", exact=True)
        view.route("**/api/bookings", lambda route: (route.fetch(), route.abort()))
        good.click()
        view.get_by_text("it is entered once only").wait_for()
        assert shop.step("B-1", 10)["good"] == "24"
        shot(view, "booking-no-answer")
        view.unroute("**/api/bookings")
        good.click()
        view.get_by_text("2 pieces good of batch B-1 operation 10.").wait_for()
        assert shop.step("B-1", 10)["good"] == "24"
        view.close()


def test_whoever_says_a_name_is_taken_to_start_a_step_themselves(page: tuple[Page, str], shop: Day) -> None:
    """Ben is early; he could have named somebody else."""
    view, address = page
    view.goto(f"{address}/booking?at=L2")
    view.fill("#who", "Ben")
    view.press("#who", "Tab")
    first = view.locator("form.book", has=view.get_by_role("button", name="Start")).first
    assert first.locator("select[name=person]").input_value() == "Ben"
    first.locator("select[name=person]").select_option("Ada")
    shot(view, "booking-by")
    first.locator("select[name=person]").select_option("Ben")
    first.get_by_role("button", name="Start").click()
    view.get_by_text("is outside the hours of Ben.").wait_for()
    assert [r["person"] for r in shop.store.sheets().rows("progress") if r["machine"] == "L2"][-1] == "Ben"
    assert fits_sideways(view)


def test_today_can_be_read_and_a_booking_undone_there(page: tuple[Page, str], shop: Day) -> None:
    shop.book("good", "B-1", 10, "09:00", good=1)
    view, address = page
    view.goto(f"{address}/today")
    assert fits_sideways(view)
    view.fill("#who", "Ann")
    shot(view, "today")
    view.get_by_role("button", name="Undo", exact=True).first.click()
    view.get_by_text("Undone: 1 piece good of batch B-1 operation 10.", exact=True).wait_for()
    assert shop.step("B-1", 10)["good"] == "22"


def test_a_plan_is_made_and_accepted_where_there_is_none(phone: tuple[Page, str], shop: Day) -> None:
    view, address = phone
    acceptance.undo_acceptance(shop.store, "Ann", at("09:00"))
    acceptance.refuse(shop.store, "Ann", at("09:00"))
    view.route("**/api/replan", lambda route: route.continue_(post_data={"who": "Ben", "seconds": 0.5}))
    view.goto(f"{address}/")
    view.fill("#who", "Ben")
    for size in (WIDE, NARROW):
        fits_at(view, size, "no-plan")
    view.get_by_role("button", name="Plan from now").click()
    view.locator("#status", has_text="Plan 2 waits for a decision.").wait_for(timeout=120_000)
    view.get_by_role("button", name="Accept plan 2").click()
    view.get_by_role("link", name="Today").wait_for()
    assert shop.followed.plan.complete


def test_what_happened_is_said_in_ten_seconds(page: tuple[Page, str], shop: Day) -> None:
    view, address = page
    view.goto(f"{address}/today")
    view.fill("#who", "Ben")
    view.get_by_text("Something happened").click()
    view.select_option("#event select[name=what]", "down")
    view.fill("#event input[name=subject]", "M1")
    view.fill("#event input[name=until]", "2026-03-26T16:00")
    assert not view.get_by_label("Pieces").is_visible()
    shot(view, "event")
    view.get_by_role("button", name="Enter it").click()
    view.locator("#status", has_text="M1 is down from 2026-03-23 09:30 to 2026-03-26 16:00.").wait_for()
    assert shop.row("downtime", machine="M1", reason="")["to"] == "2026-03-26 16:00"


def test_a_plan_whose_process_dies_is_told_and_another_can_be_made(
    phone: tuple[Page, str], shop: Day, monkeypatch: pytest.MonkeyPatch
) -> None:
    view, address = phone
    view.goto(f"{address}/today")
    view.fill("#who", "Ann")
    monkeypatch.setattr("web.day.planned_from_now", run_tasks.dying_plan)
    view.get_by_role("button", name="Plan from now").click()
    view.locator("#faults", has_text="ended before its time (code 7)").wait_for()
    assert not view.locator("#stop").is_visible()
    for size in (WIDE, NARROW):
        fits_at(view, size, "plan-died")
    monkeypatch.undo()
    monkeypatch.setattr(clock, "wall_clock", lambda _: at("09:30"))
    view.get_by_role("button", name="Plan from now").click()
    view.get_by_role("button", name="Stop").click()
    view.get_by_text("Plan 2 waits for a decision.").wait_for()
    assert [p.state for p in shop.store.plans()] == ["accepted", "waiting"]


def test_a_bar_is_dragged_and_the_plan_timed_again(shop: Day, chromium: Browser) -> None:
    """The first batch that is not begun on L1 goes a day to the right."""
    with served(create_store_app(shop.store)) as address, watched(chromium, address, WIDE) as view:
        view.goto(f"{address}/plan")
        view.locator("#chart[data-drawn=yes]").wait_for()
        view.fill("#who", "Ben")
        view.check("#move-drag")
        op = shop.followed.work.places["O-1/GR-110-1", 10]
        view.evaluate("op => window.planChart.bring(window.planChart.barOf.get(op), true)", op)
        box = view.evaluate("op => window.planChart.boxOf(op)", op)
        a_day = view.evaluate("1440 * window.planChart.layout.scale")
        x, y = box["x"] + min(4, box["width"] / 2), box["y"] + box["height"] / 2
        view.mouse.move(x, y)
        view.mouse.down()
        view.mouse.move(x + a_day / 2, y, steps=4)
        shot(view, "drag")
        view.mouse.move(x + a_day, y, steps=4)
        view.mouse.up()
        view.get_by_text("waits: look at it and decide").wait_for()
        shot(view, "dragged")
    pin = shop.row("pins", batch="O-1/GR-110-1", operation=10)
    assert (pin["machine"], pin["not_before"][:10]) == ("L1", "2026-03-24")
