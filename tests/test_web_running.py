"""Runs: in a process of their own, one at a time, parts as they come, a stop that is heard, and every way to fail told."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest
import run_tasks
from fastapi import APIRouter, FastAPI
from fastapi.testclient import TestClient
from starlette.exceptions import HTTPException

from web import running, workers
from web.errors import NotHere, add_handlers
from web.running import DONE, FAILED, RUNNING, STOPPED, Runs
from web.workers import Workers

# what a run is worked out in, less what takes seconds to load: nothing here plans anything
LIGHT = ("-c", "from web import worker; worker._load = lambda: None; worker.main()")
POSIX = pytest.mark.skipif(os.name != "posix", reason="looks for processes by their number")


@pytest.fixture(scope="module", autouse=True)
def light() -> Iterator[None]:
    """Processes of these tests alone."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(workers, "PROGRAM", LIGHT)
        patch.setattr(running, "WORKERS", Workers())
        yield
        running.WORKERS.end()


def wait_for(runs, number):
    while runs.report(number).state == RUNNING:
        time.sleep(0.005)
    return runs.report(number)


def first_part(runs, number):
    while not runs.report(number).parts:
        assert runs.report(number).state == RUNNING, runs.report(number).failure
        time.sleep(0.005)
    return runs.report(number).parts[0]


def is_there(pid):
    """Is there such a process, a zombie included?"""
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


def test_parts_come_in_order_and_only_those_asked_for_and_the_result_is_kept():
    runs, results = Runs(), []
    number = runs.start("a count", partial(run_tasks.count, 5), then=results.append)
    assert wait_for(runs, number).state == DONE
    answer = runs.report(number).answer(3)
    assert (answer.parts, answer.count) == ([3, 4], 5)
    assert runs.report(number).answer(9).parts == []
    assert results == [5]


def test_it_runs_in_another_process_which_the_next_run_finds_waiting():
    runs, pids = Runs(), []
    for _ in range(2):
        number = runs.start("a look", run_tasks.until_stopped)
        pids.append(first_part(runs, number)["pid"])
        runs.report(number).ask_to_stop()
        wait_for(runs, number)
    assert pids[0] == pids[1] != os.getpid()


def test_a_second_run_is_refused_while_one_is_under_way_and_let_in_afterwards(tmp_path):
    runs = Runs()
    first = runs.start("the first", partial(run_tasks.wait_for_file, tmp_path / "go"))
    with pytest.raises(HTTPException) as refused:
        runs.start("the second", run_tasks.nothing)
    assert refused.value.status_code == 409
    assert "the first" in refused.value.detail
    (tmp_path / "go").touch()
    assert wait_for(runs, first).state == DONE
    assert wait_for(runs, runs.start("the second", run_tasks.nothing)).state == DONE


def test_a_run_that_nobody_looks_at_any_more_makes_way():
    runs = Runs()
    left = runs.start("an enquiry of someone who has gone", run_tasks.until_stopped)
    first_part(runs, left)
    runs.report(left).looked -= 60
    assert wait_for(runs, runs.start("the next", run_tasks.nothing)).state == DONE
    assert runs.report(left).state == STOPPED


def test_the_stop_button_is_heard_and_what_was_found_stays():
    runs = Runs()
    number = runs.start("a long one", run_tasks.until_stopped)
    first_part(runs, number)
    runs.report(number).ask_to_stop()
    report = wait_for(runs, number)
    assert (report.state, len(report.parts)) == (STOPPED, 1)


def test_a_stop_before_it_has_begun_is_not_lost():
    runs = Runs()
    number = runs.start("a long one", run_tasks.until_stopped)
    runs.report(number).ask_to_stop()
    assert wait_for(runs, number).state == STOPPED


def test_a_stop_that_comes_late_does_not_stop_the_next():
    runs = Runs()
    number = runs.start("a short one", run_tasks.nothing)
    worker = runs.report(number).worker
    wait_for(runs, number)
    worker.stop()
    second = runs.start("the next", partial(run_tasks.count, 3))
    assert runs.report(second).worker is worker
    assert (wait_for(runs, second).state, runs.report(second).parts) == (DONE, [0, 1, 2])


def test_what_does_not_listen_to_a_stop_is_ended_by_force(monkeypatch, tmp_path):
    monkeypatch.setattr(running, "STOPS_SEC", 0.2)
    runs = Runs()
    number = runs.start("a deaf one", partial(run_tasks.wait_for_file, tmp_path / "never"))
    first_part(runs, number)
    runs.report(number).ask_to_stop()
    report = wait_for(runs, number)
    assert (report.state, "ended by force" in report.failure) == (FAILED, True)
    assert wait_for(runs, runs.start("the next", run_tasks.nothing)).state == DONE


@pytest.mark.parametrize(
    ("fault", "told"), [(ValueError("no such part"), "no such part"), (KeyError("secret"), "A fault in the program")]
)
def test_expected_faults_are_told_as_they_are_and_others_without_their_inside(fault, told):
    runs = Runs()
    report = wait_for(runs, runs.start("a failure", partial(run_tasks.fail, fault), (ValueError,)))
    assert report.state == FAILED
    assert report.failure.startswith(told)
    assert "secret" not in report.failure


def test_what_cannot_be_sent_is_a_fault_in_the_program_and_the_process_goes_on():
    runs = Runs()
    report = wait_for(runs, runs.start("a failure", run_tasks.unsendable))
    assert (report.state, report.failure[:22]) == (FAILED, "A fault in the program")
    second = runs.start("the next", run_tasks.nothing)
    assert (wait_for(runs, second).state, runs.report(second).worker) == (DONE, report.worker)


def test_what_is_printed_meanwhile_does_no_harm():
    runs = Runs()
    assert wait_for(runs, runs.start("a talker", run_tasks.printed)).parts == ["told"]


@POSIX
def test_a_process_that_dies_is_told_leaves_nothing_behind_and_the_next_run_can_start():
    runs = Runs()
    report = wait_for(runs, runs.start("a plan", run_tasks.die))
    assert report.state == FAILED
    assert "ended before its time (code 7)" in report.failure
    assert not is_there(report.parts[0])
    assert wait_for(runs, runs.start("the next", run_tasks.nothing)).state == DONE


@POSIX
def test_a_process_that_is_killed_is_told_with_its_signal():
    runs = Runs()
    number = runs.start("a plan", run_tasks.until_stopped)
    pid = first_part(runs, number)["pid"]
    os.kill(pid, signal.SIGKILL)
    assert "(signal 9)" in wait_for(runs, number).failure
    assert not is_there(pid)


@POSIX
def test_one_that_died_while_it_waited_is_replaced():
    runs = Runs()
    number = runs.start("a plan", run_tasks.until_stopped)
    pid = first_part(runs, number)["pid"]
    runs.report(number).ask_to_stop()
    worker = wait_for(runs, number).worker
    os.kill(pid, signal.SIGKILL)
    while worker.lives:
        time.sleep(0.005)
    assert wait_for(runs, runs.start("the next", run_tasks.nothing)).state == DONE


@POSIX
@pytest.mark.parametrize("end", [signal.SIGKILL, signal.SIGTERM])
def test_when_the_server_goes_its_process_goes(end, tmp_path):
    """Also one that is busy, and whichever way the server goes."""
    here = str(Path(__file__).parent)
    server = (
        f"import sys; sys.path.append({here!r})\n"
        f"from web import workers; workers.PROGRAM = {LIGHT!r}\n"
        "import time, run_tasks\nfrom functools import partial\nfrom pathlib import Path\nfrom web.running import Runs\n"
        f"runs = Runs()\nn = runs.start('a plan', partial(run_tasks.wait_for_file, Path({str(tmp_path / 'never')!r})))\n"
        "while not runs.report(n).parts: time.sleep(0.01)\n"
        "print(runs.report(n).parts[0], flush=True)\ntime.sleep(600)\n"
    )
    with subprocess.Popen([sys.executable, "-c", server], stdout=subprocess.PIPE, text=True) as process:
        pid = int(process.stdout.readline())
        assert is_there(pid)
        process.send_signal(end)
    while is_there(pid):
        time.sleep(0.02)


@POSIX
def test_ending_all_ends_what_waits_and_what_runs():
    runs = Runs()
    number = runs.start("a plan", run_tasks.until_stopped)
    pid = first_part(runs, number)["pid"]
    running.WORKERS.end()
    assert wait_for(runs, number).state == FAILED
    assert not is_there(pid)


def test_only_the_last_runs_are_kept():
    runs = Runs()
    for _ in range(25):
        number = runs.start("one of many", run_tasks.nothing)
        wait_for(runs, number)
    assert runs.report(number).number == 25
    with pytest.raises(NotHere):
        runs.report(5)


@pytest.fixture
def client_of():
    def made(runs):
        router, app = APIRouter(), FastAPI()
        runs.add_routes(router)
        app.include_router(router)
        add_handlers(app)
        return TestClient(app)

    return made


def test_addresses_look_at_a_run_and_stop_it(client_of):
    runs = Runs()
    client = client_of(runs)
    number = runs.start("a look", run_tasks.until_stopped)
    first_part(runs, number)
    seen = client.get(f"/api/runs/{number}").json()
    assert (seen["state"], seen["count"], seen["progress"]) == (RUNNING, 1, {"phase": "looking"})
    client.post(f"/api/runs/{number}/stop")
    assert wait_for(runs, number).state == STOPPED
    assert client.get("/api/runs/77").json()["error"]["detail"] == "There is no run 77 any more. Ask again."


def test_the_server_answers_while_a_run_keeps_its_process_busy(client_of, tmp_path):
    """The run goes round and round in Python: in a thread of the server it would be in the way."""
    runs = Runs()
    client = client_of(runs)
    number = runs.start("a busy one", partial(run_tasks.wait_for_file, tmp_path / "go"))
    first_part(runs, number)
    for _ in range(20):
        assert client.get(f"/api/runs/{number}?after=1").json()["state"] == RUNNING
    (tmp_path / "go").touch()
    assert wait_for(runs, number).state == DONE
