"""Facts that would make planning impossible are faults in the words of the tables, all at once."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time
from typing import Any

import pytest
from explode_shops import calendar, machine_step, manual_step, open_batch, order, part, shop

from planner.explode import explode
from planner.faults import DataFaults, Fault
from planner.shop import Absence, BatchRule, Calendar, Hours, Machine, Operation, Person, Progress, Shop


def faults(made: Shop) -> tuple[Fault, ...]:
    with pytest.raises(DataFaults) as raised:
        explode(made)
    return raised.value.faults


def one(step: Operation, quantity: int = 10, **more: Any) -> Shop:
    return shop((order("C1", "P", quantity),), routings={"P": (step,)}, **more)


NIGHT = Calendar("night", date(2026, 6, 30), tuple(Hours(d, time(22), time(6), True) for d in range(5)))


# --- runs that may not pause ------------------------------------------------------------------------


def test_a_run_without_pause_that_fits_a_day_to_the_minute_is_allowed_and_one_more_is_a_fault() -> None:
    """Two periods of 240 min with half an hour between them are one stretch of 480 min."""
    step = machine_step(10, may_pause=False)
    assert explode(one(step, 480)).operations
    [fault] = faults(one(step, 481))
    assert (fault.file, fault.column) == ("routings.csv", "may_pause")
    assert fault.value == "P operation 10: run of 481 min without a pause"
    assert fault.expected == "an open stretch as long; the longest on LATHE is 480 min"


def test_a_break_longer_than_the_limit_ends_the_stretch() -> None:
    step = machine_step(10, may_pause=False)
    assert explode(one(step, 480, settings={"break_max_min": 30})).operations
    [fault] = faults(one(step, 241, settings={"break_max_min": 29}))
    assert "longest on LATHE is 240 min" in fault.expected


def test_unattended_time_up_to_its_limit_counts_for_a_run_without_pause() -> None:
    """Open 08:00-16:30 attended but for the break, 16:30-22:00 unattended: 480 + 100 min, not more."""
    day = calendar("day")
    late = tuple(Hours(d, time(16, 30), time(22), False) for d in range(5))
    longer = replace(day, hours=day.hours + late)
    calendars = {"day": longer, "anodiser": calendar("anodiser")}
    step = machine_step(10, may_pause=False, unattended_limit_min=100)
    assert explode(one(step, 580, calendars=calendars)).operations
    assert "longest on LATHE is 580 min" in faults(one(step, 581, calendars=calendars))[0].expected


def test_a_manual_run_without_pause_is_lengthened_where_its_skill_approves_first_offs() -> None:
    """384 min x 125 % = 480 fits; 385 does not. Without first-offs anywhere, it does."""
    inspect = manual_step(20, skill="inspecting", may_pause=False)
    approved = machine_step(10, first_off_skill="inspecting", first_off_min=5)
    routing = {"P": (approved, inspect)}
    assert explode(shop((order("C1", "P", 384),), routings=routing)).operations
    assert "run of 482 min" in faults(shop((order("C1", "P", 385),), routings=routing))[0].value
    assert explode(shop((order("C1", "P", 385),), routings={"P": (machine_step(10), inspect)})).operations


def test_the_largest_of_several_batches_is_named_once() -> None:
    made = shop((order("C1", "P", 500), order("C2", "P", 900)), routings={"P": (machine_step(10, may_pause=False),)})
    assert [f.value for f in faults(made)] == ["P operation 10: run of 900 min without a pause"]


# --- people -------------------------------------------------------------------------------------------


def test_a_manual_step_that_no_skilled_person_can_meet_is_a_fault() -> None:
    """Bob alone fits; working nights he never meets a bench that is attended by day."""
    made = one(manual_step(10))
    nights = replace(
        made, calendars=made.calendars | {"night": NIGHT}, people={"Bob": Person("Bob", "night", ("fitting",))}
    )
    assert explode(made).operations
    [fault] = faults(nights)
    assert (fault.column, fault.value) == ("skill", "P operation 10: fitting")
    assert fault.expected == "somebody who does it while BENCH is attended"


def test_a_machine_that_no_setter_can_meet_is_a_fault_unless_it_is_set_already() -> None:
    made = one(machine_step(10))
    people = {"Ann": Person("Ann", "night", ("turning",))}
    nights = replace(made, calendars=made.calendars | {"night": NIGHT}, people=people)
    assert faults(nights)[0].expected == "somebody who sets it while LATHE is attended"
    running = open_batch("B1", "P", 10, progress=(Progress(10, "running", machine="LATHE"),))
    assert explode(replace(nights, orders={}, batches={"B1": running})).operations


def test_a_setter_must_be_there_long_enough_for_one_setup_unless_it_can_be_handed_over() -> None:
    """Both setters are there on one day only, 480 min together with the machine."""
    calendars = {"day": calendar("day"), "anodiser": calendar("anodiser"), "once": calendar("once", date(2026, 3, 23))}
    people = {name: Person(name, "once", ("turning",)) for name in ("Ann", "Bob")}
    assert explode(one(machine_step(10, setup_min=480), calendars=calendars, people=people)).operations
    longer = one(machine_step(10, setup_min=481), calendars=calendars, people=people)
    assert faults(longer)[0].value == "P operation 10: turning"
    assert explode(replace(longer, settings=replace(longer.settings, handover_min=10))).operations


def test_manual_work_may_be_shared_by_people_who_are_there_a_minute() -> None:
    """Bob fits on one day only; others may go on, so no length is asked of him by himself."""
    calendars = {"day": calendar("day"), "anodiser": calendar("anodiser"), "once": calendar("once", date(2026, 3, 23))}
    people = {"Bob": Person("Bob", "once", ("fitting",))}
    assert explode(one(manual_step(10), 500, calendars=calendars, people=people)).operations


def test_a_manual_step_needs_a_skill() -> None:
    assert faults(one(manual_step(10, skill=None)))[0].expected == "a skill for a manual step"


def test_a_first_off_needs_an_approver_other_than_the_only_setter() -> None:
    """Ann alone inspects: she cannot approve what only she sets, but with Bob as a setter she can."""
    step = machine_step(10, skill="special", first_off_skill="inspecting", first_off_min=5)
    alone = {"Ann": Person("Ann", "day", ("special", "inspecting"))}
    [fault] = faults(one(step, people=alone))
    assert (fault.column, fault.value) == ("first_off_skill", "P operation 10: inspecting")
    assert explode(one(step, people=alone | {"Bob": Person("Bob", "day", ("special",))})).operations
    assert explode(one(step, people=alone, settings={"setter_may_approve": True})).operations


def test_nobody_to_approve_at_all_is_a_fault() -> None:
    step = machine_step(10, first_off_skill="measuring", first_off_min=5)
    assert faults(one(step))[0].value == "P operation 10: measuring"


# --- hours --------------------------------------------------------------------------------------------


def test_a_machine_without_open_time_after_the_plan_start_is_a_fault() -> None:
    calendars = {"day": calendar("day"), "anodiser": calendar("anodiser"), "old": calendar("old", date(2026, 3, 20))}
    machines = {"LATHE": Machine("LATHE", "lathes", "old")}
    [fault] = faults(one(machine_step(10), calendars=calendars, machines=machines))
    assert (fault.file, fault.column, fault.value) == ("calendars.csv", "known_to", "P operation 10 on LATHE")


def test_a_run_that_would_fill_all_known_hours_to_the_minute_is_allowed_and_one_more_is_a_fault() -> None:
    """Known to Tuesday: two days of 480 min."""
    calendars = {name: calendar(name, date(2026, 3, 24)) for name in ("day", "anodiser")}
    assert explode(one(machine_step(10), 960, calendars=calendars)).operations
    assert faults(one(machine_step(10), 961, calendars=calendars))[0].column == "known_to"


def test_downtime_to_the_end_of_the_calendar_is_a_fault() -> None:
    away = Absence(datetime(2026, 3, 1), datetime(2026, 12, 31), "gone")
    assert faults(one(machine_step(10), machines={"LATHE": Machine("LATHE", "lathes", "day", downtime=(away,))}))


def test_material_after_the_known_shop_calendar_is_a_fault() -> None:
    late = shop((order("C1", "P", 1, material_date=date(2026, 7, 1)),))
    assert "a day within the known shop calendar" in {f.expected for f in faults(late)}


def test_steps_that_are_done_are_not_checked() -> None:
    step = machine_step(10, may_pause=False)
    done = open_batch("B1", "P", 900, progress=(Progress(10, "done"),))
    assert explode(shop(routings={"P": (step,)}, batches=(done,))).operations
    nobody = manual_step(10, skill="flying")
    assert explode(shop(routings={"P": (nobody,)}, batches=(done,))).operations


# --- quantities -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("rule", [BatchRule(maximum=5, multiple=10), BatchRule(minimum=8, maximum=7)])
def test_a_batch_rule_without_a_quantity_is_a_fault(rule: BatchRule) -> None:
    [fault] = faults(shop((order("C1", "P", 1),), (part("P", rule=rule),)))
    assert (fault.file, fault.column, fault.value) == ("parts.csv", "batch_maximum", f"P: {rule.maximum}")


def test_a_largest_batch_without_a_good_piece_is_a_fault() -> None:
    """At 10 % yield a batch of 10 brings one good piece, a batch of 9 none to count on."""
    assert explode(shop((order("C1", "P", 1),), (part("P", yield_percent=10.0, rule=BatchRule(maximum=10)),))).batches
    assert faults(shop((order("C1", "P", 1),), (part("P", yield_percent=10.0, rule=BatchRule(maximum=9)),)))


@pytest.mark.parametrize("percent", [100, -1])
def test_certainty_is_a_fault(percent: int) -> None:
    assert faults(shop(settings={"confidence_percent": percent}))[0].file == "settings.csv"


def test_all_faults_are_listed_at_once() -> None:
    steps = {"P": (machine_step(10, may_pause=False), manual_step(20, skill="flying"))}
    found = faults(shop((order("C1", "P", 900),), routings=steps))
    assert {f.column for f in found} == {"may_pause", "skill"}


@pytest.mark.parametrize(("good", "needed"), [(9, True), (10, False)])
def test_what_has_nothing_left_to_run_needs_nobody_to_approve_it(good: int, needed: bool) -> None:
    """Its first-off was not booked as passed, but there is none to be made any more."""
    step = machine_step(10, first_off_skill="measuring", first_off_min=5)
    progress = (Progress(10, "running", "LATHE", good=good, scrap=0, setup_left_min=0),)
    made = shop((), routings={"P": (step,)}, batches=(open_batch("B1", "P", 10, progress=progress),))
    if needed:
        assert [fault.column for fault in faults(made)] == ["first_off_skill"]
    else:
        assert explode(made).operations
