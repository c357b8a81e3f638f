"""The three ways of seeing load: every cut adds up to the operations' own minutes, and nothing is cut off at 100."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest
from builders import ShopBuilder, at, days, plan, step
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from random_shops import random_work

from planner.answers.load import (
    EQUIPMENT,
    GROUP,
    MACHINE,
    OVERDUE,
    PERSON,
    SKILL,
    By,
    Load,
    LoadRow,
    View,
    load,
    names_of,
    only,
)
from planner.answers.spent import CHECK, SETUP, run_min
from planner.capacity.demand import Demand, as_planned, skill_of
from planner.capacity.latest import at_latest
from planner.capacity.share import Share
from planner.explode import explode
from planner.intake import read_shop
from planner.plan import Plan
from planner.search import search
from planner.verify.amounts import base_setup, first_off_due
from planner.work import Begun, Factors, Kind, Operation, Work
from planner.worktime import united

DAY = 1440
SAMPLE = Path(__file__).resolve().parent.parent / "sample_shop"
SHIFT = days(10, (0, 480))


@cache
def random_job(number: int) -> tuple[Work, Plan]:
    work = random_work(number)
    return work, search(work, trials=1, workers=1)


def rows_of(answer: Load, kind: str, name: str) -> list[LoadRow]:
    return [r for r in answer.rows if (r.kind, r.name) == (kind, name)]


def own_minutes(work: Work, op: Operation, machine: int) -> int:
    """Setup and run of an operation at its latest dates, from its own data alone."""
    alternative = next(a for a in op.alternatives if a.machine == machine)
    run = run_min(op, machine)
    approving = {o.first_off_skill for o in work.operations if o.first_off_skill is not None}
    if op.kind is Kind.MANUAL and op.skill in approving:
        run = -(-run * work.inspection_stretch_percent // 100)
    return base_setup(op, alternative) + run


def overlap(windows: Iterable[tuple[int, int]], start: int, end: int) -> int:
    return sum(max(0, min(b, end) - max(a, start)) for a, b in windows)


def heaviest_class(work: Work, batch: int) -> str:
    """Class of the heaviest order that a batch goes into, through whatever it is built into."""
    fed, seen = [batch], {batch}
    for one in fed:
        for need in work.needs:
            user = work.operations[need.operation].batch
            if need.batch == one and user not in seen:
                seen.add(user)
                fed.append(user)
    orders = [o for o in work.orders if any(s.batch in seen for s in o.sources)]
    return max(orders, key=lambda o: (o.weight, o.priority)).priority if orders else "for stock"


def cuts_of(work: Work, demands: list[Demand]) -> dict[tuple[str, str], Counter[str]]:
    """Every cut by kind and name, added up over operations with plain loops."""
    on: defaultdict[tuple[str, str], Counter[str]] = defaultdict(Counter)
    users: defaultdict[int, set[int]] = defaultdict(set)
    for op in work.operations:
        for e, _ in op.equipment:
            users[e] |= {a.machine for a in op.alternatives}
    for demand in demands:
        op = work.operations[demand.operation]
        batch = work.batches[op.batch]
        marks = [
            "all",
            f"batch {batch.name}",
            *(["own"] if batch.own_product else []),
            *(["released"] if batch.is_open else []),
        ]
        if demand.run is not None and work.runs[demand.run].collect_min >= 0:
            on["outside", work.runs[demand.run].supplier].update(
                {"pieces": op.pieces, f"batch {batch.name}": op.pieces}
            )
        if demand.machine is None:
            continue
        machine = work.machines[demand.machine]
        places = [(MACHINE, machine.name), (GROUP, work.groups[machine.group].name)]
        ran = f"run {heaviest_class(work, op.batch)}"
        for span in demand.spent:
            names = list(places) if span.machine is not None else []
            if (skill := skill_of(op, span)) is not None:
                names.append((SKILL, work.skills[skill]))
            if span.person is not None:
                names.append((PERSON, work.people[span.person].name))
            night = span.minutes if not span.attended else 0
            for key in names:
                kind = {SETUP: "setup", CHECK: "check"}.get(span.what, ran)
                on[key].update(dict.fromkeys([*marks, kind], span.minutes))
                on[key].update({"night": night, "released night": night if batch.is_open else 0})
                if key in places:
                    on[key]["idle"] -= span.minutes - night
        for key in places:
            on[key]["idle"] += overlap(machine.hours.attended, demand.start, demand.run_end)
        for e, units in op.equipment:
            open_ = united(w for m in users[e] for w in work.machines[m].hours.attended)
            held = units * overlap(open_, demand.equipment_from, demand.run_end)
            on[EQUIPMENT, work.equipment[e].name].update(dict.fromkeys([*marks, ran], held))
    return on


def cuts_in(answer: Load) -> dict[tuple[str, str], Counter[str]]:
    """The same, added up over the rows of a load; of running totals the last."""
    on: defaultdict[tuple[str, str], Counter[str]] = defaultdict(Counter)
    rows = answer.rows if answer.view is not View.BACKLOG else {(r.kind, r.name): r for r in answer.rows}.values()
    for r in rows:
        count = on[r.kind, r.name]
        count.update(
            {
                "all": r.needed_min,
                "setup": r.setup_min,
                "check": r.check_min,
                "own": r.own_min,
                "released": r.released_min,
            }
        )
        count.update({f"run {c}": m for c, m in r.run_min.items()})
        count.update({f"batch {s.batch}": s.amount for s in r.batches})
        count.update({"night": r.unattended_run_min, "idle": r.waiting_min})
    vans = answer.vans if answer.view is not View.BACKLOG else {v.supplier: v for v in answer.vans}.values()
    for v in vans:
        on["outside", v.supplier].update({"pieces": v.pieces, **{f"batch {s.batch}": s.amount for s in v.batches}})
    return on


def assert_all_cuts_add_up(work: Work, made: Plan) -> Counter[str]:
    """In all three ways, by week and by day; what was seen of each cut as planned."""
    latest, seen = at_latest(work, made), Counter[str]()
    for view, demands in ((View.PLANNED, list(as_planned(work, made))), (View.LATEST, latest), (View.BACKLOG, latest)):
        expected = cuts_of(work, demands)
        for by in By:
            found = cuts_in(load(work, made, view, by))
            assert {*expected} <= {*found}
            for key, count in found.items():
                wanted = Counter({cut: n for cut, n in expected.get(key, Counter()).items() if cut != "released night"})
                if view is not View.PLANNED:
                    del wanted["idle"]  # where nothing has its place yet nothing waits in it
                if view is View.BACKLOG and key[0] != "outside":  # batches are named of what is too much
                    wanted = Counter({cut: n for cut, n in wanted.items() if not cut.startswith("batch ")})
                    count = Counter({cut: n for cut, n in count.items() if not cut.startswith("batch ")})
                assert +count == +wanted, (view, by, key)
                assert all(n >= 0 for n in count.values())
                if view is View.PLANNED:
                    seen.update(
                        {key[0]: count["all"] + count["pieces"], **{c: n for c, n in count.items() if " " not in c}}
                    )
    return seen


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.integers(0, 400))
def test_every_cut_adds_up_to_the_operations_to_the_minute(number: int) -> None:
    """By machine, group, skill, person, equipment and van; by class, own product, batch, released, unattended, waiting; by week and by
    day; in all three ways."""
    work, made = random_job(number)
    work = replace(
        work, batches=tuple(replace(b, own_product=b.index % 2 == 0, is_open=b.index % 3 == 0) for b in work.batches),
        orders=tuple(replace(o, priority=f"class {o.weight}") for o in work.orders),
    )  # fmt: skip
    latest = at_latest(work, made)
    fed = {s.batch for o in work.orders for s in o.sources} | {n.batch for n in work.needs}
    for demand in latest:
        op = work.operations[demand.operation]
        if demand.machine is not None and op.batch in fed:
            spent = sum(s.minutes for s in demand.spent if s.what != CHECK)
            assert spent == own_minutes(work, op, demand.machine)
            checks = sum(s.minutes for s in demand.spent if s.what == CHECK)
            assert checks == (op.first_off_min if first_off_due(op) else 0)
    assert_all_cuts_add_up(work, made)


def test_every_cut_of_the_sample_shop_adds_up() -> None:
    """And there is something of each."""
    work = explode(read_shop(SAMPLE))
    seen = assert_all_cuts_add_up(work, search(work, trials=1, workers=1))
    for cut in (
        MACHINE,
        GROUP,
        SKILL,
        PERSON,
        EQUIPMENT,
        "outside",
        "setup",
        "check",
        "own",
        "released",
        "night",
        "idle",
        "pieces",
    ):
        assert seen[cut] > 0, cut


def test_what_is_released_is_told_beside_all_work() -> None:
    """Monday: 240 minutes of a released batch, of them 60 at night, and 240 of one that is not: 180 and 420 of 480 attended minutes."""
    shop = ShopBuilder().machine("L1", SHIFT, days(10, (480, 600)))
    work = (
        shop.batch("B1", pieces=240).op("L1", unattended_limit_min=60).order("O1", "B1", due=DAY)
        .batch("B2", pieces=240).op("L1").order("O2", "B2", due=480).build()
    )  # fmt: skip
    work = replace(work, batches=tuple(replace(b, is_open=b.name == "B1") for b in work.batches))
    made = plan(work, step(work, "B2", 10, "L1", run=(0, 240)), step(work, "B1", 10, "L1", run=(300, 540)))
    monday = rows_of(load(work, made, by=By.DAY), MACHINE, "L1")[0]
    assert (monday.needed_min, monday.released_min, monday.unattended_run_min) == (480, 240, 60)
    assert (monday.percent, monday.released_percent) == (87.5, 37.5)
    backlog = rows_of(load(work, made, View.BACKLOG, By.DAY), GROUP, "L1")[0]
    assert (backlog.needed_min, backlog.released_min, backlog.percent, backlog.released_percent) == (
        480,
        240,
        87.5,
        37.5,
    )


def test_only_some_kinds_and_names_of_a_load() -> None:
    work, made = random_job(7)
    whole = load(work, made)
    some = only(whole, [GROUP, PERSON], [work.groups[0].name, "Ann"])
    assert {(r.kind, r.name) for r in some.rows} == {(GROUP, work.groups[0].name), (PERSON, "Ann")}
    assert some.rows == tuple(r for r in whole.rows if r in some.rows) and some.vans == ()
    assert {u.kind for u in some.use} == {GROUP}
    firms = names_of(whole)["outside"]
    assert only(whole, ["outside"]) == replace(whole, rows=(), use=()) and firms == sorted(
        {r.supplier for r in work.runs}
    )
    assert only(whole) == whole


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.integers(0, 400))
def test_hours_of_days_and_weeks_are_the_same_hours(number: int) -> None:
    """No minute beyond the last day is in the weeks' but the rest of the last week."""
    work, made = random_job(number)
    weeks, days_ = load(work, made), load(work, made, by=By.DAY)
    for machine in work.machines:
        by_week = rows_of(weeks, MACHINE, machine.name)
        by_day = rows_of(days_, MACHINE, machine.name)
        assert sum(r.attended_min for r in by_day) <= sum(r.attended_min for r in by_week)
        assert by_week[0].attended_min == sum(r.attended_min for r in by_day[:7]) or len(by_day) < 7


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.integers(0, 400))
def test_latest_dates_follow_one_another(number: int) -> None:
    """A step ends by the start of the next, a component by its use, and all by the due time."""
    work, made = random_job(number)
    found = {d.operation: d for d in at_latest(work, made)}
    fed = {s.batch: o.due_min for o in work.orders for s in o.sources}
    for batch in work.batches:
        left = [found[i] for i in batch.operations if work.operations[i].begun is not Begun.DONE and i in found]
        for before, after in pairwise(left):
            op = work.operations[before.operation]
            if not op.transfer_pieces and not work.operations[after.operation].setup_ahead:
                assert before.run_end + op.wait_min + (op.move_min if op.move_calendar is None else 0) <= after.start
        if left and batch.index in fed:
            assert left[-1].run_end + work.operations[left[-1].operation].wait_min <= fed[batch.index]


def test_latest_dates_of_a_hand_made_shop() -> None:
    """Due 60 minutes into Tuesday, machines 08:00-16:00. Back from there: 30 minutes of milling 1470-1500, a move of 15
    of the mill's minutes, so turned by 1455: 15 of 60 minutes on Tuesday, 45 on Monday from 435, set 405-435."""
    work = (
        ShopBuilder().machine("L1", SHIFT).machine("M1", SHIFT).person("Ann", "set", SHIFT)
        .batch("B1", pieces=60).op("L1", setup=30, skill="set", move_min=15).op("M1", cycle=30)
        .order("O1", "B1", due=DAY + 60).build()
    )  # fmt: skip
    made = search(work, trials=1, workers=1)
    turn, mill = at_latest(work, made)
    assert (mill.start, mill.run_end) == (1470, 1500)
    assert [(s.what, s.start, s.end) for s in turn.spent] == [
        ("setup", 405, 435),
        ("run", 435, 480),
        ("run", 1440, 1455),
    ]
    answer = load(work, made, View.LATEST, By.DAY)
    assert [r.needed_min for r in rows_of(answer, MACHINE, "L1")] == [75, 15]
    assert [r.setup_min for r in rows_of(answer, SKILL, "set")] == [30, 0]


def test_two_orders_due_together_show_what_they_ask_for() -> None:
    """Each wants the whole of Monday of the same lathe: 200 %, with the names of both; the backlog says so too, until
    Tuesday's hours are counted in."""
    shop = ShopBuilder().machine("L1", SHIFT)
    for name in ("B1", "B2"):
        shop.batch(name, pieces=480, own_product=name == "B1").op("L1").order(f"O{name}", name, due=480)
    work = shop.batch("B3", pieces=10).op("L1").order("O3", "B3", due=DAY + 480).build()
    made = search(work, trials=1, workers=1)
    monday, tuesday = rows_of(load(work, made, View.LATEST, By.DAY), GROUP, "L1")[:2]
    assert (monday.percent, monday.needed_min, monday.own_min) == (200.0, 960, 480)
    assert monday.batches == (Share("B1", 480), Share("B2", 480))
    assert (tuesday.percent, tuesday.needed_min) == (2.1, 10)
    backlog = rows_of(load(work, made, View.BACKLOG, By.DAY), GROUP, "L1")
    assert [r.percent for r in backlog[:2]] == [200.0, 101.0]
    assert backlog[1].batches == (Share("B1", 480), Share("B2", 480), Share("B3", 10))
    planned = rows_of(load(work, made, by=By.DAY), GROUP, "L1")
    assert max(r.percent or 0 for r in planned) == 100.0


def test_what_should_have_begun_is_overdue_and_in_the_backlog() -> None:
    """90 minutes due 60 minutes into Monday: 30 of them before the plan start, counted as elapsed."""
    work = ShopBuilder().machine("L1", SHIFT).batch("B1", pieces=90).op("L1").order("O1", "B1", due=60).build()
    made = search(work, trials=1, workers=1)
    rows = rows_of(load(work, made, View.LATEST), MACHINE, "L1")
    assert [(r.week, r.needed_min) for r in rows] == [(OVERDUE, 30), ("2026-W13", 60)]
    assert rows[0].percent is None
    assert [r.needed_min for r in rows_of(load(work, made, View.BACKLOG), MACHINE, "L1")] == [90]


def test_work_for_outside_falls_on_the_last_collection_that_is_back_in_time() -> None:
    """Back by 3000 for a use from 3000 on: the second collection (cut-off 1500), so turned by 1500; the third is too late."""
    trips = [(100, 200, 2000), (1500, 1600, 3000), (2900, 3000, 4400)]
    work = (
        ShopBuilder().machine("L1", SHIFT).service("anodiser", trips, room=5).batch("B1", pieces=8).op("L1").outside("anodiser")
        .batch("B2", pieces=1).op("L1").need("B2", 10, "B1").order("O1", "B2", due=3001).build()
    )  # fmt: skip
    made = plan(
        work, step(work, "B1", 10, "L1", run=(0, 8)), step(work, "B1", 20, start=8, run=(200, 2000), trip=0),
        step(work, "B2", 10, "L1", run=(2880, 2881)),
    )  # fmt: skip
    turn, out, use = at_latest(work, made)
    assert (use.start, out.start, out.run_end, turn.run_end) == (3000, 1500, 3000, 1500)
    vans = [v for v in load(work, made, View.LATEST, By.DAY).vans if v.pieces]
    assert [(v.week, v.pieces, v.room, v.percent, v.batches) for v in vans] == [
        ("2026-03-24", 8, 5, 160.0, (Share("B1", 8),))
    ]  # fmt: skip


def test_sublots_let_the_step_before_end_later() -> None:
    """40 pieces, 2 minutes then 1 minute, in tens, 40 minutes wanted by 480: the last ten are needed at 470."""
    shop = ShopBuilder().machine("L1", SHIFT).machine("M1", SHIFT).batch("B1", pieces=40)
    work = shop.op("L1", cycle=120, transfer_pieces=10).op("M1").order("O1", "B1", due=480).build()
    made = search(work, trials=1, workers=1)
    turn, mill = at_latest(work, made)
    assert (mill.start, mill.run_end) == (440, 480)
    assert (turn.start, turn.run_end) == (390, 470)


def test_sublots_of_a_quick_step_are_bound_by_the_first() -> None:
    """1 minute then 2: the second starts at 400 with ten pieces, so the first has 30 minutes left to do at 400."""
    shop = ShopBuilder().machine("L1", SHIFT).machine("M1", SHIFT).batch("B1", pieces=40)
    work = shop.op("L1", cycle=60, transfer_pieces=10).op("M1", cycle=120).order("O1", "B1", due=480).build()
    turn, mill = at_latest(work, search(work, trials=1, workers=1))
    assert (mill.start, turn.start, turn.run_end) == (400, 390, 430)


def test_a_first_off_is_asked_of_its_approver_before_the_rest_of_the_run() -> None:
    """10 pieces of 6 minutes by 480: rest 426-480, approval 411-426, first piece 405-411, setting 375-405."""
    work = (
        ShopBuilder().machine("L1", SHIFT).person("Ida", "check", SHIFT).person("Ann", "set", SHIFT).batch("B1", pieces=10)
        .op("L1", setup=30, cycle=360, skill="set", first_off_skill="check", first_off_min=15).order("O1", "B1", due=480).build()
    )  # fmt: skip
    (demand,) = at_latest(work, search(work, trials=1, workers=1))
    assert [(s.what, s.start, s.end) for s in demand.spent] == [
        ("setup", 375, 405), ("run", 405, 411), ("check", 411, 426), ("run", 426, 480),
    ]  # fmt: skip


def test_a_run_that_may_go_on_unattended_begins_with_somebody_there() -> None:
    """Attended to 480, unattended to 840, 120 minutes of it allowed; 100 minutes by 600 could begin at 500, so at 479."""
    work = (
        ShopBuilder().machine("L1", SHIFT, days(10, (480, 840))).batch("B1", pieces=100)
        .op("L1", unattended_limit_min=120).order("O1", "B1", due=600).build()
    )  # fmt: skip
    made = search(work, trials=1, workers=1)
    (demand,) = at_latest(work, made)
    assert [(s.start, s.end, s.attended) for s in demand.spent] == [(479, 480, True), (480, 579, False)]
    assert rows_of(load(work, made, View.LATEST), MACHINE, "L1")[0].unattended_run_min == 99


def test_equipment_is_counted_in_hours_of_the_machines_that_use_it() -> None:
    """Two sets of jaws, both lathes open 480 minutes on 5 days: 4800 there; held 0-240 by one operation."""
    work = (
        ShopBuilder().machine("L1", days(5, (0, 480))).machine("L2", days(5, (0, 480))).equipment("jaws", 2)
        .batch("B1", pieces=240).op(["L1", "L2"], equipment={"jaws": 1}).order("O1", "B1", due=900).build()
    )  # fmt: skip
    made = plan(work, step(work, "B1", 10, "L1", run=(0, 240)))
    (row,) = rows_of(load(work, made), EQUIPMENT, "jaws")
    assert (row.attended_min, row.needed_min, row.percent) == (4800, 240, 5.0)


def test_availability_and_performance_count_once_against_the_hours() -> None:
    """240 of 480 minutes are 50 %, of 480 x 0.8 x 0.5 = 192 they are 125 %; people and plans know nothing of it."""
    work = ShopBuilder().machine("L1", [(0, 480)]).batch("B1", pieces=240).op("L1").order("O1", "B1", due=900).build()
    less = replace(work, factors=(Factors(80.0, 50.0),))
    assert less.fingerprint == work.fingerprint
    made = plan(work, step(work, "B1", 10, "L1", run=(0, 240)))
    for kind in (MACHINE, GROUP):
        assert rows_of(load(work, made), kind, "L1")[0].percent == 50.0
        (row,) = rows_of(load(less, made), kind, "L1")
        assert (row.percent, row.effective_min, row.attended_min, row.batches) == (125.0, 192, 480, (Share("B1", 240),))


def test_indicators_of_a_planned_week() -> None:
    """30 set, 60 run, 10 held and waiting of 200 attended: allocation 50 %, utilisation 60 %, setup ratio a third (ISO 22400-2)."""
    work = (
        ShopBuilder().machine("L1", [(0, 200)]).batch("B1", pieces=60).op("L1", setup=30).order("O1", "B1", due=900).build()
    )  # fmt: skip
    made = plan(work, step(work, "B1", 10, "L1", setup=[(None, 0, 30)], run=(40, 100)))
    times = rows_of(load(work, made), MACHINE, "L1")[0].times
    assert (times.allocation_efficiency, times.utilisation_efficiency) == (0.5, 0.6)
    assert times.setup_ratio == pytest.approx(1 / 3)


def test_work_for_no_order_stays_where_the_plan_has_it() -> None:
    work = ShopBuilder().machine("L1", SHIFT).batch("B1", pieces=10).op("L1").build()
    made = plan(work, step(work, "B1", 10, "L1", run=(100, 110)))
    assert at_latest(work, made) == list(as_planned(work, made))
    assert at(work, "B1", 10).begun is Begun.NO
