"""Plans from now on: started work stays, little changes, decisions hold; what changed is told; yes, no, and back."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pytest
from days import Day, at

from planner.answers.lists import machine_lists
from planner.day import acceptance
from planner.day.deciding import decide_and_time
from planner.day.decisions import Decision
from planner.day.differences import differences
from planner.day.moving import breaches_of_move
from planner.day.refusal import Refused
from planner.day.replan import time_again
from planner.faults import PlanFileFault
from planner.main_job import load_plan, stored_job
from planner.plan import Step
from planner.store import StoreFault
from planner.store.edit import add_row
from planner.work import Begun


def step_of(job, batch: str, number: int) -> Step:  # type: ignore[no-untyped-def]
    return job.plan.step_of()[job.work.places[batch, number]]


def start_of(job, batch: str, number: int) -> datetime:  # type: ignore[no-untyped-def]
    return job.work.local(step_of(job, batch, number).start).replace(tzinfo=None)


def machine_of(job, batch: str, number: int) -> str:  # type: ignore[no-untyped-def]
    return job.work.machines[step_of(job, batch, number).machine].name


# --- from now on -----------------------------------------------------------------------------------


def test_nothing_has_happened_and_nothing_changes(planned: Day) -> None:
    found = planned.plan("08:00")
    assert differences(planned.followed, found.job).words == ("Nothing changes that anybody would notice.",)


def test_now_is_the_plan_start_and_started_work_stays_where_it_is(planned: Day) -> None:
    planned.book("good", "B-1", 10, "10:00", good=15)
    job = planned.plan("10:10").job
    assert job.work.local(0).replace(tzinfo=None) == at("10:10")
    op = job.work.operations[job.work.places["B-1", 10]]
    assert (op.begun, op.pieces_left) == (Begun.RUNNING, 12)
    assert (step_of(job, "B-1", 10).start, machine_of(job, "B-1", 10)) == (0, "L1")


def test_what_is_being_set_has_less_left_to_set(planned: Day) -> None:
    """B-2 had 15 minutes left at 08:00 and nobody has booked the setup done: at 08:10 there are 5, at 09:00 still one."""
    assert planned.plan("08:10").job.work.operations[planned.followed.work.places["B-2", 20]].setup_left_min == 5
    planned.plan("09:00")
    assert planned.step("B-2", 20)["setup_left_min"] == "1"
    planned.book("setup done", "B-2", 20, "09:01")


def test_setting_counts_down_from_its_start_in_attended_minutes(planned: Day) -> None:
    """L2 is attended until 12:00 and from 12:30 on: of 35 minutes from 11:50 on, 15 are done by 12:35."""
    name = carriers(planned.followed)
    planned.book("start", name, 10, "11:50", machine="L2")
    planned.plan("12:35")
    assert planned.step(name, 10)["setup_left_min"] == "20"


def test_nobody_sets_a_machine_that_is_down(planned: Day) -> None:
    """B-2 on M1 has 15 minutes left at 08:00: the machine is down from 08:05 to 08:30, so 5 are done by then and 9 at 08:34."""
    planned.happen("down", "M1", "08:05", until=at("12:00"))
    planned.plan("08:20")
    assert planned.step("B-2", 20)["setup_left_min"] == "10"
    planned.happen("up", "M1", "08:30")
    planned.plan("08:34")
    assert planned.step("B-2", 20)["setup_left_min"] == "6"


def test_nobody_sets_who_is_away(planned: Day) -> None:
    """Ada sets B-2 and leaves at 08:05."""
    planned.happen("away", "Ada", "08:05", until=at("12:00"))
    planned.plan("08:20")
    assert planned.step("B-2", 20)["setup_left_min"] == "10"


def test_setting_again_after_a_first_off_that_failed_counts_from_then(planned: Day) -> None:
    """Bodies on L1: set at once, first-off failed at 09:30 with 20 minutes to set again; 15 are left at 09:35."""
    name = "O-1/GR-110-1"
    planned.book("finish", "B-1", 10, "08:30")
    planned.book("start", name, 10, "08:30", machine="L1")
    planned.book("good", name, 10, "09:00", good=1)
    planned.book("first-off failed", name, 10, "09:30", setup_min=20)
    planned.plan("09:35")
    assert planned.step(name, 10)["setup_left_min"] == "15"
    planned.plan("09:40")
    assert planned.step(name, 10)["setup_left_min"] == "10"


def test_a_start_that_was_undone_counts_nothing_down(planned: Day) -> None:
    """Started on L2 at 08:00 by mistake, and really at 09:00: of the minutes to set, 10 are done by 09:10."""
    name = carriers(planned.followed)
    planned.book("start", name, 10, "08:00", machine="L2")
    planned.undo(time="08:50")
    to_set = planned.book("start", name, 10, "09:00", machine="L2").data["setup_min"]
    planned.plan("09:10")
    assert planned.step(name, 10)["setup_left_min"] == str(to_set - 10)


def test_a_breakdown_moves_what_it_must_and_says_why(planned: Day) -> None:
    planned.happen("down", "M1", "09:00", until=at("16:00", 26), reason="spindle")
    found = planned.plan("09:05", trials=60)
    told = differences(planned.followed, found.job)
    by_order = {o.order: o for o in told.orders}
    assert by_order["O-4"].what == "newly late"
    assert "M1 down 2026-03-23 09:00 to 2026-03-26 16:00 (spindle)" in by_order["O-4"].why
    assert told.words[0].startswith("1 order newly late: O-4")


def test_a_new_order_and_one_that_is_gone_are_told(planned: Day) -> None:
    planned.happen("hot", "O-9", part="GR-120", quantity=10, due="2026-03-27", priority="urgent")
    planned.happen("cancel", "O-5")
    told = {o.order: o.what for o in differences(planned.followed, planned.plan("09:05").job).orders}
    assert (told["O-9"], told["O-5"]) == ("new", "gone")


# --- yes, no, and back ---------------------------------------------------------------------------------


def test_lists_follow_the_accepted_plan_until_another_is_accepted(planned: Day) -> None:
    before = machine_lists(planned.followed.work, planned.followed.plan)
    planned.book("finish", "B-1", 10, "10:00")
    planned.happen("down", "M1", "10:00", until=at("16:00", 26))
    found = planned.plan("10:05")
    assert machine_lists(planned.followed.work, planned.followed.plan) == before
    acceptance.accept(planned.store, "Ann", at("10:06"), found.number)
    assert planned.followed.plan == found.job.plan
    acceptance.undo_acceptance(planned.store, "Ann", at("10:07"))
    assert machine_lists(planned.followed.work, planned.followed.plan) == before
    acceptance.accept(planned.store, "Ann", at("10:08"))
    assert planned.followed.plan == found.job.plan


def test_a_plan_is_accepted_by_name_and_time(planned: Day) -> None:
    plan = planned.store.plans()[0]
    entry = next(e for e in planned.store.entries("plan") if e.id == plan.decided)
    assert (plan.state, entry.who, entry.at, entry.what) == ("accepted", "Ann", at("08:00"), "accepted")


def test_a_refused_plan_is_kept_but_not_followed(planned: Day) -> None:
    found = planned.plan("08:30")
    acceptance.refuse(planned.store, "Ann", at("08:31"), why="too much moves")
    assert [p.state for p in planned.store.plans()] == ["accepted", "refused"]
    assert planned.store.entries()[-1].words == f"Plan {found.number} refused: too much moves."
    with pytest.raises(Refused, match="does not wait"):
        acceptance.accept(planned.store, "Ann", at("08:32"), found.number)


def test_two_plan_at_once_and_the_second_to_accept_is_told(planned: Day) -> None:
    one, two = planned.plan("08:30"), planned.plan("08:31")
    acceptance.accept(planned.store, "Ben", at("08:32"), two.number)
    with pytest.raises(Refused, match=f"Plan {two.number} was accepted by Ben at 2026-03-23 08:32"):
        acceptance.accept(planned.store, "Ann", at("08:33"), one.number)


def test_what_was_booked_since_a_plan_was_made_is_said(planned: Day) -> None:
    found = planned.plan("08:30")
    planned.book("good", "B-1", 10, "08:40", good=1)
    assert (
        "1 entry since it was made is not in it"
        in acceptance.accept(planned.store, "Ann", at("08:41"), found.number).words
    )
    assert planned.followed.plan == found.job.plan


def test_without_an_accepted_plan_there_is_none_to_follow(day: Day) -> None:
    with pytest.raises(StoreFault, match="no plan is accepted now"):
        load_plan(day.place)
    with pytest.raises(Refused, match="No plan waits"):
        acceptance.accept(day.store, "Ann", at("09:00"))
    with pytest.raises(Refused, match="No plan is accepted"):
        acceptance.undo_acceptance(day.store, "Ann", at("09:00"))
    assert time_again(day.store, "Ann", at("09:00")) is None


def test_a_damaged_plan_is_not_accepted(planned: Day) -> None:
    number: list[int] = []

    def keep(writing):  # type: ignore[no-untyped-def]
        from planner.store import Note

        plan = writing.accepted()
        number.append(writing.keep_plan(plan.document.replace("GR-1", "GR-2"), "Ann", plan.entry))
        return Note("damaged")

    planned.store.write("Ann", at("09:00"), "plan", "made", keep)
    with pytest.raises(PlanFileFault):
        acceptance.accept(planned.store, "Ann", at("09:00"), number[0])


# --- decisions ---------------------------------------------------------------------------------------------


def test_a_step_is_pinned_and_the_next_plan_keeps_it(planned: Day) -> None:
    """Batches of carriers may be turned on either lathe."""
    job = planned.followed
    name = carriers(job)
    other = "L1" if machine_of(job, name, 10) == "L2" else "L2"
    planned.decide("pin", name, 10, machine=other, reason="the better chuck")
    found = time_again(planned.store, "Ann", at("09:00"))
    assert found is not None and machine_of(found.job, name, 10) == other
    told = differences(job, found.job)
    moved = [s for s in told.steps if s.batch == name]
    assert not moved or (moved[0].what, moved[0].now_machine) == ("other machine", other)
    assert machine_of(planned.plan("09:10").job, name, 10) == other
    planned.decide("lift", name, 10, "09:20")
    with pytest.raises(Refused, match="Nothing is decided"):
        planned.decide("lift", name, 10, "09:20")


def carriers(job) -> str:  # type: ignore[no-untyped-def]
    """A batch of GR-120 that is not begun."""
    return next(b.name for b in job.work.batches if b.part == "GR-120" and not b.is_open)


def test_a_step_stays_off_a_machine(planned: Day) -> None:
    name = carriers(planned.followed)
    planned.decide("not on", name, 10, machine="L2")
    assert machine_of(planned.plan("09:00").job, name, 10) == "L1"
    with pytest.raises(Refused, match="nothing else can do the operation"):
        planned.decide("not on", name, 10, machine="L1")


def test_a_step_is_held(planned: Day) -> None:
    name = carriers(planned.followed)
    planned.decide("hold", name, 10, until=at("08:00", 26), reason="tool on order")
    assert start_of(planned.plan("09:00").job, name, 10) >= at("08:00", 26)
    with pytest.raises(Refused, match="that long already"):
        planned.decide("hold", name, 10, until=at("08:00", 25))


def test_two_steps_stay_together(planned: Day) -> None:
    """The bodies of O-1 follow those of O-2 on L1, with nothing in between."""
    planned.decide("after", "O-1/GR-110-1", 10, other=("O-2/GR-110-1", 10), machine="L1")
    for found in (time_again(planned.store, "Ann", at("09:00")), planned.plan("09:00")):
        assert found is not None
        queue = on_machine(found.job, "L1")
        assert queue.index(("O-1/GR-110-1", 10)) == queue.index(("O-2/GR-110-1", 10)) + 1


def on_machine(job, name: str) -> list[tuple[str, int]]:  # type: ignore[no-untyped-def]
    steps = [s for s in job.plan.steps if s.machine is not None and job.work.machines[s.machine].name == name]
    ops = [job.work.operations[s.operation] for s in sorted(steps, key=lambda s: (s.start, s.run_end))]
    return [(job.work.batches[op.batch].name, op.number) for op in ops]


def test_two_steps_change_places(planned: Day) -> None:
    queue = on_machine(planned.followed, "A1")
    first, second = [name for name in queue if name[1] == 10][:2]
    planned.decide("swap", *first, other=second)
    found = time_again(planned.store, "Ann", at("09:00"))
    assert found is not None
    now = on_machine(found.job, "A1")
    assert now.index(second) < now.index(first)


def test_a_move_says_what_it_breaks_and_is_timed_again(planned: Day) -> None:
    """Onto L1 at 08:30, where B-1 is running: two at a time cannot be; timed again, it comes after."""
    name = carriers(planned.followed)
    broken = breaches_of_move(planned.store, (name, 10), "L1", at("08:30"))
    assert any("L1" in line for line in broken)
    planned.decide("move", name, 10, "08:10", machine="L1", until=at("08:30"))
    found = time_again(planned.store, "Ann", at("08:10"))
    assert found is not None
    assert machine_of(found.job, name, 10) == "L1"
    queue = on_machine(found.job, "L1")
    assert queue[queue.index((name, 10)) - 1] == ("B-1", 10)
    assert (
        breaches_of_move(
            planned.store, (name, 10), machine_of(planned.followed, name, 10), start_of(planned.followed, name, 10)
        )
        == []
    )


def test_what_cannot_be_kept_of_another_step_is_no_reason_to_refuse(planned: Day) -> None:
    """Bodies get an operation 100. Carriers have none, so the pin of theirs is left out; operation 10 is another one."""
    name = carriers(planned.followed)
    cells = "part=GR-110|operation=100|description=check|kind=manual|group=bench|setup_min=0|cycle_sec=30|skill=inspect"
    add_row(planned.store, "Ann", at("09:00"), "routings", dict(pair.split("=") for pair in cells.split("|")))
    add_row(planned.store, "Ann", at("09:00"), "pins", {"batch": name, "operation": "100", "machine": "D1"})
    planned.decide("hold", name, 10, until=at("08:00", 26))
    assert planned.row("pins", batch=name, operation=10)["not_before"] == "2026-03-26 08:00"


def test_a_decision_tells_why_no_plan_waits(planned: Day) -> None:
    """With no accepted plan nothing can be timed again; the decision stands all the same."""
    name = carriers(planned.followed)
    asked = Decision("hold", (name, 10), at("09:00"), until=at("08:00", 26))
    acceptance.undo_acceptance(planned.store, "Ann", at("09:00"))
    found = decide_and_time(planned.store, "Ann", asked)
    assert (found.plan, found.changes, "No plan is accepted now" in found.note) == (None, None, True)
    assert planned.row("pins", batch=name, operation=10)["not_before"] == "2026-03-26 08:00"
    acceptance.accept(planned.store, "Ann", at("09:01"))
    again = decide_and_time(planned.store, "Ann", replace(asked, until=at("08:00", 27)))
    assert (again.plan, again.note) == (2, "")


def test_what_has_begun_or_is_not_there_is_not_decided_about(planned: Day) -> None:
    with pytest.raises(Refused, match="has begun"):
        planned.decide("pin", "B-1", 10, machine="L2")
    with pytest.raises(Refused, match="There is no batch X"):
        planned.decide("pin", "X", 10, machine="L2")
    with pytest.raises(Refused, match="There is no machine 'L11'"):
        planned.decide("pin", carriers(planned.followed), 10, machine="L11")
    with pytest.raises(Refused, match="There is no person 'Cloe'"):
        planned.decide("pin", carriers(planned.followed), 10, person="Cloe")
    with pytest.raises(Refused, match="Say which machine"):
        planned.decide("not on", carriers(planned.followed), 10)
    with pytest.raises(Refused, match="cannot do the operation"):
        planned.decide("pin", carriers(planned.followed), 10, machine="M1")
    with pytest.raises(Refused, match="do not have the skill"):
        planned.decide("pin", carriers(planned.followed), 10, person="Cleo")


def test_a_decision_is_undone(planned: Day) -> None:
    before = planned.store.sheets()
    entry = planned.decide("hold", carriers(planned.followed), 10, until=at("08:00", 26))
    planned.undo(entry.id)
    assert planned.store.sheets()["pins"] == before["pins"]


def test_every_plan_that_is_kept_can_be_read_again(planned: Day) -> None:
    planned.book("finish", "B-1", 10, "09:00")
    planned.plan("09:10")
    for line in planned.store.plans():
        plan = planned.store.plan(line.id)
        assert plan is not None and stored_job(planned.store, plan).plan.complete


# --- what is being set, and what waits ---------------------------------------------------------------


def test_a_moment_before_the_tables_own_sets_nothing_back(planned: Day) -> None:
    """10 minutes are left at 08:05. A plan for 08:00 made afterwards does not give them back."""
    planned.plan("08:05")
    assert planned.step("B-2", 20)["setup_left_min"] == "10"
    planned.plan("08:00")
    assert planned.step("B-2", 20)["setup_left_min"] == "10"


def test_what_is_undone_does_not_bring_back_minutes_that_were_set_since(planned: Day) -> None:
    """Of 15 minutes 11 have been set when a plan is made; taking back what was scrapped before changes nothing of that."""
    planned.book("scrap", "B-2", 20, "08:01", scrap=1)
    planned.plan("08:11")
    assert planned.step("B-2", 20)["setup_left_min"] == "4"
    planned.undo(time="08:12")
    step = planned.step("B-2", 20)
    assert (step["setup_left_min"], step.get("scrap", "0")) == ("4", "0")


def test_while_work_is_stopped_nothing_is_set(planned: Day) -> None:
    planned.book("stop", "B-2", 20, "08:01")
    planned.plan("08:30")
    assert planned.step("B-2", 20)["setup_left_min"] == "14"


def test_a_plan_made_before_another_was_accepted_does_not_wait_any_more(planned: Day) -> None:
    first = planned.plan("08:10")
    planned.plan("08:20", accept=True)
    assert first.number is not None
    assert planned.store.waiting() is None
    with pytest.raises(Refused, match="No plan waits"):
        acceptance.accept(planned.store, "Ann", at("08:30"))
    with pytest.raises(Refused, match="plan again"):
        acceptance.accept(planned.store, "Ann", at("08:30"), first.number)
    acceptance.undo_acceptance(planned.store, "Ann", at("08:30"))
    assert planned.store.waiting() is not None
