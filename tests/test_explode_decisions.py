"""Pins and the accepted plan: what is kept, and what is left out with the reason."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

import pytest
from explode_shops import calendar, machine_step, manual_step, open_batch, order, outside_step, part, shop

from planner.explode import explode
from planner.plan import AcceptedStep
from planner.shop import Alternative, Calendar, ClosedDays, Machine, Person, Pin, Progress, Shop
from planner.work import Kept, Work

EITHER = machine_step(10, alternatives=(Alternative("LATHE2", 30, 60), Alternative("LATHE", 20, 50)))
PART = {"P": (EITHER, manual_step(20), outside_step(30))}
BENCH, LATHE, LATHE2 = 0, 1, 2
ANN, BOB = 0, 1


def pinned(*pins: Pin, **more: Any) -> Work:
    return explode(shop((order("C1", "P", 10),), routings=more.pop("routings", PART), pins=pins, **more))


# --- pins ------------------------------------------------------------------------------------------


def test_a_pin_reaches_its_operation() -> None:
    work = pinned(Pin("C1-1", 10, "LATHE2", "Ann", datetime(2026, 3, 24, 9, 0)), Pin("C1-1", 20, person="Bob"))
    first, second, _ = work.operations
    assert (first.pin_machine, first.pin_person, first.not_before_min) == (LATHE2, ANN, 1440 + 60)
    assert (second.pin_machine, second.pin_person, second.not_before_min) == (None, BOB, 0)
    assert work.left_out == ()


def test_a_not_before_in_the_past_is_the_plan_start() -> None:
    assert pinned(Pin("C1-1", 10, not_before=datetime(2026, 3, 2, 9, 0))).operations[0].not_before_min == 0


@pytest.mark.parametrize(
    ("pin", "reason"),
    [
        (Pin("C9-1", 10, "LATHE"), "Pin of batch C9-1 operation 10 not kept: there is no such batch."),
        (Pin("C1-1", 15, "LATHE"), "Pin of batch C1-1 operation 15 not kept: there is no such operation."),
        (Pin("C1-1", 10, "BENCH"), "Pin of batch C1-1 operation 10: machine BENCH not kept, it cannot do the operation."),
        (Pin("C1-1", 20, person="Ann"), "Pin of batch C1-1 operation 20: person Ann not kept, they do not have the skill 'fitting'."),
        (Pin("C1-1", 30, person="Ann"), "Pin of batch C1-1 operation 30: person Ann not kept, the operation needs nobody in particular."),
        (
            Pin("C1-1", 10, not_before=datetime(2026, 7, 1)),
            "Pin of batch C1-1 operation 10: not before 2026-07-01 00:00 not kept, the operation would lack: "
            "open time enough for it after the plan start and its release.",
        ),
    ],
)  # fmt: skip
def test_a_pin_that_cannot_be_kept_is_left_out_with_the_reason(pin: Pin, reason: str) -> None:
    work = pinned(pin)
    assert work.left_out == (reason,)
    assert all((op.pin_machine, op.pin_person, op.not_before_min) == (None, None, 0) for op in work.operations)


def test_a_pin_of_a_missing_operation_says_so_whatever_other_batches_there_are() -> None:
    work = explode(four(pins=(Pin("C2-1", 15, "LATHE"),)))
    assert work.left_out == ("Pin of batch C2-1 operation 15 not kept: there is no such operation.",)


def test_a_pin_to_a_machine_whose_hours_do_not_allow_the_work_is_not_kept() -> None:
    """480 min without a pause: one lathe is open so long, the other only in the mornings."""
    both = (Alternative("LATHE", 30, 60), Alternative("LATHE2", 30, 60))
    steps = {"P": (machine_step(10, alternatives=both, may_pause=False),)}
    day = calendar("day")
    morning = Calendar("morning", day.known_to, tuple(h for h in day.hours if h.start.hour == 8))
    calendars = {"day": day, "anodiser": calendar("anodiser"), "morning": morning}
    machines = {"LATHE": Machine("LATHE", "lathes", "day"), "LATHE2": Machine("LATHE2", "lathes", "morning")}

    def left_out(machine: str) -> tuple[str, ...]:
        pins = (Pin("C1-1", 10, machine),)
        made = shop((order("C1", "P", 480),), routings=steps, calendars=calendars, machines=machines, pins=pins)
        return explode(made).left_out

    assert left_out("LATHE") == ()
    assert "the longest on LATHE2 is 240 min" in left_out("LATHE2")[0]


def test_outside_work_may_be_held_back_to_the_last_cut_off_and_not_beyond() -> None:
    """Calendars to 30 June 2026: the last van with a known return is that of Thursday 18 June, 15:00."""

    def held(moment: datetime) -> bool:
        return pinned(Pin("C1-1", 30, not_before=moment)).operations[2].not_before_min > 0

    assert held(datetime(2026, 6, 18, 15, 0))
    assert not held(datetime(2026, 6, 18, 15, 1))


def test_what_can_be_kept_of_a_pin_is_kept() -> None:
    work = pinned(Pin("C1-1", 10, "BENCH", "Ann"))
    assert (work.operations[0].pin_machine, work.operations[0].pin_person) == (None, ANN)
    assert len(work.left_out) == 1


def test_a_person_pinned_to_manual_work_must_be_there_for_all_of_it() -> None:
    """Bob is there on Monday only, 480 min: a setup of 20 and 460 pieces of a minute fit, 461 do not."""
    once = {"day": calendar("day"), "anodiser": calendar("anodiser"), "once": calendar("once", date(2026, 3, 23))}
    people = {"Ann": Person("Ann", "day", ("turning", "fitting")), "Bob": Person("Bob", "once", ("fitting",))}
    steps = {"P": (manual_step(10, setup_min=20),)}

    def kept(pieces: int) -> bool:
        made = shop(
            (order("C1", "P", pieces),),
            routings=steps,
            calendars=once,
            people=people,
            pins=(Pin("C1-1", 10, person="Bob"),),
        )
        return explode(made).operations[0].pin_person == BOB

    assert kept(460)
    assert not kept(461)


def test_pinning_the_only_approver_as_setter_is_not_kept() -> None:
    """Ann alone inspects; as the setter she could not approve her own first piece, unless that is allowed."""
    steps = {"P": (machine_step(10, first_off_skill="inspecting", first_off_min=10),)}
    pin = Pin("C1-1", 10, person="Ann")
    work = pinned(pin, routings=steps)
    assert work.operations[0].pin_person is None
    assert "somebody other than the setter" in work.left_out[0]
    assert pinned(pin, routings=steps, settings={"setter_may_approve": True}).operations[0].pin_person == ANN


@pytest.mark.parametrize(("state", "kept"), [("part", True), ("running", False), ("done", False)])
def test_begun_work_cannot_be_pinned_unless_it_was_torn_down(state: str, kept: bool) -> None:
    open_ = open_batch("B1", "P", 10, progress=(Progress(10, state, machine="LATHE", good=1),))
    work = explode(shop(routings=PART, batches=(open_,), pins=(Pin("B1", 10, "LATHE2"),)))
    assert (work.operations[0].pin_machine == LATHE2) is kept
    assert work.left_out == (() if kept else ("Pin of batch B1 operation 10 not kept: the operation has begun.",))


# --- the accepted plan ---------------------------------------------------------------------------------


def four(**more: Any) -> Shop:
    """Orders C1 to C4 of one turned step each, either lathe."""
    orders = tuple(order(f"C{n}", "P", 10) for n in range(1, 5))
    return shop(orders, routings={"P": (EITHER,)}, **more)


def step(name: str, machine: str, start: str) -> AcceptedStep:
    return AcceptedStep(name, 10, machine, start)


def index(work: Work) -> dict[str, int]:
    return {work.batches[op.batch].name: op.index for op in work.operations}


def test_accepted_steps_keep_machine_and_place_by_accepted_start() -> None:
    accepted = (
        step("C3-1", "LATHE", "2026-03-24T11:00:00+00:00"),
        step("C1-1", "LATHE", "2026-03-24T08:00:00+00:00"),
        step("C2-1", "LATHE2", "2026-03-23T09:00:00+01:00"),
    )
    work = explode(four(), accepted)
    at = index(work)
    assert work.kept == (
        Kept(at["C1-1"], LATHE, None),
        Kept(at["C2-1"], LATHE2, None),
        Kept(at["C3-1"], LATHE, at["C1-1"]),
    )


def test_without_an_accepted_plan_nothing_is_kept() -> None:
    assert explode(four()).kept == ()


def test_change_has_a_price_for_the_working_days_asked_for() -> None:
    """Five working days from Monday 23 March, that day included, end at midnight after Friday 27th."""

    def kept(start: str) -> int:
        return len(explode(four(), (step("C1-1", "LATHE", start),)).kept)

    assert explode(four()).change_window_min == 5 * 1440 - 8 * 60
    assert (kept("2026-03-27T23:59:00+00:00"), kept("2026-03-28T00:00:00+00:00")) == (1, 0)
    assert kept("2026-03-20T08:00:00+00:00") == 1  # should have begun already


def test_change_has_no_price_where_no_days_are_asked_for() -> None:
    accepted = (step("C1-1", "LATHE", "2026-03-20T08:00:00+00:00"),)
    assert explode(four(settings={"change_days": 0}), accepted).kept == ()


def test_closed_days_lengthen_the_window_of_change() -> None:
    made = four(settings={"change_days": 2})
    tuesday = date(2026, 3, 24)
    day = made.calendars["day"]
    closed = type(day)(day.name, day.known_to, day.hours, (ClosedDays(tuesday, tuesday, ""),))
    assert explode(made).change_window_min == 2 * 1440 - 8 * 60
    made.calendars["day"] = closed
    assert explode(made).change_window_min == 3 * 1440 - 8 * 60


def test_the_window_of_change_ends_with_the_known_shop_calendar() -> None:
    made = four()
    day = made.calendars["day"]
    made.calendars["day"] = type(day)(day.name, date(2026, 3, 26), day.hours)
    assert explode(made).change_window_min == 4 * 1440 - 8 * 60


def test_accepted_steps_that_are_gone_or_cannot_be_done_there_are_passed_over() -> None:
    """The batch is gone, the machine cannot do it, or the machine is gone: the next one follows the one before."""
    accepted = (
        step("C1-1", "LATHE", "2026-03-23T08:00:00+00:00"),
        step("X1-1", "LATHE", "2026-03-23T09:00:00+00:00"),
        step("C2-1", "BENCH", "2026-03-23T10:00:00+00:00"),
        step("C3-1", "MILL", "2026-03-23T10:00:00+00:00"),
        step("C4-1", "LATHE", "2026-03-23T11:00:00+00:00"),
    )
    work = explode(four(), accepted)
    at = index(work)
    assert work.kept == (Kept(at["C1-1"], LATHE, None), Kept(at["C4-1"], LATHE, at["C1-1"]))


def test_a_pin_to_another_machine_frees_an_accepted_step() -> None:
    accepted = (step("C1-1", "LATHE", "2026-03-23T08:00:00+00:00"),)
    assert explode(four(pins=(Pin("C1-1", 10, "LATHE2"),)), accepted).kept == ()
    assert len(explode(four(pins=(Pin("C1-1", 10, "LATHE"),)), accepted).kept) == 1


def test_running_work_is_before_all_accepted_steps_of_its_machine() -> None:
    """It has a place in the order, but itself no price of change; done work has no place at all."""
    running = open_batch("B1", "P", 10, order="C1", progress=(Progress(10, "running", machine="LATHE"),))
    done = open_batch("B2", "P", 10, order="C2", progress=(Progress(10, "done"),))
    accepted = (
        step("B2", "LATHE", "2026-03-23T07:00:00+00:00"),
        step("B1", "LATHE", "2026-03-23T10:00:00+00:00"),
        step("C3-1", "LATHE", "2026-03-23T09:00:00+00:00"),
    )
    work = explode(four(batches=(running, done)), accepted)
    at = index(work)
    assert work.kept == (Kept(at["C3-1"], LATHE, at["B1"]),)


# --- kept off machines, kept together, frozen --------------------------------------------------------


def test_a_step_is_kept_off_machines_as_long_as_another_can_do_it() -> None:
    work = pinned(Pin("C1-1", 10, not_machines=("LATHE",)))
    assert [a.machine for a in work.operations[0].alternatives] == [LATHE2]
    both = pinned(Pin("C1-1", 10, not_machines=("LATHE", "LATHE2")))
    assert len(both.operations[0].alternatives) == 2
    assert both.left_out == (
        "Pin of batch C1-1 operation 10: not on LATHE, LATHE2 not kept, nothing else can do the operation.",
    )


def test_a_pin_and_a_barred_machine_that_contradict_each_other_keep_the_machine() -> None:
    work = pinned(Pin("C1-1", 10, "LATHE", not_machines=("LATHE",)))
    assert (work.operations[0].pin_machine, len(work.operations[0].alternatives)) == (LATHE, 2)
    assert len(work.left_out) == 1


def test_what_is_to_be_right_after_another_step_has_a_firm_price() -> None:
    """Also far beyond the days in which other changes have one, and in place of what the accepted plan had."""
    follow = Pin("C2-1", 10, "LATHE", after_batch="C1-1", after_operation=10)
    accepted = (step("C2-1", "LATHE", "2026-03-23T08:00:00+00:00"), step("C3-1", "LATHE", "2026-03-23T09:00:00+00:00"))
    work = explode(four(pins=(follow,)), accepted)
    at = index(work)
    assert work.kept == (Kept(at["C2-1"], LATHE, at["C1-1"], 100), Kept(at["C3-1"], LATHE, at["C2-1"]))
    assert explode(four(pins=(follow,), settings={"change_days": 0})).kept == (
        Kept(at["C2-1"], LATHE, at["C1-1"], 100),
    )


def test_what_follows_a_step_that_is_done_is_first_on_its_machine() -> None:
    done = open_batch("B1", "P", 10, order="C1", progress=(Progress(10, "done"),))
    work = explode(four(batches=(done,), pins=(Pin("C2-1", 10, "LATHE", after_batch="B1", after_operation=10),)))
    assert work.kept == (Kept(index(work)["C2-1"], LATHE, None, 100),)


def test_a_follower_of_something_that_is_gone_is_free() -> None:
    assert explode(four(pins=(Pin("C2-1", 10, "LATHE", after_batch="X", after_operation=10),))).kept == ()


def test_in_the_frozen_hours_a_change_has_a_hundred_times_the_price() -> None:
    """Four hours from 08:00 on: 11:59 is frozen, 12:00 is not."""
    accepted = (step("C1-1", "LATHE", "2026-03-23T11:59:00+00:00"), step("C2-1", "LATHE2", "2026-03-23T12:00:00+00:00"))
    assert [k.weight for k in explode(four(settings={"frozen_hours": 4}), accepted).kept] == [100, 1]
    assert [k.weight for k in explode(four(), accepted).kept] == [1, 1]


def test_settings_become_prices_and_rules() -> None:
    settings = {
        "wip_weight": 2,
        "setup_weight": 3,
        "charge_weight": 4,
        "change_machine_min": 5,
        "change_place_min": 6,
        "handover_min": 7,
    }
    work = explode(shop((order("C1", "P", 1),), (part("P"),), settings=settings))
    prices = work.prices
    assert (prices.wip_weight, prices.setup_weight, prices.charge_weight) == (2, 3, 4)
    assert (prices.change_machine_min, prices.change_place_min, work.handover_min) == (5, 6, 7)
    assert work.orders[0].weight == 3


@pytest.mark.parametrize(("frozen_hours", "weights"), [(0, []), (24, [100])])
def test_frozen_hours_hold_where_no_days_of_change_are_asked_for(frozen_hours: int, weights: list[int]) -> None:
    accepted = (step("C1-1", "LATHE", "2026-03-23T09:00:00+00:00"),)
    made = four(settings={"change_days": 0, "frozen_hours": frozen_hours})
    assert [k.weight for k in explode(made, accepted).kept] == weights


@pytest.mark.parametrize(("frozen_hours", "weight"), [(0, 1), (1, 100)])
def test_what_should_have_begun_is_frozen_only_where_something_is(frozen_hours: int, weight: int) -> None:
    accepted = (step("C1-1", "LATHE", "2026-03-23T07:59:00+00:00"),)
    made = four(settings={"frozen_hours": frozen_hours})
    assert [k.weight for k in explode(made, accepted).kept] == [weight]
