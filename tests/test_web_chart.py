"""The plan chart in a real Chromium: what is painted, what a press, a key or an address shows, on a wide and a small screen."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any

import pytest
from page_server import NARROW, WIDE, Kept, cleared, fits_sideways, served, shot, watched
from playwright.sync_api import Browser, Page
from web_fixtures import HOSTILE, made_plan, made_work

from web.app import create_app
from web.chart import chart
from web.site import Site

WORK = made_work()
PLAN = made_plan(WORK)
CHART = chart(Site(WORK, PLAN))
SPAN = "[window.planChart.layout.from, window.planChart.layout.to]"
MATCHING = "window.planChart.matching.map(b => b.op)"
OUTSIDE = {r.name for r in CHART.rows if r.hours is None}
WHITE, CLOSED = [255, 255, 255], [230, 226, 216]


@pytest.fixture(scope="module")
def base() -> Iterator[str]:
    with served(create_app(WORK, PLAN)) as address:
        yield address


@pytest.fixture
def page(used: Kept, base: str) -> Iterator[Page]:
    with cleared(used) as found:
        open_plan(found, base)
        yield found


def open_plan(page: Page, base: str, query: str = "") -> None:
    page.goto(f"{base}/plan{query}")
    page.wait_for_function("() => window.planChart && window.planChart.drawnMs")


def settle(page: Page) -> None:
    """Until what was asked for is painted."""
    page.evaluate("() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")


def look(page: Page, first: float, last: float) -> None:
    page.evaluate("([a, b]) => { window.planChart.layout.look(a, b); window.planChart.paint(); }", [first, last])


def pixel(page: Page, x: float, y: float) -> list[int]:
    """The colour there; read from a copy, as reading a canvas that is painted often is warned of."""
    return page.evaluate(
        """([x, y]) => { const spot = document.createElement('canvas');
        const pen = spot.getContext('2d', {willReadFrequently: true});
        pen.drawImage(window.planChart.canvas, -Math.floor(x), -Math.floor(y));
        return [...pen.getImageData(0, 0, 1, 1).data].slice(0, 3); }""",
        [x, y],
    )


def colour(page: Page, row: int, minute: float, down: float = 0.5) -> list[int]:
    """At a minute in a row, ``down`` of the way to its foot."""
    where = "([row, minute, down]) => { const l = window.planChart.layout, r = l.rows[row]; return [l.x(minute), r.y + r.height * down]; }"
    return pixel(page, *page.evaluate(where, [row, minute, down]))


def without(page: Page, *marks: str) -> None:
    """Paint no such marks from now on, so that what lies below can be seen."""
    page.evaluate("marks => { for (const mark of marks) window.planChart.painter[mark] = () => {}; }", list(marks))


def details(page: Page) -> str:
    page.wait_for_selector("#details:not([hidden]) h2")
    return page.inner_text("#details")


def wide_bar(page: Page) -> dict[str, Any]:
    """A bar well in view, with its box."""
    return page.evaluate(
        """() => { const p = window.planChart;
        for (const bar of p.matching) { const box = p.boxOf(bar.op);
          if (box && box.width > 20 && box.y > 80 && box.y < 800 && box.x > 250) return {...bar, box}; } }"""
    )


def click(page: Page, bar: dict[str, Any]) -> None:
    box = bar["box"]
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)


# --- what is painted -----------------------------------------------------------------------------


def test_closed_attended_and_unattended_time_look_different(page: Page) -> None:
    """Lathe 1 is attended 08:00 to 12:00, open without people at night, and shut at the weekend."""
    page.evaluate("window.planChart.chart.bars.length = 0")
    row = next(n for n, r in enumerate(CHART.rows) if r.name == "lathe 1")
    saturday = 5 * 1440 + 300
    look(page, 0, 7 * 1440)
    assert colour(page, row, 100) == WHITE
    assert colour(page, row, saturday) == CLOSED
    night = {tuple(colour(page, row, 1000 + n * 12)) for n in range(20)}
    assert len(night) > 1 and tuple(CLOSED) not in night and tuple(WHITE) not in night


def test_a_row_without_hours_of_its_own_is_never_shaded(page: Page) -> None:
    page.evaluate("window.planChart.chart.bars.length = 0")
    look(page, 0, 7 * 1440)
    outside = next(n for n, r in enumerate(CHART.rows) if r.hours is None)
    assert colour(page, outside, 5 * 1440 + 300) == WHITE


def test_a_pause_is_a_thin_strip_at_the_foot_of_the_bar(page: Page) -> None:
    """Above it the closed time of the row shows through; while it is worked on, the bar is full."""
    bar, pause = next(
        (b, (x[2], y[1]))
        for b in CHART.bars
        for x, y in pairwise(b.worked)
        if y[1] - x[2] >= 300 and CHART.rows[b.row].name not in ("lathe 1", *OUTSIDE)
    )
    without(page, "label", "late", "firstOff")
    look(page, pause[0] - 200, pause[1] + 200)
    middle, foot = (pause[0] + pause[1]) / 2, 24 / 30
    assert colour(page, bar.row, middle, foot) not in (WHITE, CLOSED)
    assert colour(page, bar.row, middle, 0.4) == CLOSED
    assert colour(page, bar.row, pause[0] - 5, 0.4) not in (WHITE, CLOSED)


def test_setup_is_painted_apart_from_the_run(page: Page) -> None:
    """Setup is black and white; the run is one colour."""
    bar = next(b for b in CHART.bars if b.worked[0][0] == "setup" and b.worked[0][2] - b.worked[0][1] >= 30)
    without(page, "label", "late", "firstOff")
    _, first, last = bar.worked[0]
    look(page, first - 30, last + 90)
    setup = {tuple(colour(page, bar.row, first + (last - first) * n / 30, 0.3)) for n in range(3, 28)}
    assert len(setup) > 2 and max(setup) == (255, 255, 255)
    run = next(w for w in bar.worked if w[0] == "run")
    assert len({tuple(colour(page, bar.row, run[1] + 3 + n, 0.3)) for n in range(8)}) == 1


def test_late_work_is_marked_by_a_black_corner_and_no_other_is(page: Page) -> None:
    for late in (True, False):
        bar = next(b for b in CHART.bars if CHART.batches[b.batch].late is late and b.end - b.start > 60)
        look(page, bar.start - 60, bar.end + 60)
        box = page.evaluate("op => window.planChart.layout.box(window.planChart.barOf.get(op))", bar.op)
        corner = pixel(page, box["x"] + box["width"] - 3, box["y"] + 2)
        assert (max(corner) < 60) is late


def test_the_plan_start_is_a_line_down_all_rows(page: Page) -> None:
    page.evaluate("window.planChart.chart.bars.length = 0")
    look(page, -300, 1140)
    blue = []
    for row in range(4):
        spots = [colour(page, row, 0, n / 30) for n in range(2, 28)]
        blue.append(any(b > r + 80 for r, _, b in spots))
    assert blue == [True] * 4
    assert colour(page, 0, 60) == WHITE


def test_the_legend_names_every_class_in_use(page: Page) -> None:
    used = {CHART.classes[b.priority] for b in CHART.batches}
    assert set(page.locator("#classes li").all_inner_texts()) == used


# --- one operation, one order ----------------------------------------------------------------------


def test_the_panel_has_the_facts_of_the_document(page: Page, base: str) -> None:
    bar = wide_bar(page)
    click(page, bar)
    told = details(page)
    document = page.request.get(f"{base}/api/operations/{bar['op']}").json()
    assert document["title"] in told
    for fact in document["facts"]:
        assert fact["name"] in told and fact["text"] in told
    shot(page, "chart-operation")


def test_a_click_lights_all_batches_of_the_order_and_joins_their_steps(page: Page) -> None:
    bar = wide_bar(page)
    click(page, bar)
    order = CHART.batches[bar["batch"]].orders[0]
    own = {n for n, b in enumerate(CHART.batches) if order in b.orders}
    assert set(page.evaluate("[...window.planChart.lit]")) == own
    joined = page.evaluate("window.planChart.way.steps.map(([a, b]) => [a.op, b.op])")
    assert sorted(joined) == sorted([b.op, b.next_op] for b in CHART.bars if b.batch in own and b.next_op is not None)


def test_a_click_beside_all_bars_puts_the_chart_back(page: Page) -> None:
    click(page, wide_bar(page))
    details(page)
    look(page, CHART.until_min - 1440, CHART.until_min)
    free = page.evaluate(
        """() => { const p = window.planChart, c = p.canvas.getBoundingClientRect();
        for (let y = 30; y < 600; y += 5) if (!p.barAt(500, y)) return [c.x + 500, c.y + y]; }"""
    )
    page.mouse.click(*free)
    page.wait_for_selector("#details", state="hidden")
    assert page.evaluate("window.planChart.lit") is None
    assert page.url.endswith("/plan")


def test_the_panel_leads_from_step_to_step_and_to_the_order(page: Page) -> None:
    click(page, wide_bar(page))
    details(page)
    page.locator("#details .way button").first.click()
    page.wait_for_function("() => document.querySelector('#details .way li[aria-current]') === document.querySelector('#details .way li')")  # fmt: skip
    page.locator("#details p button").first.click()
    page.wait_for_function("() => document.querySelector('#details h2').textContent.startsWith('Order ')")
    assert "order=" in page.url


def test_short_bars_can_be_clicked_at_eight_weeks(page: Page) -> None:
    """A bar of less than a pixel is drawn two wide, and may be missed by three."""
    look(page, 0, 56 * 1440)
    found = page.evaluate(
        """() => { const p = window.planChart;
        return p.chart.bars.map(b => ({op: b.op, box: p.layout.box(b), bar: b})).filter(({box, bar}) => box && (bar.end - bar.start) * p.layout.scale < 2)
          .map(({box, op}) => [op, p.barAt(box.x + box.width / 2, box.y + box.height / 2).op]); }"""
    )
    assert found
    assert sum(a == b for a, b in found) >= 0.9 * len(found)  # two neighbours may lie on the same pixel


# --- keys, wheel, buttons --------------------------------------------------------------------------


def test_shift_with_an_arrow_goes_along_the_row_and_back(page: Page) -> None:
    page.focus("#chart")
    cursor = "window.planChart.cursor.op"
    page.keyboard.press("Shift+ArrowRight")
    first = page.evaluate(cursor)
    page.keyboard.press("Shift+ArrowRight")
    second = page.evaluate(cursor)
    bars = {b.op: b for b in CHART.bars}
    row = sorted((b.start, b.op) for b in CHART.bars if b.row == bars[first].row)
    assert second == row[row.index((bars[first].start, first)) + 1][1]
    page.keyboard.press("Shift+ArrowLeft")
    assert page.evaluate(cursor) == first
    page.keyboard.press("Shift+ArrowDown")
    assert bars[page.evaluate(cursor)].row > bars[first].row
    settle(page)
    now = bars[page.evaluate(cursor)]
    assert CHART.batches[now.batch].name in page.inner_text("#chart-note")


def test_enter_opens_the_bar_and_escape_gives_the_keys_back(page: Page) -> None:
    page.focus("#chart")
    page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("Enter")
    details(page)
    assert page.evaluate("document.activeElement.tagName") == "H2"
    page.keyboard.press("Escape")
    page.wait_for_selector("#details", state="hidden")
    assert page.evaluate("document.activeElement.id") == "chart"


def test_the_plain_wheel_scrolls_the_page_and_ctrl_zooms_where_it_points(page: Page) -> None:
    before = page.evaluate(SPAN)
    box = page.locator("#chart").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 900, box["y"] + 200)
    page.mouse.wheel(0, 200)
    page.wait_for_function("() => window.scrollY > 0")
    assert page.evaluate(SPAN) == before
    at = "window.planChart.layout.minute(900)"
    minute = page.evaluate(at)
    page.keyboard.down("Control")
    page.mouse.wheel(0, -300)
    page.keyboard.up("Control")
    page.wait_for_function(f"() => {SPAN}[1] - {SPAN}[0] < {before[1] - before[0] - 1}")
    assert page.evaluate(at) == pytest.approx(minute, abs=30)


def test_buttons_move_zoom_and_go_back_to_two_weeks(page: Page) -> None:
    start, end = page.evaluate(SPAN)
    assert end - start == 14 * 1440
    page.click("[data-view=later]")
    assert page.evaluate(SPAN)[0] == start + 7 * 1440
    page.click("[data-view=in]")
    assert page.evaluate(f"{SPAN}[1] - {SPAN}[0]") < 14 * 1440
    page.click("[data-view=all]")
    first, last = page.evaluate(SPAN)
    assert first <= CHART.from_min and last >= CHART.until_min
    page.click("[data-view=weeks]")
    assert page.evaluate(SPAN) == [start, end]


# --- filters and addresses -------------------------------------------------------------------------


def test_the_part_filter_keeps_the_operations_of_that_part(page: Page) -> None:
    part = CHART.batches[5].part
    page.fill("#f-part", part.upper())
    wanted = {b.op for b in CHART.bars if part in CHART.batches[b.batch].part}
    assert set(page.evaluate(MATCHING)) == wanted


def test_the_machine_filter_keeps_one_row(page: Page) -> None:
    page.select_option("#f-machine", "mill 2")
    row = next(n for n, r in enumerate(CHART.rows) if r.name == "mill 2")
    assert set(page.evaluate(MATCHING)) == {b.op for b in CHART.bars if b.row == row}
    assert page.evaluate("window.planChart.layout.rows.filter(Boolean).length") == 1


def test_late_only_keeps_what_feeds_late_orders(page: Page) -> None:
    page.check("#f-late")
    assert set(page.evaluate(MATCHING)) == {b.op for b in CHART.bars if CHART.batches[b.batch].late}
    shot(page, "chart-late")


def test_filters_that_fit_nothing_say_so_and_can_be_cleared(page: Page) -> None:
    page.fill("#f-part", "no such part")
    assert "No operation matches" in page.inner_text("#chart-note")
    assert page.locator("#rows tbody tr").count() == 0
    page.click("button[type=reset]")
    page.wait_for_function(f"() => {MATCHING}.length === {len(CHART.bars)}")
    assert page.inner_text("#chart-note") == ""


def test_the_table_says_what_the_plan_says(page: Page) -> None:
    wanted = sorted(CHART.bars, key=lambda b: (b.row, b.start, b.op))[:200]
    rows = page.eval_on_selector_all("#rows tbody tr", "rows => rows.map(r => [...r.cells].map(c => c.textContent))")
    for cells, bar in zip(rows, wanted, strict=True):
        batch = CHART.batches[bar.batch]
        assert cells[:4] == [CHART.rows[bar.row].name, f"{batch.name} · {bar.number}", batch.part, bar.what]
        assert cells[5:8] == [str(bar.pieces), bar.from_text, bar.to_text]
        assert cells[9] == ("late" if batch.late else "")


def test_an_address_may_name_a_machine(page: Page, base: str) -> None:
    open_plan(page, base, "?machine=mill%202")
    assert page.input_value("#f-machine") == "mill 2"
    assert {CHART.rows[r].name for r in page.evaluate("window.planChart.matching.map(b => b.row)")} == {"mill 2"}


def test_an_address_may_name_an_operation(page: Page, base: str) -> None:
    last = max(CHART.bars, key=lambda b: b.start)
    open_plan(page, base, f"?op={last.op}")
    assert CHART.batches[last.batch].name in details(page)
    assert page.evaluate("op => window.planChart.boxOf(op) !== null", last.op)


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("?op=99999", "The plan has no operation 99999."),
        ("?order=O-1", "The plan has no order O-1."),
        ("?machine=lathe 99", "The plan has no machine lathe 99."),
    ],
)
def test_an_address_that_names_nothing_says_so(page: Page, base: str, query: str, words: str) -> None:
    open_plan(page, base, query)
    assert page.inner_text("#chart-note") == words


# --- hostile names, small screens --------------------------------------------------------------------


def test_markup_in_a_name_is_shown_as_it_is(page: Page, base: str) -> None:
    batch = next(n for n, b in enumerate(CHART.batches) if b.part == HOSTILE)
    op = next(b.op for b in CHART.bars if b.batch == batch)
    open_plan(page, base, f"?op={op}")
    assert HOSTILE in details(page)
    assert page.locator("main img").count() == 0


@pytest.mark.parametrize("size", [WIDE, NARROW], ids=["wide", "narrow"])
def test_the_panel_and_the_chart_fit_the_window(chromium: Browser, base: str, size: tuple[int, int]) -> None:
    with watched(chromium, base, size, touch=size is NARROW) as page:
        open_plan(page, base, f"?op={CHART.bars[0].op}")
        details(page)
        settle(page)
        assert fits_sideways(page)
        panel = page.locator("#details").bounding_box()
        assert panel is not None and panel["x"] >= 0 and panel["x"] + panel["width"] <= size[0]
        close = page.locator("#details .close").bounding_box()
        assert close is not None and min(close["width"], close["height"]) >= 24  # WCAG 2.2, 2.5.8 target size
        shot(page, "chart-panel")


def test_a_tap_opens_a_bar(chromium: Browser, base: str) -> None:
    with watched(chromium, base, NARROW, touch=True) as page:
        open_plan(page, base)
        page.evaluate("() => { window.planChart.layout.look(0, 600); window.planChart.paint(); }")
        page.locator("#chart").scroll_into_view_if_needed()
        found = page.evaluate(
            """() => { const p = window.planChart;
            for (const bar of p.matching) { const b = p.boxOf(bar.op);
              if (b && b.width > 30 && b.x > 90 && b.x < 300 && b.y > 60 && b.y < 800) return [bar.op, b.x + 15, b.y + b.height / 2]; } }"""
        )
        page.touchscreen.tap(found[1], found[2])
        batch = CHART.batches[next(b.batch for b in CHART.bars if b.op == found[0])]
        assert batch.name in details(page)
