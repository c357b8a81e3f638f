"""Dates for an enquiry: cases whose answer is known by hand, and what must hold for any shop."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.answers.feeds import ready_times
from planner.dates import Enquiry, dates
from planner.dates.chances import with_chances
from planner.dates.enquiry import asked
from planner.dates.part_of_it import part_of_it
from planner.dates.placing import behind, finish_of, moved_steps
from planner.dates.searching import limits
from planner.dates.yielding import hitting
from planner.explode import explode
from planner.faults import QuestionFault
from planner.main_job import Job, verified
from planner.search import search
from planner.shop import Component, Order, Pin, Progress
from planner.verify import verify
from tests.explode_shops import machine_step, manual_step, open_batch, order, outside_step, part, shop

HOUR = 60
TURNED = (part("A"), part("B"), part("E"))


def at(hour: int, minute: int = 0) -> datetime:
    """A time on the Monday on which plans start, at 08:00."""
    return datetime(2026, 3, 23, hour, minute)


def job_of(shop_, trials: int = 300) -> Job:
    work = explode(shop_)
    return verified(Job(shop_, work, search(work, trials=trials)))


def ask(job: Job, pieces: int, **more):
    return dates(job, Enquiry("E", pieces, **{"earliest": date(2026, 3, 2), **more}), trials=300)


# --- behind everything -------------------------------------------------------------------------


def a_gap_of_an_hour() -> Job:
    """A has the lathe from 08:00 to 10:00, B from 11:00 (not before, by decision) to 12:00."""
    orders = (order("A", "A", 90, at(10)), order("B", "B", 30, at(12)))
    return job_of(shop(orders, TURNED, pins=(Pin("B-1", 10, not_before=at(11)),)))


def test_an_enquiry_goes_into_a_gap_that_it_just_fills():
    """Half an hour of setting and 30 pieces of a minute: 10:00 to 11:00."""
    assert ask(a_gap_of_an_hour(), 30).behind.ready_min == 3 * HOUR


def test_and_behind_all_when_it_is_a_minute_too_long():
    """From 12:30, after lunch: half an hour of setting and 31 pieces."""
    assert ask(a_gap_of_an_hour(), 31).behind.ready_min == 5 * HOUR + 31


def test_nothing_in_the_plan_moves():
    job = a_gap_of_an_hour()
    found = ask(job, 31).behind
    assert found.moved == ()
    assert moved_steps(job.work, job.plan, asked(job, Enquiry("E", 31)).work, found.plan.steps) == []


@pytest.mark.parametrize(
    ("pieces", "back"),
    [(360, datetime(2026, 4, 2, 10)), (361, datetime(2026, 4, 7, 10))],
    ids=["at the cut-off", "a minute later"],
)
def test_the_collection_decides(pieces, back):
    """Tuesday 08:00 to 15:00 without lunch is 390 minutes: half an hour of setting and 360 pieces just make the van. Five working
    days after Tuesday is Tuesday 15:00, so back on Thursday; after Thursday it is Thursday 15:00, so back on Tuesday."""
    steps = {"E": (machine_step(10), outside_step(20))}
    job = job_of(shop((order("A", "A", 10),), TURNED, steps))
    found = ask(job, pieces, earliest=date(2026, 3, 24)).behind
    assert job.work.local(found.ready_min).replace(tzinfo=None) == back


def kit_shop(a: Order, y_cycle_sec: int):
    """E, put together at the bench from X off the lathe and Y off another; A is the order that is there."""
    other = {
        "X": (machine_step(10),),
        "Y": (machine_step(10, machine="LATHE2", cycle_sec=y_cycle_sec),),
        "E": (manual_step(10),),
    }
    parts = (part("A"), part("E"), part("X"), part("Y"))
    return shop((a,), parts, other, (Component("E", "X", 1, 10), Component("E", "Y", 1, 10)))


def test_a_kit_is_governed_by_its_latest_part_and_the_other_has_float():
    """X takes 30 + 60 minutes, Y 30 + 180 on another lathe: the kit is there at 11:30, and X could be two hours later."""
    job = job_of(kit_shop(order("A", "A", 0), y_cycle_sec=180))
    found = ask(job, 60).behind
    assert {k.part: (k.governs, k.float_min) for k in found.kit} == {"Y": (True, 0), "X": (False, 2 * HOUR)}
    assert found.ready_min == 3 * HOUR + 30 + 30 + 60  # lunch, then an hour at the bench


# --- others make room ---------------------------------------------------------------------------


def one_order(due: datetime, **more) -> Job:
    """A has the lathe from 08:00 to 10:00."""
    return job_of(shop((order("A", "A", 90, due, **more),), TURNED))


@pytest.mark.parametrize(
    ("due", "ready"), [(at(11), HOUR), (at(10, 59), 3 * HOUR)], ids=["just in time", "a minute past it"]
)
def test_no_promise_is_broken_for_an_enquiry(due, ready):
    """An hour of the enquiry first puts A off to 11:00."""
    found = ask(one_order(due), 30)
    assert found.behind.ready_min == 3 * HOUR
    assert found.unbroken.ready_min == ready
    assert found.unbroken.slips == ()


def test_the_promise_counts_and_not_the_due_date_where_both_are_given():
    """A is due at 10:00 and promised for the day: it may be put off."""
    assert ask(one_order(at(10), promise=date(2026, 3, 23)), 30).unbroken.ready_min == HOUR


def test_an_order_that_is_late_already_is_not_made_later():
    found = ask(one_order(at(9)), 30)
    assert found.unbroken.ready_min == 3 * HOUR


def test_the_earliest_date_of_all_is_said_to_be_proved():
    found = ask(one_order(at(11)), 30).unbroken
    assert found.proved_earliest


def test_the_wanted_date_costs_another_order_its_minutes():
    """Wanted at 09:00: A, due at 10:40, is ready at 11:00."""
    found = ask(one_order(at(10, 40)), 30, wanted=at(9))
    assert found.unbroken.ready_min == 3 * HOUR
    assert found.hitting.ready_min == HOUR
    assert [(m.order, m.late_before_min, m.late_now_min) for m in found.hitting.slips] == [("A", 0, 20)]


def test_a_wanted_date_that_cannot_be_is_said_to_be_so():
    found = ask(one_order(at(11)), 30, wanted=at(8, 59))
    assert found.hitting.late_min == 1
    assert any("not reached" in note for note in found.notes)


@pytest.mark.parametrize("wanted", [at(9), at(8, 59)], ids=["in time", "not in time"])
def test_what_the_wanted_date_costs_nobody_breaks_no_promise(monkeypatch, wanted):
    """The search for the soonest date may miss what the one that aims at a day finds."""
    monkeypatch.setattr("planner.dates.unbroken", lambda job, asked, start, how, tell: (start, False))
    found = ask(one_order(at(11)), 30, wanted=wanted)
    assert (found.behind.ready_min, found.unbroken.ready_min) == (3 * HOUR, HOUR)
    assert found.unbroken.slips == () and not found.unbroken.proved_earliest
    assert found.hitting.ready_min == HOUR


def test_what_the_wanted_date_costs_somebody_stays_apart(monkeypatch):
    monkeypatch.setattr("planner.dates.unbroken", lambda job, asked, start, how, tell: (start, False))
    found = ask(one_order(at(10, 40)), 30, wanted=at(9))
    assert (found.unbroken.ready_min, found.hitting.ready_min) == (3 * HOUR, HOUR)


def test_what_is_no_sooner_is_not_drawn_again(monkeypatch):
    drawn: list[str] = []

    def with_chances_counted(asked, found, *how):
        drawn.append(found.way)
        return with_chances(asked, found, *how)

    monkeypatch.setattr("planner.dates.with_chances", with_chances_counted)
    late = ask(one_order(at(9)), 30)
    assert drawn == ["behind everything"]
    assert replace(late.unbroken, way=late.behind.way, proved_earliest=False) == replace(
        late.behind, proved_earliest=False
    )
    assert late.unbroken.safe != ""
    ask(one_order(at(11)), 30)
    assert drawn[1:] == ["behind everything", "without breaking a promise"]


def test_no_more_is_asked_where_the_wanted_date_is_met():
    found = ask(one_order(at(11)), 30, wanted=at(9))
    assert (found.unbroken.late_min, found.hitting, found.part) == (0, None, None)


@pytest.mark.parametrize(("wanted", "pieces"), [(at(10, 45), 15), (at(10, 44), 14), (at(10, 31), 1)])
def test_part_of_it_can_be_had_in_time(wanted, pieces):
    """A keeps the lathe until 10:00, setting takes half an hour: a piece a minute from 10:30."""
    assert ask(one_order(at(10)), 30, wanted=wanted).part.pieces == pieces


@pytest.mark.parametrize(("wanted", "pieces"), [(at(10, 45), 15), (at(10, 31), 1), (at(12), 90)])
def test_few_of_many_are_found_in_few_looks(wanted, pieces):
    """Stopped after six looks, at least half of what can be had of 900 has been found; with time, all of it."""
    job, looks = one_order(at(10)), iter(range(6))
    by_min = int((wanted - at(8)).total_seconds() / 60)
    enquiry = Enquiry("E", 900, earliest=date(2026, 3, 2))
    some = part_of_it(job, enquiry, by_min, lambda: next(looks, None) is None)
    assert some is not None and pieces / 2 <= some[0].enquiry.pieces <= pieces
    most = part_of_it(job, enquiry, by_min)
    assert most is not None and most[0].enquiry.pieces == pieces


def test_not_one_piece_is_said_to_be_so():
    found = ask(one_order(at(10)), 30, wanted=at(10, 30))
    assert found.part is None
    assert any("Not one piece" in note for note in found.notes)


# --- what it is given ----------------------------------------------------------------------------


def test_an_enquiry_takes_only_what_is_over_even_where_it_is_wanted_first():
    """60 of A are in stock; the order for 50 keeps them though it is due a month later, so 30 must be made for it."""
    job = job_of(shop((order("A", "A", 50),), (part("A"), part("E")), stock={"A": 60}))
    found = dates(job, Enquiry("A", 40, wanted=at(12), earliest=date(2026, 3, 2)), trials=50).behind
    assert [(u.batch, u.operation) for u in found.used] == [("enquiry-1", 10)]
    assert found.ready_min == 30 + 30


def test_what_is_in_stock_is_ready_now():
    job = job_of(shop((order("A", "A", 0),), TURNED, stock={"E": 40}))
    found = ask(job, 40).behind
    assert (found.ready_min, found.used) == (0, ())


def test_its_material_holds_no_other_batch_back():
    """The enquiry takes 5 that the order's batch of 60 has over, and its own material comes a week later."""
    parts = (replace(part("E"), rule=replace(part("E").rule, minimum=60)),)
    job = job_of(shop((order("A", "E", 55, at(10)),), parts))
    found = ask(job, 5, earliest=date(2026, 3, 30)).behind
    assert (found.used, found.ready_min) == ((), 90)


def test_assumptions_name_what_is_taken_for_granted():
    steps = {"E": (machine_step(10, equipment=(("chuck", 1),)), outside_step(20))}
    job = job_of(shop((order("A", "A", 10),), TURNED, steps))
    lines = " ".join(dates(job, Enquiry("E", 10), trials=50).assumptions)
    for words in ("No material date", "Bright takes their usual 5 working days for hard", "chuck"):
        assert words in lines


# --- wrong questions -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("enquiry", "words"),
    [
        (Enquiry("EE", 5), "Did you mean 'E'?"),
        (Enquiry("", 5), "No part is named"),
        (Enquiry("E", 0), "expected 1 to"),
        (Enquiry("E", 5, wanted=date(2026, 3, 22)), "before the plan start"),
        (Enquiry("E", 5, wanted=date(2026, 3, 24), earliest=date(2026, 3, 25)), "Check the two dates"),
        (Enquiry("E", 5, priority="norml"), "Did you mean 'normal'?"),
        (Enquiry("E", 5, steps=(machine_step(10),)), "has steps in the tables already"),
        (Enquiry("S", 5), "is bought, not made"),
    ],
)  # fmt: skip
def test_a_wrong_question_is_told_how_to_mend_it(enquiry, words):
    job = job_of(shop((order("A", "A", 10),), (*TURNED, part("S", made=False))), trials=10)
    with pytest.raises(QuestionFault, match="(?s).*" + words.replace("?", r"\?")):
        dates(job, enquiry, trials=10)


def test_all_that_is_wrong_is_told_at_once():
    job = job_of(shop((order("A", "A", 10),), TURNED), trials=10)
    with pytest.raises(QuestionFault) as found:
        dates(job, Enquiry("Z", 0, priority="none", wanted=date(2026, 1, 1)), trials=10)
    assert len(found.value.reasons) == 4


def test_steps_of_a_new_part_are_planned_as_its_own():
    found = dates(one_order(at(11)), Enquiry("N", 30, earliest=date(2026, 3, 2), steps=(machine_step(10),)), trials=300)
    assert (found.behind.ready_min, found.unbroken.ready_min) == (3 * HOUR, HOUR)
    assert any("typed in" in line for line in found.assumptions)


# --- any shop ---------------------------------------------------------------------------------------

MORE = {"max_examples": 12, "deadline": None}


@st.composite
def shops_and_questions(draw):
    steps = {
        "A": (machine_step(10), manual_step(20)),
        "B": (machine_step(10, machine="LATHE2"), outside_step(20)),
        "E": (machine_step(10), manual_step(20), outside_step(30)),
    }
    orders = tuple(
        order(f"O{i}", draw(st.sampled_from("AB")), draw(st.integers(1, 200)), date(2026, 3, draw(st.integers(23, 31))))
        for i in range(draw(st.integers(1, 6)))
    )
    stock = {"E": draw(st.integers(0, 10)), "A": draw(st.integers(0, 50))}
    wanted = draw(st.none() | st.dates(date(2026, 3, 23), date(2026, 4, 20)))
    return shop(orders, TURNED, steps, stock=stock), Enquiry(
        draw(st.sampled_from("AE")), draw(st.integers(1, 150)), wanted
    )


@given(shops_and_questions())
@settings(**MORE)
def test_yielding_orders_never_make_it_later_and_every_answer_is_an_allowed_plan(case):
    shop_, enquiry = case
    job = job_of(shop_, trials=100)
    found = dates(job, enquiry, trials=60)
    work = asked(job, enquiry).work
    assert found.unbroken.ready_min <= found.behind.ready_min
    assert found.behind.moved == ()
    assert found.unbroken.slips == ()
    for reply in (found.behind, found.unbroken, found.hitting):
        assert reply is None or verify(work, reply.plan) == []
    if found.hitting is not None:
        assert found.hitting.late_min <= found.unbroken.late_min
    if found.part is not None:
        assert 1 <= found.part.pieces <= enquiry.pieces
        assert found.part.late_min <= 0
        assert found.part.moved == ()


def test_the_same_question_and_trials_give_the_same_answer():
    job = a_gap_of_an_hour()
    first, second = (ask(job, 31, wanted=at(9)) for _ in range(2))
    assert first == second


# --- the least harm for a wanted date ---------------------------------------------------------------


@pytest.mark.parametrize("firm", [7, 15])
def test_nothing_slips_for_the_wanted_date_where_it_can_be_hit_unharmed(firm: int):
    """Three days of orders of an hour each: so many are due when they end, the others have time. Wanted an hour after the last of
    those: there is a place behind it that hurts nobody, and sooner is at the cost of others."""
    hours = [datetime(2026, 3, day, hour) for day in (23, 24, 25) for hour in (8, 9, 10, 11, 13, 14, 15, 16)]
    orders = tuple(
        order(f"O{i:02}", "AB"[i % 2], 30, hour + timedelta(hours=1) if i < firm else date(2026, 4, 30))
        for i, hour in enumerate(hours)
    )
    job = job_of(shop(orders, TURNED), trials=1)  # as they are due, so that the last of those is before all others
    enquiry = Enquiry("E", 30, wanted=hours[firm] + timedelta(hours=1), earliest=date(2026, 3, 2))
    put = asked(job, enquiry)
    start = behind(job, put)
    assert put.wanted_min is not None and finish_of(put, start) > put.wanted_min
    plan = hitting(job, put, start, put.wanted_min, lambda share: {"trials": 1, "seed": 1})
    ready, limit = ready_times(put.work, plan), limits(job, put)
    assert put.wanted_min - HOUR <= finish_of(put, plan) <= put.wanted_min
    assert all(ready[o.number] <= limit[o.index] for o in put.work.orders if o.index in limit)


def test_an_order_that_slips_is_told_how_early_it_was():
    found = ask(one_order(at(10, 40)), 30, wanted=at(9)).hitting
    assert [(m.late_now_min, m.early_before_min) for m in found.slips] == [(20, 40)]
    assert found.plain()["slips"][0]["early_before_min"] == 40


def test_what_rests_on_something_of_its_own_says_so_and_what_all_rest_on_is_said_once():
    found = ask(one_order(at(10, 40)), 30, wanted=at(9))
    own = [line for reply in found.replies for line in reply.assumptions]
    assert found.assumptions
    assert not set(own) & set(found.assumptions)


def test_material_beyond_the_calendars_is_told_as_such():
    with pytest.raises(QuestionFault, match=r"--from.*known"):
        ask(one_order(at(11)), 30, earliest=date(2031, 1, 1))


def test_without_a_wanted_date_nothing_is_early_or_late():
    plain, wanted = ask(one_order(at(11)), 30), ask(one_order(at(11)), 30, wanted=at(16))
    assert "early" not in plain.behind.why.sentence and "late" not in plain.behind.why.sentence
    assert "early" in wanted.behind.why.sentence


@pytest.mark.parametrize("decided", [True, False])
def test_a_decision_is_not_given_up_for_an_enquiry(decided: bool):
    """B is decided to be right after A, which runs. It has weeks to spare, but the enquiry comes behind it; else it would go before."""
    after = Pin("B-1", 10, "LATHE", after_batch="A1", after_operation=10)
    running = open_batch("A1", "A", 60, progress=(Progress(10, "running", "LATHE", good=0, scrap=0, setup_left_min=0),))
    job = job_of(shop((order("B", "B", 60),), TURNED, batches=(running,), pins=(after,) if decided else ()))
    found = ask(job, 30, wanted=at(16))
    assert found.behind.ready_min == 60 + 90 + 60
    assert (found.unbroken or found.behind).ready_min == (60 + 90 + 60 if decided else 60 + 60)
