"""Machines, people, groups and equipment: names become positions, calendars become minutes."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

from explode_shops import MONDAY, calendar, machine_step, order, part, shop

from planner.explode import explode
from planner.shop import Absence, Equipment, Group, Machine, Person

STEP = machine_step(
    10,
    family="bar 20",
    equipment=(("jaws", 1), ("chuck", 2), ("jaws", 1)),
    move_min=15,
    move_calendar="van",
    first_off_skill="inspecting",
)
BASIS = shop(
    (order("C1", "P", 10),),
    (part("P"),),
    {"P": (STEP, machine_step(20, skill="fitting"))},
    calendars={"day": calendar("day"), "anodiser": calendar("anodiser"), "van": calendar("van", date(2026, 5, 31))},
    equipment={"jaws": Equipment("jaws", 3), "chuck": Equipment("chuck", 2)},
    changeovers={("lathes", "bar 20", "bar 30"): 20, ("lathes", "bar 30", "bar 20"): 10},
)  # fmt: skip


def test_names_become_positions_in_sorted_order() -> None:
    work = explode(BASIS)
    assert [m.name for m in work.machines] == ["BENCH", "LATHE", "LATHE2"]
    assert [p.name for p in work.people] == ["Ann", "Bob"]
    assert work.skills == ("fitting", "inspecting", "turning")
    assert [(g.name, g.machines) for g in work.groups] == [("benches", (0,)), ("lathes", (1, 2))]
    assert [m.group for m in work.machines] == [0, 1, 1]
    assert [sorted(p.skills) for p in work.people] == [[1, 2], [0, 2]]
    assert work.changeovers == {(1, "bar 20", "bar 30"): 20, (1, "bar 30", "bar 20"): 10}


def test_an_operation_refers_to_them_by_position() -> None:
    first, second = explode(BASIS).operations
    assert (first.family, first.skill, first.first_off_skill) == ("bar 20", 2, 1)
    assert first.equipment == ((0, 2), (1, 2))  # chuck twice; jaws, listed twice, are added up
    assert (first.move_min, first.move_calendar) == (15, 1)
    assert (second.skill, second.family, second.move_calendar) == (0, "", None)


def test_the_groups_setters_set_where_the_step_names_nobody() -> None:
    nobody = replace(BASIS, groups=BASIS.groups | {"lathes": Group("lathes", "", None)})
    assert explode(nobody).operations[0].skill is None


def test_what_is_on_a_machine_comes_with_part_revision_and_family_of_the_routing() -> None:
    on = Machine("LATHE", "lathes", "day", on_part="P", on_operation=10, on_equipment=("jaws", "chuck"))
    machine = explode(replace(BASIS, machines=BASIS.machines | {"LATHE": on})).machines[1]
    assert (machine.on_key, machine.on_family, machine.on_equipment) == (("P", "A", 10), "bar 20", (0, 1))
    said = replace(on, on_family="bar 30")
    assert explode(replace(BASIS, machines=BASIS.machines | {"LATHE": said})).machines[1].on_family == "bar 30"
    assert explode(BASIS).machines[1].on_key is None


def test_downtime_and_leave_are_taken_out() -> None:
    away = (Absence(MONDAY, datetime(2026, 3, 23, 10), ""),)
    machine = Machine("LATHE", "lathes", "day", downtime=away)
    ann = Person("Ann", "day", ("turning", "inspecting"), away)
    work = explode(replace(BASIS, machines=BASIS.machines | {"LATHE": machine}, people=BASIS.people | {"Ann": ann}))
    for windows in (work.machines[1].hours.attended, work.people[0].hours):
        assert next(w for w in windows if w[1] > 0) == (120, 240)
    assert next(w for w in work.machines[2].hours.attended if w[1] > 0) == (0, 240)


def test_move_calendars_hold_the_shop_calendar_and_those_that_moves_name() -> None:
    work = explode(BASIS)
    assert len(work.move_calendars) == 2
    assert work.shop_calendar == 0
    assert next(w for w in work.move_calendars[0] if w[1] > 0) == (0, 240)
    assert explode(replace(BASIS, settings=replace(BASIS.settings, shop_calendar=""))).shop_calendar is None


def test_calendars_are_known_to_the_end_of_the_first_that_ends() -> None:
    """The van's calendar ends with 31 May 2026."""
    work = explode(BASIS)
    assert str(work.local(work.known_to_min)) == "2026-06-01 00:00:00+01:00"


def test_the_plan_start_is_local_time_made_utc() -> None:
    assert explode(BASIS).plan_start == datetime(2026, 3, 23, 8, tzinfo=UTC)
    summer = replace(BASIS, settings=replace(BASIS.settings, plan_start=datetime(2026, 4, 1, 8)))
    assert explode(summer).plan_start == datetime(2026, 4, 1, 7, tzinfo=UTC)
