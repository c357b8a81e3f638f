"""Load counts each working minute once, in the week it falls in."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from builders import ShopBuilder, days, plan, step
from web_fixtures import made_plan, made_work

from planner.answers.cautions import cautions
from planner.answers.load import GROUP, MACHINE, PERSON, SKILL, Load, LoadRow, VanLoad, limiting, load
from planner.answers.minding import minding, together
from planner.answers.spent import CHECK, RUN, SETUP, Minutes, run_min
from planner.capacity.share import Share
from planner.work import Kind, Work

DAY = 1440
WEEK = 7 * DAY


def row(answer: Load, kind: str, name: str, week: str) -> LoadRow:
    return next(r for r in answer.rows if (r.kind, r.name, r.week) == (kind, name, week))


def test_all_weeks_together_are_the_operations_to_the_minute() -> None:
    """Over a whole plan of 300 operations: setup, run by machine, group and class; people's minutes by skill."""
    work = made_work()
    made = made_plan(work)
    answer = load(work, made)
    setup, run = Counter[str](), Counter[str]()
    for one in made.steps:
        if one.machine is not None:
            name = work.machines[one.machine].name
            setup[name] += one.setup_min
            run[name] += run_min(work.operations[one.operation], one.machine)
    assert sum(setup.values()) > 0
    for kind in (MACHINE, GROUP):
        rows = [r for r in answer.rows if r.kind == kind]
        assert sum(r.setup_min for r in rows) == sum(setup.values())
        assert sum(sum(r.run_min.values()) for r in rows) == sum(run.values())
    for machine in work.machines:
        rows = [r for r in answer.rows if (r.kind, r.name) == (MACHINE, machine.name)]
        assert sum(r.setup_min for r in rows) == setup[machine.name]
        assert sum(sum(r.run_min.values()) for r in rows) == run[machine.name]
    for kind in (SKILL, PERSON):
        rows = [r for r in answer.rows if r.kind == kind]
        assert sum(r.setup_min for r in rows) == sum(setup.values())
        assert sum(r.check_min for r in rows) == sum(s.first_off is not None for s in made.steps) * 10


def test_no_minute_of_a_machine_is_counted_outside_its_hours() -> None:
    work = made_work()
    for r in load(work, made_plan(work)).rows:
        if r.kind == MACHINE:
            assert r.waiting_min >= 0
            assert r.needed_min - r.unattended_run_min + r.waiting_min <= r.attended_min
            assert r.unattended_run_min <= r.unattended_min


def over_sunday(start: datetime) -> tuple[Work, Load]:
    """One operation of 25 hours that begins on Sunday 12:00, in a shop that never closes."""
    work = (
        ShopBuilder(plan_start=start).batch("B1", pieces=1).op("L1", cycle=25 * 3600).order("O1", "B1", due=0).build()
    )
    return work, load(work, plan(work, step(work, "B1", 10, "L1", run=(0, 25 * 60))))


def test_weeks_are_cut_at_local_midnight_before_monday() -> None:
    """25 hours from Sunday 15 March 2026 12:00: 12 hours in week 11, 13 in week 12."""
    _, answer = over_sunday(datetime(2026, 3, 15, 12, tzinfo=UTC))
    assert sum(row(answer, MACHINE, "L1", "2026-W11").run_min.values()) == 12 * 60
    assert sum(row(answer, MACHINE, "L1", "2026-W12").run_min.values()) == 13 * 60
    assert row(answer, MACHINE, "L1", "2026-W11").attended_min == 12 * 60
    assert row(answer, MACHINE, "L1", "2026-W12").attended_min == 168 * 60


def test_summer_time_moves_the_cut_in_planning_minutes() -> None:
    """On Sunday 29 March 2026 the clocks are already forward at noon UTC (13:00): 11 hours to midnight."""
    _, answer = over_sunday(datetime(2026, 3, 29, 12, tzinfo=UTC))
    assert sum(row(answer, MACHINE, "L1", "2026-W13").run_min.values()) == 11 * 60
    assert sum(row(answer, MACHINE, "L1", "2026-W14").run_min.values()) == 14 * 60


@pytest.mark.parametrize(("start", "week", "hours"), [((2026, 3, 23), "2026-W13", 167), ((2026, 10, 18, 23), "2026-W43", 169)])  # fmt: skip
def test_a_week_with_a_clock_change_is_an_hour_shorter_or_longer(start: tuple[int, ...], week: str, hours: int) -> None:
    _, answer = over_sunday(datetime(*start, tzinfo=UTC))  # type: ignore[arg-type, misc]
    assert row(answer, MACHINE, "L1", week).attended_min == hours * 60


def test_the_last_days_of_december_may_belong_to_the_next_iso_year() -> None:
    """1 January 2027 is in week 53 of 2026 (ISO 8601)."""
    _, answer = over_sunday(datetime(2027, 1, 1, 12, tzinfo=UTC))
    assert [r.week for r in answer.rows if r.kind == MACHINE] == ["2026-W53"]


def night_shop() -> tuple[Work, Load]:
    """Attended 08:00-16:00, unattended to 22:00 with a limit of 120 minutes: 480 + 120 of 600 minutes run that day."""
    work = (
        ShopBuilder()
        .machine("L1", attended=days(5, (0, 480)), unattended=days(5, (480, 840)), group="lathes")
        .person("Ann", "turning", hours=days(5, (0, 480)))
        .batch("B1", pieces=9)
        .op("L1", setup=60, cycle=3600, skill="turning", unattended_limit_min=120)
        .order("O1", "B1", due=2000)
        .build()
    )
    made = plan(work, step(work, "B1", 10, "L1", setup=[("Ann", 0, 60)], run=(60, 600)))
    return work, load(work, made)


def test_unattended_running_is_apart_from_the_percentage() -> None:
    """60 setup + 420 attended run of 5 x 480 minutes; 120 minutes run with nobody there."""
    _, answer = night_shop()
    found = row(answer, MACHINE, "L1", "2026-W13")
    assert (found.setup_min, dict(found.run_min), found.unattended_run_min) == (60, {"normal": 540}, 120)
    assert (found.attended_min, found.unattended_min, found.percent) == (5 * 480, 5 * 360, 20.0)
    assert row(answer, SKILL, "turning", "2026-W13").percent == 2.5


def test_a_handover_counts_as_setting() -> None:
    """Rule 2: both stints' open minutes add to the setup and the handover."""
    work = (
        ShopBuilder(handover_min=10).person("Ann", "turning", [(0, 50)]).person("Bob", "turning", [(50, 900)])
        .batch("B1", pieces=5).op("L1", setup=60, skill="turning").build()
    )  # fmt: skip
    made = plan(work, step(work, "B1", 10, "L1", setup=[("Ann", 0, 50), ("Bob", 50, 70)], setup_min=60, run=(70, 75)))
    answer = load(work, made)
    assert row(answer, MACHINE, "L1", "2026-W13").setup_min == 70
    assert [row(answer, PERSON, name, "2026-W13").setup_min for name in ("Ann", "Bob")] == [50, 20]


def test_the_wait_for_a_first_off_is_waiting_and_the_approval_is_the_approvers() -> None:
    work = (
        ShopBuilder().machine("L1", [(0, 480)]).person("Ida", "inspection").batch("B1", pieces=10)
        .op("L1", cycle=120, first_off_skill="inspection", first_off_min=15).build()
    )  # fmt: skip
    made = plan(
        work, step(work, "B1", 10, "L1", start=0, run=(0, 78), bursts=[(0, 0), (60, 2)], first_off=(2, "Ida", 45, 60))
    )
    answer = load(work, made)
    found = row(answer, MACHINE, "L1", "2026-W13")
    assert (dict(found.run_min), found.waiting_min, found.check_min) == ({"for stock": 20}, 58, 0)
    assert row(answer, SKILL, "inspection", "2026-W13").check_min == 15


def test_work_by_hand_counts_for_bench_skill_and_person() -> None:
    work = (
        ShopBuilder()
        .person("Ann", "deburr")
        .batch("B1", pieces=10)
        .manual("bench", 60, skill="deburr", setup=5)
        .build()
    )
    made = plan(work, step(work, "B1", 10, "bench", stints=[("Ann", 0, 8), ("Ann", 20, 27)], setup_min=5, run=(5, 27)))
    answer = load(work, made)
    for kind, name in ((MACHINE, "bench"), (GROUP, "bench"), (SKILL, "deburr"), (PERSON, "Ann")):
        found = row(answer, kind, name, "2026-W13")
        assert (found.setup_min, dict(found.run_min)) == (5, {"for stock": 10})


def test_run_minutes_are_by_the_heaviest_class_fed() -> None:
    work = (
        ShopBuilder().batch("B1", pieces=4).op("L1").batch("B2", pieces=4).op("L2").need("B2", 10, "B1")
        .order("O1", "B2", due=100, weight=2).order("O2", "B2", due=50, weight=1).build()
    )  # fmt: skip
    orders = tuple(replace(o, priority={"O1": "urgent", "O2": "repeat"}[o.number]) for o in work.orders)
    work = replace(work, orders=orders)
    made = plan(work, step(work, "B1", 10, "L1", run=(0, 4)), step(work, "B2", 10, "L2", run=(4, 8)))
    assert dict(row(load(work, made), MACHINE, "L1", "2026-W13").run_min) == {"urgent": 4}


def test_more_than_there_is_shows_above_100() -> None:
    """First-offs may overlap a person's batch inspection, so their hours can be needed twice."""
    work = (
        ShopBuilder().person("Ida", "inspection", [(0, 60)])
        .batch("B1", pieces=10).op("L1", cycle=60, first_off_skill="inspection", first_off_min=30)
        .batch("B2", pieces=50).manual("bench", 60, skill="inspection").build()
    )  # fmt: skip
    made = plan(
        work,
        step(work, "B1", 10, "L1", start=0, run=(0, 40), bursts=[(0, 0), (31, 1)], first_off=(1, "Ida", 1, 31)),
        step(work, "B2", 10, "bench", stints=[("Ida", 0, 50)]),
    )
    assert row(load(work, made), PERSON, "Ida", "2026-W13").percent == 133.3


def test_the_limiting_group_is_that_of_the_highest_week() -> None:
    work, _ = night_shop()
    made = plan(work, step(work, "B1", 10, "L1", setup=[("Ann", 0, 60)], run=(60, 600)))
    found = limiting(work, made)
    assert found is not None
    assert (found.kind, found.name, found.week, found.percent) == (GROUP, "lathes", "2026-W13", 20.0)


def test_without_work_no_group_limits() -> None:
    work = ShopBuilder().machine("L1").build()
    assert limiting(work, plan(work)) is None


def test_vans_are_in_pieces_and_room() -> None:
    """Two collections of room 40 in the week: 30 pieces on the first, none on the second."""
    trips = [(100, 200, 900), (3000, 3100, 4000), (WEEK + 100, WEEK + 200, WEEK + 900)]
    work = (
        ShopBuilder().service("anodiser", trips, room=40).batch("B1", pieces=30).outside("anodiser")
        .batch("B2", pieces=9).op("L1").build()
    )  # fmt: skip
    made = plan(work, step(work, "B1", 10, start=0, run=(200, 900), trip=0), step(work, "B2", 10, "L1", run=(0, 9)))
    assert load(work, made).vans == (VanLoad("anodiser", "2026-W13", 2, 30, 80, 37.5, 75.0, (Share("B1", 30),)),)


def test_spent_minutes_are_exactly_each_operations_own() -> None:
    work = made_work()
    minutes = Minutes(work)
    for one in made_plan(work).steps:
        spent = Counter[str]()
        for span in minutes.of(one):
            spent[span.what] += span.minutes
        op = work.operations[one.operation]
        assert spent[SETUP] == one.setup_min
        assert spent[CHECK] == (0 if one.first_off is None else op.first_off_min)
        if one.machine is not None:
            assert spent[RUN] == run_min(op, one.machine)
        else:
            assert op.kind is Kind.OUTSIDE and not spent


def minded(people: int) -> tuple[Work, list]:
    """Three lathes run 0-60, 0-90 and 30-120; one person minds two."""
    shop = ShopBuilder()
    for name in ("L1", "L2", "L3"):
        shop.machine(name, [(0, 240), (240, 480)], group="lathes")
    for n in range(people):
        shop.person(f"P{n}", "minding", [(0, 240)])
    shop.minding("lathes", "minding", 2)
    for name, pieces in (("L1", 60), ("L2", 90), ("L3", 90)):
        shop.batch(f"B{name}", pieces=pieces).op(name)
    work = shop.build()
    made = plan(
        work, step(work, "BL1", 10, "L1", run=(0, 60)), step(work, "BL2", 10, "L2", run=(0, 90)),
        step(work, "BL3", 10, "L3", run=(30, 120)),
    )  # fmt: skip
    return work, minding(work, made)


def test_minding_warns_of_the_minutes_with_too_few_people() -> None:
    """One person for two machines: three run from 30 to 60."""
    _, found = minded(people=1)
    assert [(w.shift_start, w.shift_end, w.over_min, w.most_running, w.present) for w in found] == [(0, 240, 30, 3, 1)]


def test_minding_is_quiet_with_enough_people_and_loud_with_none() -> None:
    assert minded(people=2)[1] == []
    assert [w.over_min for w in minded(people=0)[1]] == [120]


def test_unattended_running_and_setting_need_no_minding() -> None:
    work, _ = night_shop()
    group = replace(work.groups[0], minding_skill=0, machines_per_person=1)
    people = tuple(replace(p, hours=((60, 480),)) for p in work.people)
    work = replace(work, groups=(group,), people=people)
    made = plan(work, step(work, "B1", 10, "L1", setup=[("Ann", 60, 120)], run=(120, 660)))
    assert minding(work, made) == []


def test_spans_are_counted_between_changes() -> None:
    assert list(together([(0, 10), (5, 20)], [(8, 30)])) == [
        (0, 5, 1, 0), (5, 8, 2, 0), (8, 10, 2, 1), (10, 20, 1, 1),
    ]  # fmt: skip


def test_cautions_name_machines_that_run_with_nobody_there() -> None:
    work, _ = night_shop()
    made = plan(work, step(work, "B1", 10, "L1", setup=[("Ann", 0, 60)], run=(60, 600)))
    assert ["L1 2 h" in c and "risk assessment" in c for c in cautions(work, made)] == [True]


@pytest.mark.parametrize(("minutes", "warned"), [(576, False), (577, True)])
def test_cautions_name_people_with_more_than_48_hours_in_a_week(minutes: int, warned: bool) -> None:
    """48 hours in five days are 576 minutes a day (common practice, no source)."""
    work = (
        ShopBuilder().person("Ann", "deburr", days(5, (0, minutes))).batch("B1", pieces=5).manual("bench", 60, skill="deburr").build()
    )  # fmt: skip
    made = plan(work, step(work, "B1", 10, "bench", stints=[("Ann", 0, 5)]))
    assert any("Ann" in c for c in cautions(work, made)) == warned
