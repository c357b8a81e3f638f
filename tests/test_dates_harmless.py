"""The earliest date that breaks no promise: each of the two ways of looking for it by itself, and both together."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.dates import Enquiry
from planner.dates.enquiry import asked
from planner.dates.harmless import _Look, unbroken
from planner.dates.placing import behind, finish_of, just_in_time, moved_steps, put, retimed, soonest_of
from planner.dates.searching import broken, limits
from planner.timetable import Timetable
from tests.explode_shops import machine_step, order, part, shop
from tests.test_dates import HOUR, TURNED, at, job_of, kit_shop

WAYS = ("straight", "from_first")


def how(share):
    return {"seconds": None, "trials": 200, "seed": 1, "stop": None}


def look(due, tell=lambda ready: None, more=()) -> _Look:
    """A has the lathe from 08:00 to 10:00; of E half an hour of setting and 30 pieces of a minute are asked for."""
    job = job_of(shop((order("A", "A", 90, due), *more), TURNED))
    ask = asked(job, Enquiry("E", 30))
    return _Look(job, ask, behind(job, ask), how, tell)


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize(
    ("due", "ready"), [(at(11), HOUR), (at(10, 59), 3 * HOUR)], ids=["just in time", "a minute past it"]
)
def test_each_way_stops_at_the_limit_of_others(way, due, ready):
    found = look(due)
    assert found.ready(found.start) == 3 * HOUR
    assert found.ready(getattr(found, way)()) == ready


@pytest.mark.parametrize("way", WAYS)
def test_an_order_between_two_is_gone_before_where_that_is_all_there_is(way):
    """A has to be ready at 10:00, B follows by 12:30 and has until the evening: E goes between."""
    found = look(at(10), more=(order("B", "B", 60, at(16)),))
    assert found.ready(getattr(found, way)()) == 3 * HOUR


def test_what_is_told_is_ever_sooner_and_comes_true():
    told: list[int] = []
    found = look(at(11), told.append)
    plan, proved = unbroken(found.job, found.asked, found.start, how, told.append)
    assert told == sorted(set(told), reverse=True)
    assert told[-1] == finish_of(found.asked, plan) == HOUR
    assert proved and not broken(found.asked, plan, limits(found.job, found.asked))


def test_time_that_is_over_leaves_the_plan_behind_everything():
    found = look(at(11))
    found.how = lambda share: {**how(share), "seconds": 0.1, "trials": None}
    found._all_sec = 0.1
    assert found.straight() is found.from_first() is found.start


def half_of_kit() -> _Look:
    """A has the lathe from 08:00 to 10:00 and until the evening; X, half an hour of setting and half of running, goes behind it:
    early enough for a kit that waits for Y on the other lathe until 11:30."""
    job = job_of(kit_shop(order("A", "A", 90, at(16)), y_cycle_sec=360))
    ask = asked(job, Enquiry("E", 30))
    start = behind(job, ask)
    assert end_of_part(ask, start, "X") == 3 * HOUR
    return _Look(job, ask, start, how, lambda ready: None)


def end_of_part(ask, plan, part_) -> int:
    own = next(ask.work.batches[b] for b in ask.batches if ask.work.batches[b].part == part_)
    return plan.step_of()[own.operations[-1]].end


def test_a_component_is_early_where_the_kit_is_no_later_for_it():
    found = half_of_kit()
    plan = found.settled(found.start)
    assert found.ready(plan) == found.ready(found.start)
    assert end_of_part(found.asked, plan, "X") == HOUR
    assert not broken(found.asked, plan, found.bounds)


def test_what_is_no_kit_gives_others_their_running_order_back():
    """A and B, alike, have changed turns, and nobody gains or loses by it; X has the other lathe."""
    steps = {"X": (machine_step(10, machine="LATHE2"),)}
    orders = (order("A", "A", 30, at(16)), order("B", "B", 30, at(16)))
    job = job_of(shop(orders, (part("A"), part("B"), part("X")), steps))
    ask = asked(job, Enquiry("X", 30))
    start = behind(job, ask)
    first, second = (i for i in start.sequence if ask.work.operations[i].batch not in ask.batches)
    turned = {first: second, second: first}
    changed = retimed(ask.work, replace(start, sequence=tuple(turned.get(i, i) for i in start.sequence)), ask.work)
    assert len(moved_steps(job.work, job.plan, ask.work, changed.steps)) == 2
    plan = _Look(job, ask, start, how, lambda ready: None).settled(changed)
    assert finish_of(ask, plan) == finish_of(ask, start)
    assert moved_steps(job.work, job.plan, ask.work, plan.steps) == []


@pytest.mark.parametrize("by", [HOUR, 2 * HOUR, 3 * HOUR])
def test_letting_in_later_and_later_comes_to_the_latest_that_is_in_time(by):
    """Two orders of an hour and the enquiry of an hour: it is first, between them, or last."""
    job = job_of(shop((order("A", "A", 30, at(16)), order("B", "B", 30, at(16))), TURNED))
    ask = asked(job, Enquiry("E", 30))
    table, ready = Timetable(ask.work), []
    for listed in just_in_time(job, ask, behind(job, ask), by):
        put(table, listed)
        own = [i for batch in ask.batches for i in ask.work.batches[batch].operations]
        ready.append(int(table.ends()[own].max()))
    assert by in ready
    assert soonest_of(job, ask, behind(job, ask)) == HOUR
