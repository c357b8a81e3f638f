"""Runs of the engine: repeatable to the byte, to be stopped at any moment, and close to an accepted plan."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any

import pytest
from intake_folders import TINY_SHOP, Folder, add, backwards, put
from random_shops import random_work

from planner.explode import explode
from planner.intake import read_shop
from planner.main_job import Job, load_plan, make_plan, save
from planner.planfile import write_plan
from planner.search import Progress, engine, search
from planner.search.limit import Limit
from planner.search.solving import Solving
from planner.verify import verify
from planner.work import Work

ROOT = Path(__file__).parent.parent
SAMPLE_SHOP = ROOT / "sample_shop"
TRIALS = {TINY_SHOP: 3000, SAMPLE_SHOP: 300}
SHOPS = pytest.mark.parametrize("shop", TRIALS, ids=lambda s: s.name)
ENDLESS = 10**9  # trials, where something else ends the run

# --- repeatable -------------------------------------------------------------------------------------


def text_of(plan_file: Path) -> list[str]:
    """Lines of a plan file but for the one that says how long it took."""
    lines = plan_file.read_text(encoding="utf-8").splitlines()
    rest = [line for line in lines if not line.startswith(' "seconds":')]
    assert len(rest) == len(lines) - 1
    return rest


def planned(shop: Path, file: Path, trials: int, seed: int = 3) -> list[str]:
    save(make_plan(shop, trials=trials, seed=seed), file)
    return text_of(file)


@SHOPS
def test_another_process_gives_the_same_plan_file_with_rows_from_last_to_first(shop: Path, tmp_path: Path) -> None:
    """By the command, with another order of the strings in every set."""
    trials = {**TRIALS, SAMPLE_SHOP: 60}[shop]  # with proposals, which take most of the time of that shop
    turned, file = Folder(tmp_path / "shop", shop).edit(backwards).path, tmp_path / "there.json"
    command = [sys.executable, "-m", "planner", "plan", turned, "--trials", trials, "--seed", 3, "--out", file]
    environment = {**os.environ, "PYTHONHASHSEED": "4", "PYTHONPATH": str(ROOT)}
    subprocess.run([str(word) for word in command], check=True, cwd=ROOT, env=environment, capture_output=True)
    assert text_of(file) == planned(shop, tmp_path / "here.json", trials)


def test_the_same_seed_gives_the_same_plan_file_and_another_seed_another(tmp_path: Path) -> None:
    """So the comparison can fail."""
    first, again, other = (planned(TINY_SHOP, tmp_path / "p.json", TRIALS[TINY_SHOP], seed) for seed in (3, 3, 4))
    assert first == again != other


@pytest.mark.parametrize("number", range(4))
def test_random_shops_give_the_same_plan_file_on_one_worker_and_on_two(number: int, tmp_path: Path) -> None:
    work = random_work(number, jobs=14)
    for workers in (1, 2):
        write_plan(tmp_path / str(workers), work, search(work, trials=4000, seed=number, workers=workers))
    assert text_of(tmp_path / "1") == text_of(tmp_path / "2")


# --- stopped ----------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def works() -> list[Work]:
    return [explode(read_shop(shop)) for shop in TRIALS] + [random_work(n, jobs=14) for n in range(3)]


@pytest.mark.parametrize("calls", [1, 2, 3, 9])
def test_stop_in_the_middle_gives_an_allowed_plan_as_good_as_was_told(calls: int, works: list[Work]) -> None:
    for work in works:
        told: list[Progress] = []
        plan = search(work, trials=ENDLESS, progress=told.append, stop=lambda told=told: len(told) >= calls)
        assert verify(work, plan) == []
        assert plan.complete
        assert plan.cost.first <= told[-1].cost.first
        assert plan.trials < ENDLESS


@pytest.mark.parametrize("workers", [1, 2])
def test_stop_is_heard_while_the_solver_is_at_work(workers: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Also where the list search has done its share of the round and waits for it."""
    work, stop, stopped = random_work(3, jobs=14), threading.Event(), threading.Event()

    def never_ends(self: Solving, limit: Limit) -> None:
        threading.Timer(0.5, stop.set).start()
        for _ in range(3000):
            if self._cpsat.stopped:
                stopped.set()
                return
            time.sleep(0.01)

    monkeypatch.setattr(Solving, "turn", never_ends)
    monkeypatch.setattr(engine, "ROUND", 10)
    plan = search(work, trials=ENDLESS, workers=workers, stop=stop.is_set)
    assert stopped.is_set()
    assert verify(work, plan) == []


def test_no_seconds_give_an_allowed_first_plan(works: list[Work]) -> None:
    for work in works:
        plan = search(work, seconds=0)
        assert verify(work, plan) == []
        assert plan.complete


def test_cost_never_rises_and_bound_never_falls(works: list[Work]) -> None:
    for work in works:
        told: list[Progress] = []
        plan = search(work, trials=2000, progress=told.append)
        costs, bounds = [p.cost.first for p in told], [p.bound.value for p in told]
        assert costs == sorted(costs, reverse=True)
        assert bounds == sorted(bounds)
        assert bounds[-1] <= plan.bound.value <= plan.cost.first <= costs[-1]
        assert [p.trials for p in told] == sorted(p.trials for p in told)


# --- close to an accepted plan ----------------------------------------------------------------------

TWO_WEEKS = 14 * 1440
FAR_ORDER = {
    TINY_SHOP: "order=FAR|customer=Own shop|part=GR-120|quantity=10|due=2026-08-28|class=normal",
    SAMPLE_SHOP: "order=FAR|customer=Own shop|part=C-422|quantity=10|due=2027-10-28|class=standard",
}
TEN_DAYS = {TINY_SHOP: add("settings", "name=change_days|value=10"), SAMPLE_SHOP: put("settings", 10, "value", "10")}
Order = dict[str, list[tuple[str, int]]]


def running_order(job: Job, only: Order | None = None) -> Order:
    """By machine, batch and operation number in order of start: of those that start in two weeks, or of those in ``only``."""
    found: Order = {}
    wanted = None if only is None else {step for steps in only.values() for step in steps}
    for step in sorted(job.plan.steps, key=lambda s: (s.start, s.run_end)):
        operation = job.work.operations[step.operation]
        name = job.work.batches[operation.batch].name, operation.number
        if step.machine is not None and (step.start < TWO_WEEKS if wanted is None else name in wanted):
            found.setdefault(job.work.machines[step.machine].name, []).append(name)
    return found


def accepted_and_next(shop: Path, folder: Path, trials: int) -> tuple[Job, Job]:
    """A plan, and the next one that is to stay close to it, with one more order that is due months later.

    Change has a price in the first ten working days.
    """
    changed, file = Folder(folder / "shop", shop).edit(TEN_DAYS[shop]), folder / "accepted.json"
    accepted = make_plan(changed.path, trials=TRIALS[shop], proposals=False)
    save(accepted, file)
    changed.edit(add("orders", FAR_ORDER[shop]))
    return accepted, make_plan(changed.path, trials=trials, proposals=False, keep=file)


@SHOPS
def test_a_far_off_order_leaves_the_running_order_of_two_weeks(shop: Path, tmp_path: Path) -> None:
    """Unless a change saves more than it costs: behind all else the new order changes nothing, and only what was late is late."""
    accepted, following = accepted_and_next(shop, tmp_path, TRIALS[shop])
    order = running_order(accepted)
    assert sum(map(len, order.values())) > 15
    assert following.plan.cost.first <= accepted.plan.cost.late
    if following.plan.cost.first == accepted.plan.cost.late:
        assert following.plan.cost.change == 0
        assert running_order(following, order) == order


def test_a_plan_file_is_read_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever replaces it meanwhile, all that is read off it is of one plan."""
    file, read, reads = tmp_path / "plan.json", Path.read_text, []

    def told(path: Path, *given: Any, **more: Any) -> str:
        reads.append(path)
        return read(path, *given, **more)

    save(make_plan(TINY_SHOP, trials=20), file)
    monkeypatch.setattr(Path, "read_text", told)
    save(make_plan(TINY_SHOP, trials=20, keep=file), file)
    assert reads.count(file) == 1
    load_plan(TINY_SHOP, file)
    assert reads.count(file) == 2
