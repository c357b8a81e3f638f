"""Runs: one at a time, parts as they come, a stop that is heard, and faults told apart."""

from __future__ import annotations

import threading
import time

import pytest
from fastapi import APIRouter, FastAPI
from fastapi.testclient import TestClient
from starlette.exceptions import HTTPException

from web.errors import NotHere, add_handlers
from web.running import DONE, FAILED, RUNNING, STOPPED, Runs


def wait_for(runs, number):
    while runs.report(number).state == RUNNING:
        time.sleep(0.005)
    return runs.report(number)


def test_parts_come_in_order_and_only_those_asked_for():
    runs = Runs()
    number = runs.start("a count", lambda report: [report.part(i) for i in range(5)] and None)
    assert wait_for(runs, number).state == DONE
    answer = runs.report(number).answer(3)
    assert (answer.parts, answer.count) == ([3, 4], 5)
    assert runs.report(number).answer(9).parts == []


def test_a_second_run_is_refused_while_one_is_under_way_and_let_in_afterwards():
    runs, go_on = Runs(), threading.Event()
    first = runs.start("the first", lambda report: go_on.wait(10) and None)
    with pytest.raises(HTTPException) as refused:
        runs.start("the second", lambda report: None)
    assert refused.value.status_code == 409
    assert "the first" in refused.value.detail
    go_on.set()
    wait_for(runs, first)
    assert wait_for(runs, runs.start("the second", lambda report: None)).state == DONE


def test_a_run_that_nobody_looks_at_any_more_makes_way():
    runs = Runs()

    def work(report):
        while not report.stopped():
            time.sleep(0.005)

    left = runs.start("an enquiry of someone who has gone", work)
    runs.report(left).looked -= 60
    assert wait_for(runs, runs.start("the next", lambda report: None)).state == DONE
    assert runs.report(left).state == STOPPED


def test_the_stop_button_is_heard_and_what_was_found_stays():
    runs = Runs()

    def work(report):
        report.part("found before")
        while not report.stopped():
            time.sleep(0.005)

    number = runs.start("a long one", work)
    runs.report(number).ask_to_stop()
    report = wait_for(runs, number)
    assert (report.state, report.parts) == (STOPPED, ["found before"])


@pytest.mark.parametrize(
    ("fault", "told"), [(ValueError("no such part"), "no such part"), (KeyError("secret"), "A fault in the program")]
)
def test_expected_faults_are_told_as_they_are_and_others_without_their_inside(fault, told):
    runs = Runs()

    def work(report):
        raise fault

    report = wait_for(runs, runs.start("a failure", work, (ValueError,)))
    assert report.state == FAILED
    assert report.failure.startswith(told)
    assert "secret" not in report.failure


def test_only_the_last_runs_are_kept():
    runs = Runs()
    for _ in range(25):
        number = runs.start("one of many", lambda report: None)
        wait_for(runs, number)
    assert runs.report(number).number == 25
    with pytest.raises(NotHere):
        runs.report(5)


def test_addresses_look_at_a_run_and_stop_it():
    runs, router, app = Runs(), APIRouter(), FastAPI()
    runs.add_routes(router)
    app.include_router(router)
    add_handlers(app)
    client = TestClient(app)

    def work(report):
        report.say(phase="looking")
        report.part({"n": 1})
        while not report.stopped():
            time.sleep(0.005)

    number = runs.start("a look", work)
    while not runs.report(number).parts:
        time.sleep(0.005)
    seen = client.get(f"/api/runs/{number}").json()
    assert (seen["state"], seen["parts"], seen["progress"]) == (RUNNING, [{"n": 1}], {"phase": "looking"})
    client.post(f"/api/runs/{number}/stop")
    assert wait_for(runs, number).state == STOPPED
    assert client.get("/api/runs/77").json()["error"]["detail"] == "There is no run 77 any more. Ask again."
