"""Load, limits, months and quantities in a real Chromium: pictures that can be worked, without complaint."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from page_server import NARROW, WIDE, Kept, cleared, fits_at, fits_sideways, served
from playwright.sync_api import Page
from web_fixtures import made_plan, made_work

from planner.intake import read_shop
from web.app import create_app

SAMPLE = Path(__file__).resolve().parent.parent / "sample_shop"
DRAWN = "() => document.body.dataset.drawn === 'yes'"
COVERED = """() => [...document.querySelectorAll('.js-plotly-plot')].flatMap((plot) => {
    const legend = plot.querySelector('.legend .bg');
    const top = legend ? legend.getBoundingClientRect().top : Infinity;
    return [...plot.querySelectorAll('.xtick text, .xtitle')]
        .filter((text) => text.getBoundingClientRect().bottom > top + 1).map((text) => text.textContent);
})"""
"""What stands below an axis and has the legend over it."""


@pytest.fixture(scope="module")
def base() -> Iterator[str]:
    """A made-up plan; the months and quantities are those of the sample shop."""
    work = made_work()
    with served(create_app(work, made_plan(work), read_shop(SAMPLE))) as address:
        yield address


@pytest.fixture
def phone(used: Kept) -> Iterator[Page]:
    """In a narrow window."""
    with cleared(used, NARROW) as found:
        yield found


@pytest.mark.parametrize(
    "address", ["/load?view=latest&by=week", "/load?view=backlog&by=day", "/months", "/quantities", "/limits"]
)
def test_pages_fit_and_complain_of_nothing(phone: Page, base: str, address: str) -> None:
    name = f"capacity-{address.strip('/').replace('?', '-').replace('&', '-').replace('=', '-')}"
    phone.goto(base + address)
    phone.wait_for_load_state("networkidle")
    if address != "/limits":
        phone.wait_for_function(DRAWN)
    assert phone.locator("h1").count() == 1
    for size in (NARROW, WIDE):
        fits_at(phone, size, name)
        assert phone.evaluate(COVERED) == []


@pytest.mark.parametrize(
    ("address", "choice"),
    [
        ("/load?view=latest&by=week", "#machine"),
        ("/load?view=backlog&by=day", "#machine"),
        ("/months", ""),
        ("/quantities", "#part"),
    ],
)
def test_graphs_take_the_room_that_a_wider_window_gives(phone: Page, base: str, address: str, choice: str) -> None:
    """And show what was chosen before; in a window made narrow again the page fits too."""
    phone.goto(base + address)
    phone.wait_for_function(DRAWN)
    if choice:
        phone.select_option(choice, index=1)
        chosen, title = phone.input_value(choice), phone.text_content(".gtitle")
    phone.set_viewport_size({"width": WIDE[0], "height": WIDE[1]})
    phone.wait_for_function(
        "([width, height]) => [...document.querySelectorAll('.js-plotly-plot')].every("
        "box => box.clientHeight > height && box.querySelector('.main-svg').clientWidth > width)",
        arg=[WIDE[0] // 2, 200],
    )
    assert fits_sideways(phone)
    if choice:
        assert (phone.input_value(choice), phone.text_content(".gtitle")) == (chosen, title)
    phone.set_viewport_size({"width": NARROW[0], "height": NARROW[1]})
    phone.wait_for_function("() => document.documentElement.scrollWidth <= document.documentElement.clientWidth")


def test_a_click_on_a_cell_shows_its_batches(page: Page, base: str) -> None:
    """Those of the document, the most first."""
    page.goto(f"{base}/load?view=latest&by=week")
    page.wait_for_function(DRAWN)
    cell = page.locator("#heat .nsewdrag").bounding_box()
    assert cell is not None
    rows = page.locator("#machine option").count()
    page.mouse.click(cell["x"] + cell["width"] * 0.4, cell["y"] + cell["height"] * (0.5 / rows))
    first = page.locator("#machine option").nth(0).inner_text()
    page.wait_for_function("name => document.getElementById('bars-note').textContent.startsWith(name)", arg=first)
    week = page.inner_text("#bars-note").removeprefix(f"{first} in ").split(":")[0]
    data = page.evaluate("async () => (await fetch('/api/load?view=latest&by=week')).json()")
    cells = next(line for line in data["machines"] if line["name"] == first)["weeks"]
    expected = next(c for c in cells if c["week"] == week)["batches"]
    assert page.locator("#behind tbody th").all_inner_texts() == [b["batch"] for b in expected]


def test_the_picture_shows_groups_skills_and_people_as_well(page: Page, base: str) -> None:
    page.goto(f"{base}/load")
    page.wait_for_function(DRAWN)
    page.select_option("#kind", "skills")
    page.wait_for_function("() => document.querySelector('#heat').textContent.includes('inspection')")
    assert "milling set" in page.locator("#machine option").all_inner_texts()
    assert "inspection" in (page.text_content("#heat") or "")


def test_both_graphs_know_a_week_by_its_year(page: Page, base: str) -> None:
    """W27 of one year and of the next are two weeks: else their cells lie on each other in a plan of more than a year."""
    page.goto(f"{base}/load")
    page.wait_for_function(DRAWN)
    weeks, *drawn = page.evaluate(
        """async () => [(await (await fetch('/api/load')).json()).weeks,
        ...['heat', 'bars'].flatMap((id) => document.getElementById(id).data.map((trace) => trace.x))]"""
    )
    assert all(len(week) == len("2026-W27") for week in weeks)
    assert drawn == [weeks] * len(drawn)
    told = page.evaluate("() => document.getElementById('heat').layout.xaxis.ticktext")
    assert told == [week[5:] for week in weeks]


def test_the_ways_of_load_are_links_that_work_without_a_script(page: Page, base: str) -> None:
    page.goto(f"{base}/load")
    page.click("text=Before levelling")
    assert page.url.endswith("/load?view=latest&by=week")
    page.click("text=By day")
    assert page.url.endswith("/load?view=latest&by=day")
    assert page.locator(".choices [aria-current]").all_inner_texts() == ["Before levelling", "By day"]


def test_what_more_would_save_is_asked_for_and_shown(page: Page, base: str) -> None:
    page.goto(f"{base}/limits")
    for name in ("seconds", "most"):
        page.evaluate(f"document.querySelector('select[name={name}]').append(new Option('1', '1'))")
        page.select_option(f"select[name={name}]", "1")
    page.click("#ask button.main")
    page.wait_for_selector("text=planned twice with the same effort", timeout=90_000)
    assert page.locator("#ask button.main").inner_text() == "Work it out again"


def test_a_part_is_chosen_in_the_table_or_the_list(page: Page, base: str) -> None:
    page.goto(f"{base}/quantities")
    page.wait_for_function(DRAWN)
    page.click("[data-part='GR-101']")
    page.wait_for_function("() => document.querySelector('#curve').textContent.includes('GR-101')")
    assert "hard anodise is covered from 45 pieces" in page.inner_text("#curve-note")
    page.select_option("#part", "GR-106")
    page.wait_for_function("() => document.querySelector('#curve').textContent.includes('GR-106')")
    assert "bars of 160 parts" in page.inner_text("#curve-note")
    page.click("#quantities thead button >> text=Suggested")
    assert page.get_attribute("#quantities thead th:nth-child(5)", "aria-sort") == "ascending"


def test_months_and_limits_print_without_what_only_a_screen_needs(page: Page, base: str) -> None:
    page.emulate_media(media="print")
    for address, gone in (("/limits", "#ask"), ("/load", ".choices"), ("/quantities", "form.filters")):
        page.goto(base + address)
        assert not page.locator(gone).first.is_visible()


@pytest.mark.parametrize("address", ["/limits", "/load?view=latest&by=day", "/load"])
def test_what_is_folded_to_be_read_is_open_on_paper(page: Page, base: str, address: str) -> None:
    """Every table of the page is there in print, and none of those folded away on the screen is lost."""
    page.goto(base + address)
    if address != "/limits":
        page.wait_for_function(DRAWN)
    page.evaluate("for (const fold of document.querySelectorAll('details.fold')) fold.open = false")
    folded = page.locator("details.fold table")
    assert folded.count() > 0
    assert not any(table.is_visible() for table in folded.all())
    page.emulate_media(media="print")
    assert all(table.is_visible() for table in folded.all())
    heights = [box["height"] for table in folded.all() if (box := table.bounding_box()) is not None]
    assert len(heights) == folded.count() and min(heights) > 20


def test_released_work_stands_below_all_work_in_the_backlog(page: Page, base: str) -> None:
    """In each cell of the tables, with a word on which is which; the other ways have one figure."""
    page.goto(f"{base}/load?view=backlog&by=week")
    row = page.evaluate("async () => (await fetch('/api/load?view=backlog&by=week')).json()")["groups"][0]
    cell = page.locator("section[aria-labelledby=g-groups] tbody tr").first.locator("td").first
    assert cell.locator(".under").inner_text() == f"{row['weeks'][0]['released_percent']:.0f}"
    assert "the small one below it what is released already" in page.inner_text("main")
    page.goto(f"{base}/load?view=latest&by=week")
    assert page.locator("section[aria-labelledby=g-groups] .under").count() == 0
