"""What is served in place of a plan when the tables have faults, from the folder to the browser; and other failures."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from intake_folders import Folder, put
from page_server import NARROW, WIDE, fits_sideways, served, shot
from playwright.sync_api import Browser, expect
from typer.testing import CliRunner
from web_fixtures import made_plan, made_work

from planner.cli import serving
from planner.cli.commands import app as command
from planner.faults import Fault
from web.app import create_app, create_fault_app
from web.errors import add_handlers
from web.templating import BAR

PLACES = [place for places in BAR.values() for place in places]

HOSTILE = "<script>alert(1)</script>"
SPOILT = (put("orders", 2, "part", "GR-999"), put("orders", 3, "due", "24/4/26"), put("machines", 3, "group", HOSTILE))


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    """The tiny shop with three cells spoilt."""
    return Folder(tmp_path / "shop").edit(*SPOILT)


@pytest.fixture
def faults(folder: Folder) -> tuple[Fault, ...]:
    found = folder.faults()
    assert {"GR-999", "24/4/26", HOSTILE} <= {f.value for f in found}
    return found


@pytest.fixture
def client(faults: tuple[Fault, ...]) -> TestClient:
    return TestClient(create_fault_app(faults))


# --- faults in the tables ------------------------------------------------------------------------


def test_serve_answers_with_a_page_of_faults(folder: Folder, monkeypatch: pytest.MonkeyPatch) -> None:
    """The command itself, but for serving for ever."""
    apps: list = []
    monkeypatch.setattr(serving, "run_server", lambda app, host, port: apps.append(app))
    result = CliRunner().invoke(command, ["serve", str(folder.path), "--port", "0"])
    assert result.exit_code == 1
    answer = TestClient(apps[0]).get("/")
    assert answer.status_code == 503
    assert "GR-999" in answer.text and "Traceback" not in answer.text


def test_every_fault_has_its_place_value_and_how_to_mend_it(client: TestClient, faults: tuple[Fault, ...]) -> None:
    text = unescape(client.get("/").text)
    for fault in faults:
        assert f"{fault.file}, row {fault.row}, column {fault.column}" in text
        assert fault.value in text and fault.expected in text and fault.mend in text


def test_values_with_markup_are_text(client: TestClient) -> None:
    text = client.get("/").text
    assert HOSTILE not in text
    assert HOSTILE in unescape(text)


@pytest.mark.parametrize("path", ["/", "/plan", "/orders", "/nowhere", "/openapi.html"])
def test_no_address_shows_a_plan(client: TestClient, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 503
    assert "Nothing was planned" in answer.text


def test_no_page_is_offered_where_there_is_none(client: TestClient) -> None:
    for answer in (client.get("/"), client.get("/plan"), client.post("/orders")):
        linked = set(re.findall(r'<a [^>]*href="([^"]*)"', answer.text))
        assert linked == {"#main", "/", "/api"}
        assert "<nav" not in answer.text and "aria-current" not in answer.text


def test_a_page_that_there_is_not_still_leads_to_those_there_are() -> None:
    client = TestClient(create_app(made_work(30), made_plan(made_work(30))))
    text = client.get("/nowhere").text
    assert all(f'<li><a href="{place.path}">{place.title}</a></li>' in text for place in PLACES)


@pytest.mark.parametrize("path", ["/api", "/api/plan", "/api/operations/3"])
def test_below_api_the_faults_are_a_document(client: TestClient, faults: tuple[Fault, ...], path: str) -> None:
    answer = client.get(path, headers={"accept": "text/html"})
    assert answer.status_code == 503
    assert [f["value"] for f in answer.json()["error"]["faults"]] == [f.value for f in faults]


def test_an_address_that_only_begins_like_api_is_a_page(client: TestClient) -> None:
    assert client.get("/apiary").headers["content-type"].startswith("text/html")


@pytest.mark.parametrize(
    ("rows", "words"),
    [((2,), "1 thing to mend in 1 table."), ((2, 3), "2 things to mend in 1 table.")],
)
def test_the_count_is_said(rows: tuple[int, ...], words: str) -> None:
    found = [Fault("orders.csv", row, "due", "soon", "an ISO date", "Write 2027-07-05.") for row in rows]
    assert words in TestClient(create_fault_app(found)).get("/").text


def test_a_fault_of_a_whole_file_names_no_row_and_an_empty_value_is_said() -> None:
    text = TestClient(create_fault_app([Fault("people.csv", None, "", "", "a table", "Add it.")])).get("/").text
    assert "<h2>people.csv</h2>" in text
    assert "(empty)" in text


@pytest.mark.parametrize("size", [WIDE, NARROW], ids=["wide", "narrow"])
def test_the_fault_page_fits_the_window(chromium: Browser, faults: tuple[Fault, ...], size: tuple[int, int]) -> None:
    window = {"width": size[0], "height": size[1]}
    with served(create_fault_app(faults)) as base, chromium.new_page(viewport=window) as page:
        page.goto(base)
        expect(page.locator(".faults > li")).to_have_count(len(faults))
        assert fits_sideways(page)
        shot(page, "failure")


# --- other failures ------------------------------------------------------------------------------


def test_a_fault_of_the_program_shows_no_trace() -> None:
    app = create_fault_app(())
    app.router.routes.clear()
    add_handlers(app)

    @app.get("/")
    def broken() -> None:
        raise ZeroDivisionError("a secret of the program")

    client = TestClient(app, raise_server_exceptions=False)
    page, document = client.get("/"), client.get("/", headers={"accept": "application/json"})
    assert page.status_code == document.status_code == 500
    assert "A fault in the program" in page.text
    assert document.json()["error"]["title"] == "A fault in the program"
    assert "secret" not in page.text + document.text


def test_a_wrong_method_is_said_to_be_so(client: TestClient) -> None:
    answer = client.post("/orders")
    assert answer.status_code == 405
    assert "Not possible here" in answer.text
