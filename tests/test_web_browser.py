"""The pages in a real Chromium: no console errors, nothing asked of other machines, and everything can be worked."""

from __future__ import annotations

from collections.abc import Iterator
from urllib.parse import urlencode

import pytest
from page_server import NARROW, WIDE, Kept, cleared, fits_at, fits_sideways, served, shot, watched
from playwright.sync_api import Browser, Page
from web_fixtures import HOSTILE, made_plan, made_work

from planner.faults import Fault
from web.app import create_app, create_fault_app
from web.templating import BAR

WORK = made_work()
PLAN = made_plan(WORK)
PLACES = [place for places in BAR.values() for place in places]


@pytest.fixture(scope="module")
def base() -> Iterator[str]:
    app = create_app(WORK, PLAN)
    app.state.site.work_out_risk()  # its machine code may have to be made first, which takes longer than a page may
    with served(app) as address:
        yield address


def open_plan(page: Page, base: str, query: str = "") -> None:
    page.goto(f"{base}/plan{query}")
    page.wait_for_function("() => window.planChart !== undefined")


def box_of(page: Page, op: int) -> dict[str, float]:
    return page.evaluate("op => window.planChart.boxOf(op)", op)


def first_op(page: Page) -> int:
    """An operation whose bar is in view, well inside."""
    return page.evaluate(
        """() => { const p = window.planChart;
        return p.matching.find(b => { const x = p.boxOf(b.op); return x && x.width > 12 && x.y > 60 && x.y < 800; }).op; }"""
    )


@pytest.mark.parametrize("place", PLACES, ids=lambda p: p.title)
def test_every_page_fits_and_complains_of_nothing(used: Kept, base: str, place) -> None:
    with cleared(used, NARROW) as page:
        page.goto(base + place.path)
        page.wait_for_load_state("networkidle")
        assert page.locator("h1").count() == 1
        for size in (NARROW, WIDE):
            fits_at(page, size, f"page-{place.title.lower()}")


def test_pages_stay_readable_at_twice_the_size(used: Kept, base: str) -> None:
    """A window of half the width is what zooming to 200 per cent leaves."""
    with cleared(used, (700, 450)) as page:
        for place in PLACES:
            page.goto(base + place.path)
            assert fits_sideways(page)


def test_the_first_tab_stop_skips_to_the_page(page: Page, base: str) -> None:
    page.goto(f"{base}/orders")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the page"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"


# --- the plan ----------------------------------------------------------------------------------


def test_the_table_beside_the_chart_has_every_operation(page: Page, base: str) -> None:
    open_plan(page, base)
    bars = page.evaluate("window.planChart.chart.bars.map(b => b.op)")
    while page.locator("#rows-more").is_visible():
        page.locator("#rows-more").click()
    rows = page.eval_on_selector_all("#rows tbody tr", "rows => rows.map(r => Number(r.dataset.op))")
    assert sorted(rows) == sorted(bars) == sorted(s.operation for s in PLAN.steps)


def test_a_click_on_a_bar_tells_about_the_operation(page: Page, base: str) -> None:
    open_plan(page, base)
    op = first_op(page)
    box = box_of(page, op)
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.wait_for_selector("#details:not([hidden]) h2")
    batch = WORK.batches[WORK.operations[op].batch]
    told = page.inner_text("#details")
    assert batch.name in told and batch.part in told and "Waited for" in told
    assert f"op={op}" in page.url
    shot(page, "plan-details")
    page.keyboard.press("Escape")
    page.wait_for_selector("#details", state="hidden")


def test_bars_can_be_reached_with_keys_alone(page: Page, base: str) -> None:
    open_plan(page, base)
    page.focus("#chart")
    page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("Enter")
    page.wait_for_selector("#details:not([hidden]) h2")
    assert page.inner_text("#chart-note")


def test_keys_move_and_zoom_the_stretch_of_time(page: Page, base: str) -> None:
    open_plan(page, base)
    span = "[window.planChart.layout.from, window.planChart.layout.to]"
    start, end = page.evaluate(span)
    assert round((end - start) / 1440) == 14
    page.focus("#chart")
    page.keyboard.press("ArrowRight")
    moved = page.evaluate(span)
    assert moved[0] > start and round(moved[1] - moved[0]) == round(end - start)
    page.keyboard.press("+")
    closer = page.evaluate(span)
    assert closer[1] - closer[0] < moved[1] - moved[0]
    page.keyboard.press("Home")
    assert page.evaluate(span) == [start, end]


def test_the_mouse_drags_and_zooms(page: Page, base: str) -> None:
    open_plan(page, base)
    span = "[window.planChart.layout.from, window.planChart.layout.to]"
    start, end = page.evaluate(span)
    box = page.locator("#chart").bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] * 0.7, box["y"] + 150
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x - 200, y, steps=5)
    page.mouse.up()
    assert page.evaluate(span)[0] > start
    page.keyboard.down("Control")
    page.mouse.wheel(0, -300)
    page.keyboard.up("Control")
    page.wait_for_timeout(100)
    now = page.evaluate(span)
    assert now[1] - now[0] < end - start


def test_fingers_drag_and_pinch(chromium: Browser, base: str) -> None:
    with watched(chromium, base, NARROW, touch=True) as page:
        open_plan(page, base)
        span = "[window.planChart.layout.from, window.planChart.layout.to]"
        start, end = page.evaluate(span)
        touch = page.context.new_cdp_session(page)
        page.locator("#chart").scroll_into_view_if_needed()
        box = page.locator("#chart").bounding_box()
        assert box is not None
        x, y = box["x"] + 200, max(box["y"], 0) + 60

        def fingers(kind: str, *xs: float) -> None:
            points = [{"x": at, "y": y, "id": n} for n, at in enumerate(xs)]
            touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

        fingers("touchStart", x)
        for k in range(1, 6):
            fingers("touchMove", x - 15 * k)
        fingers("touchEnd")
        dragged = page.evaluate(span)
        assert dragged[0] > start
        fingers("touchStart", x - 20, x + 20)
        for k in range(1, 6):
            fingers("touchMove", x - 20 - 10 * k, x + 20 + 10 * k)
        fingers("touchEnd")
        pinched = page.evaluate(span)
        assert pinched[1] - pinched[0] < (end - start) * 0.8


def test_filters_cut_the_table_and_the_chart_down(page: Page, base: str) -> None:
    open_plan(page, base)
    shown = "window.planChart.matching.length"
    everything = page.evaluate(shown)
    order = WORK.orders[3].number
    page.fill("#f-order", order)
    of_order = page.evaluate("window.planChart.matching.map(b => b.op)")
    batches = {b.index for b in WORK.batches if b.name.startswith(f"B{order[2:]}-")}
    assert {WORK.operations[op].batch for op in of_order} == batches
    page.click("button[type=reset]")
    page.wait_for_function(f"() => {shown} === {everything}")
    page.check("#f-late")
    assert 0 < page.evaluate(shown) < everything
    page.click("button[type=reset]")
    page.select_option("#f-group", "lathes")
    page.wait_for_function(f"() => {shown} < {everything}")
    group = next(g for g in WORK.groups if g.name == "lathes")
    on = {s.operation for s in PLAN.steps if s.machine in group.machines}
    assert set(page.evaluate("window.planChart.matching.map(b => b.op)")) == on


def asked(page: Page) -> dict[str, str]:
    return page.evaluate("Object.fromEntries(new URLSearchParams(location.search))")


def test_the_address_keeps_the_machine_beside_the_operation(page: Page, base: str) -> None:
    machine = WORK.machines[next(s.machine for s in PLAN.steps if s.machine is not None)].name
    open_plan(page, base, f"?{urlencode({'machine': machine})}")
    page.focus("#chart")
    page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("Enter")
    page.wait_for_selector("#details:not([hidden]) h2")
    op = page.evaluate("window.planChart.selected.op")
    assert asked(page) == {"machine": machine, "op": str(op)}
    page.reload()
    page.wait_for_function("() => window.planChart !== undefined")
    assert page.input_value("#f-machine") == machine
    assert page.evaluate("window.planChart.selected.op") == op
    page.keyboard.press("Escape")
    page.locator("#chart").press("Escape")
    assert asked(page) == {"machine": machine}
    page.click("button[type=reset]")
    page.wait_for_function("() => location.search === ''")


def test_the_chart_is_in_sight_on_a_narrow_screen(used: Kept, base: str) -> None:
    with cleared(used, NARROW) as page:
        open_plan(page, base)
        chart = page.locator("#chart").bounding_box()
        assert chart is not None and chart["y"] < NARROW[1] / 2
        assert not page.locator("#filters").is_visible() and page.locator("[data-view=in]").is_visible()
        page.click("#tools summary")
        page.select_option("#f-group", "lathes")
        assert page.locator("#filters-on").is_visible()
        assert fits_sideways(page)
        page.set_viewport_size({"width": WIDE[0], "height": WIDE[1]})
        assert page.locator("#filters").is_visible() and not page.locator("#tools summary").is_visible()


def test_an_address_opens_the_order_it_names(page: Page, base: str) -> None:
    open_plan(page, base, f"?order={WORK.orders[2].number}")
    page.wait_for_selector("#details:not([hidden]) h2")
    assert WORK.orders[2].number in page.inner_text("#details")
    shot(page, "plan-order")


def test_hostile_names_are_only_text(page: Page, base: str) -> None:
    open_plan(page, base)
    page.fill("#f-part", HOSTILE[:12])
    assert HOSTILE in page.inner_text("#rows tbody")


# --- load and orders -----------------------------------------------------------------------------


def test_a_click_on_a_load_cell_shows_that_machine_s_hours(page: Page, base: str) -> None:
    page.goto(f"{base}/load")
    page.wait_for_function("() => document.body.dataset.drawn === 'yes'")
    assert page.locator(".modebar").count() == 0
    cell = page.locator("#heat .nsewdrag").bounding_box()
    assert cell is not None
    rows = page.locator("#machine option").count()
    page.mouse.click(cell["x"] + 20, cell["y"] + cell["height"] * (2.5 / rows))
    third = page.locator("#machine option").nth(2).inner_text()
    page.wait_for_function("name => document.getElementById('machine').value === name", arg=third)
    assert third in page.inner_text("#bars-note")
    assert third in (page.text_content("#bars") or "")


def test_a_machine_can_be_chosen_without_the_mouse(page: Page, base: str) -> None:
    page.goto(f"{base}/load")
    page.wait_for_function("() => document.body.dataset.drawn === 'yes'")
    page.focus("#machine")
    page.keyboard.press("Home")
    page.keyboard.press("ArrowDown")
    chosen = page.input_value("#machine")
    page.wait_for_function("name => document.querySelector('#bars').textContent.includes(name)", arg=chosen)


def column(page: Page, n: int) -> list[str]:
    return page.eval_on_selector_all(
        "#orders tbody tr:not([hidden])",
        f"rows => rows.map(r => r.cells[{n}].dataset.key ?? r.cells[{n}].textContent.trim())",
    )


def test_orders_sort_by_their_headings_both_ways(page: Page, base: str) -> None:
    page.goto(f"{base}/orders")
    page.click("#orders thead button >> text=Due")
    up = [int(v) for v in column(page, 2)]
    assert up == sorted(up)
    assert page.get_attribute("#orders thead th:nth-child(3)", "aria-sort") == "ascending"
    page.focus("#orders thead th:nth-child(3) button")
    page.keyboard.press("Enter")
    assert [int(v) for v in column(page, 2)] == up[::-1]


def test_orders_can_be_searched_and_cut_to_what_is_late(page: Page, base: str) -> None:
    page.goto(f"{base}/orders")
    number = WORK.orders[4].number
    page.fill("[data-find]", number)
    assert column(page, 0) == [number]
    page.click("form[data-filters] button[type=reset]")
    page.wait_for_function("() => document.querySelectorAll('#orders tbody tr[hidden]').length === 0")
    page.check("[data-late]")
    assert column(page, 0) and page.locator("#orders tbody tr:not(.late):not([hidden])").count() == 0


def test_lists_print_on_a4_one_sheet_for_each_machine(page: Page, base: str) -> None:
    page.goto(f"{base}/lists")
    sheets = page.locator(".sheet").count()
    page.set_viewport_size({"width": 1047, "height": 718})  # A4 across, less its margins
    page.emulate_media(media="print")
    assert page.evaluate("Math.max(...[...document.querySelectorAll('table')].map(t => t.offsetWidth)) <= innerWidth")
    shot(page, "lists-printed")
    printed = page.pdf(prefer_css_page_size=True)
    assert b"/MediaBox [0 0 841.91998 595.91998]" in printed or b"841.9" in printed
    assert printed.count(b"/Type /Page\n") >= sheets


def test_lists_work_without_scripts(chromium: Browser, base: str) -> None:
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{base}/lists")
    page.select_option("[name=who]", "machine:lathe 1")
    page.select_option("[name=day]", "")
    page.click("button[type=submit]")
    assert page.locator(".sheet").count() == 1
    context.close()


def test_faults_are_shown_as_a_page(chromium: Browser) -> None:
    fault = Fault("orders.csv", 7, "due", "soon", "an ISO date", "Write 2027-07-05.")
    with served(create_fault_app([fault])) as base, chromium.new_context() as context:
        page = context.new_page()
        page.goto(base)
        assert "row 7" in page.inner_text("main")
        shot(page, "faults")
