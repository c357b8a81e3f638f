"""What the plan chart and its panel are told: rows, hours, bars, links and facts, without a browser."""

from __future__ import annotations

from collections import defaultdict
from itertools import pairwise

import pytest
from builders import ShopBuilder, at, days, plan, step
from fastapi.testclient import TestClient
from web_fixtures import HOSTILE, made_plan, made_work

from planner.plan import Step
from planner.work import Work
from web.app import create_app
from web.chart import AWAY, NO_MACHINE, Chart, chart
from web.site import Site
from web.waits import waited_text

WORK = made_work(200)
PLAN = made_plan(WORK)
DAY = 1440


@pytest.fixture(scope="module")
def told() -> Chart:
    return chart(Site(WORK, PLAN))


@pytest.fixture(scope="module")
def client() -> TestClient:
    return TestClient(create_app(WORK, PLAN))


# --- the chart of a made-up shop -----------------------------------------------------------------


def test_every_planned_step_is_one_bar_in_its_machine_s_row(told: Chart) -> None:
    steps = {s.operation: s for s in PLAN.steps}
    assert sorted(b.op for b in told.bars) == sorted(steps)
    for bar in told.bars:
        machine = steps[bar.op].machine
        if machine is not None:
            assert told.rows[bar.row].name == WORK.machines[machine].name


def test_every_machine_has_a_row_below_its_group_also_when_idle(told: Chart) -> None:
    wanted = [(WORK.machines[m].name, g.name) for g in WORK.groups for m in g.machines]
    assert [(r.name, r.group) for r in told.rows][: len(wanted)] == wanted
    assert told.rows[len(wanted)].group == AWAY


def test_bars_in_one_lane_never_overlap(told: Chart) -> None:
    lanes: dict[tuple[int, int], list[tuple[int, int]]] = defaultdict(list)
    for bar in told.bars:
        assert 0 <= bar.lane < told.rows[bar.row].lanes
        lanes[bar.row, bar.lane].append((bar.start, bar.end))
    for spans in lanes.values():
        spans.sort()
        assert all(a[1] <= b[0] for a, b in pairwise(spans))


def test_worked_spans_lie_in_order_inside_the_bar(told: Chart) -> None:
    for bar in told.bars:
        edges = [m for _, a, b in bar.worked for m in (a, b)]
        assert edges == sorted(edges)
        assert bar.start <= edges[0] and edges[-1] <= bar.end


def test_machine_work_lies_in_the_hours_the_row_shows(told: Chart) -> None:
    for bar in told.bars:
        row = told.rows[bar.row]
        if row.hours is None:
            continue
        hours = told.hours[row.hours]
        windows = sorted(hours.attended + hours.unattended)
        for _, a, b in bar.worked:
            covered = sum(max(0, min(b, y) - max(a, x)) for x, y in windows)
            assert covered == b - a


def test_equal_hours_are_told_once(told: Chart) -> None:
    assert len(set(told.hours)) == len(told.hours) < len(WORK.machines)


def test_the_chart_covers_whole_local_days(told: Chart) -> None:
    assert told.from_min == told.days[0].start <= 0
    assert told.until_min > max(b.end for b in told.bars)
    assert told.until_min - told.days[-1].start <= 25 * 60


def test_links_join_a_component_s_last_step_to_what_consumes_it(told: Chart) -> None:
    last = {b.operations[-1] for b in WORK.batches}
    assert told.links
    for made, used in told.links:
        assert made in last
        assert WORK.operations[made].batch != WORK.operations[used].batch


def test_batches_say_whether_an_order_they_feed_is_late(told: Chart) -> None:
    assert {b.late for b in told.batches} == {True, False}
    for batch in told.batches:
        assert batch.late == any(told.orders[o].late for o in batch.orders)


# --- hand-made plans -----------------------------------------------------------------------------


def one_step(due: int = DAY) -> Work:
    return (
        ShopBuilder()
        .machine("L1", attended=days(5, (0, 480)))
        .person("Ann", "turning", hours=days(5, (0, 480)))
        .batch("B1", pieces=10)
        .op("L1", setup=30, cycle=3000, skill="turning")
        .order("O1", "B1", due=due)
        .build()
    )


def chart_of(work: Work, *steps: Step) -> Chart:
    return chart(Site(work, plan(work, *steps)))


def test_a_run_over_night_is_told_in_two_parts_with_a_pause_between() -> None:
    """30 min setup and 500 min of run from 08:00: 450 min on the day, 50 on the next."""
    work = one_step()
    (bar,) = chart_of(work, step(work, "B1", 10, "L1", setup=[("Ann", 0, 30)], run=(30, DAY + 50))).bars
    assert bar.worked == (("setup", 0, 30), ("run", 30, 480), ("run", DAY, DAY + 50))
    assert (bar.start, bar.end, bar.from_text, bar.to_text) == (0, DAY + 50, "Mon 23 Mar 08:00", "Tue 24 Mar 08:50")


@pytest.mark.parametrize(("due", "late"), [(DAY + 50, False), (DAY + 49, True)])
def test_an_order_is_late_from_the_first_minute_after_its_due(due: int, late: bool) -> None:
    work = one_step(due)
    told = chart_of(work, step(work, "B1", 10, "L1", setup=[("Ann", 0, 30)], run=(30, DAY + 50)))
    assert told.orders[0].late is told.batches[0].late is late


def outside_work() -> Work:
    return (
        ShopBuilder()
        .service("anodise", [(100, 160, 500)])
        .batch("B1", pieces=10)
        .outside("anodise")
        .batch("B2", pieces=10)
        .outside("anodise")
        .order("O1", "B1", due=DAY)
        .order("O2", "B2", due=DAY)
        .build()
    )


def test_batches_away_with_the_same_van_lie_side_by_side_in_the_firm_s_row() -> None:
    work = outside_work()
    told = chart_of(work, step(work, "B1", 10, trip=0, run=(160, 500)), step(work, "B2", 10, trip=0, run=(160, 500)))
    (row,) = told.rows
    assert (row.group, row.hours, row.lanes) == (AWAY, None, 2)
    assert sorted(b.lane for b in told.bars) == [0, 1]
    assert all(b.worked == (("away", 160, 500),) for b in told.bars)


def test_what_needs_no_machine_has_a_row_of_its_own(told: Chart) -> None:
    work = ShopBuilder().batch("B1", pieces=1).wait(90).order("O1", "B1", due=DAY).build()
    waiting = chart_of(work, step(work, "B1", 10, start=0, end=90))
    assert [r.name for r in waiting.rows] == [NO_MACHINE]
    assert waiting.bars[0].worked == (("wait", 0, 90),)
    assert NO_MACHINE not in {r.name for r in told.rows}


def test_a_plan_without_steps_is_an_empty_chart() -> None:
    work = one_step()
    told = chart_of(work)
    assert told.bars == () and told.links == ()
    assert len(told.days) == 1


# --- documents -----------------------------------------------------------------------------------


def test_the_plan_document_is_the_chart(client: TestClient, told: Chart) -> None:
    document = client.get("/api/plan").json()
    assert [(b["op"], b["start"], b["end"]) for b in document["bars"]] == [(b.op, b.start, b.end) for b in told.bars]
    assert document["shop"] == WORK.shop


def test_every_operation_of_the_plan_has_its_panel(client: TestClient) -> None:
    for bar in client.get("/api/plan").json()["bars"]:
        answer = client.get(f"/api/operations/{bar['op']}")
        assert answer.status_code == 200
        facts = {f["name"]: f["text"] for f in answer.json()["facts"]}
        assert {"Part", "Pieces", "Waited for", "Next"} <= set(facts)


@pytest.mark.parametrize("op", [len(WORK.operations), -1, 10**9])
def test_an_operation_the_plan_does_not_have_is_not_found_in_plain_words(client: TestClient, op: int) -> None:
    answer = client.get(f"/api/operations/{op}")
    assert answer.status_code == 404
    assert answer.json()["error"]["detail"] == f"The plan has no operation {op}. It may be finished already."


def facts_of(work: Work, found: Step) -> dict[str, str]:
    answer = TestClient(create_app(work, plan(work, found))).get(f"/api/operations/{found.operation}").json()
    return {f["name"]: f["text"] for f in answer["facts"]}


def test_the_panel_says_who_sets_up_when_and_on_what() -> None:
    work = one_step()
    facts = facts_of(work, step(work, "B1", 10, "L1", setup=[("Ann", 0, 30)], run=(30, DAY + 50)))
    assert facts["Where"] == "L1" and facts["Pieces"] == "10"
    assert facts["Setup"] == "30 min, Ann, Mon 23 Mar 08:00 to Mon 23 Mar 08:30"
    assert facts["Run"] == "Mon 23 Mar 08:30 to Tue 24 Mar 08:50"
    assert facts["Next"] == "the batch is finished with this step"


def test_the_panel_of_outside_work_says_when_it_is_collected_and_back() -> None:
    work = outside_work()
    other = step(work, "B2", 10, trip=0, run=(160, 500))
    site = TestClient(create_app(work, plan(work, step(work, "B1", 10, trip=0, run=(160, 500)), other)))
    facts = {f["name"]: f["text"] for f in site.get(f"/api/operations/{at(work, 'B1', 10).index}").json()["facts"]}
    assert (facts["Collected"], facts["Back"]) == ("Mon 23 Mar 10:40", "Mon 23 Mar 16:20")
    assert "Setup" not in facts


@pytest.mark.parametrize(
    ("why", "on", "words"),
    [
        ("release", None, "its release or the plan start"),
        ("person", None, "a person for turning"),
        ("machine", 0, "the machine, behind B1 step 10"),
        ("step before", 0, "the step before it: B1 step 10"),
        ("component", 0, "a component: B1, B1"),
        ("not before", None, "the day it is held back to by decision"),
        ("receipt", None, "bought parts or material"),
    ],
)
def test_waits_are_told_in_words(why: str, on: int | None, words: str) -> None:
    work = one_step()
    found = step(work, "B1", 10, "L1", run=(30, DAY + 50), waited_for=why, waited_on=on)
    assert waited_text(Site(work, plan(work)), found).startswith(words)


def test_names_with_markup_stay_text(client: TestClient) -> None:
    batch = next(b for b in WORK.batches if b.part == HOSTILE)
    answer = client.get(f"/api/operations/{batch.operations[0]}")
    assert answer.headers["content-type"].startswith("application/json")
    assert answer.json()["facts"][0] == {"name": "Part", "text": f"{HOSTILE} rev A"}
