"""The ends of the search: nothing to plan, nothing to move, no time, and faults on either side of it."""

from __future__ import annotations

import threading
import time
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from builders import ShopBuilder, days

from planner.plan import Listed, State
from planner.search import Progress, search, start_later
from planner.search.climb import Climber
from planner.search.solving import Solving
from planner.timetable import Timetable
from planner.verify import verify
from planner.work import NEVER, Begun, Work

LIMITS: list[dict[str, Any]] = [{"trials": 0}, {"trials": 2000}, {"seconds": 0.01}, {"seconds": 0.3}]
DAY = days(5, (0, 480))


def nothing() -> Work:
    return ShopBuilder().build()


def all_done() -> Work:
    return ShopBuilder().machine("M1").batch("B1").op("M1", begun=Begun.DONE).order("O1", "B1", due=5).build()


def all_under_way() -> Work:
    return (
        ShopBuilder().machine("M1").batch("B1", pieces=9).op("M1", begun=Begun.RUNNING, begun_machine="M1", pieces_left=4)
        .order("O1", "B1", due=2).build()
    )  # fmt: skip


def one_step() -> Work:
    return ShopBuilder().machine("M1").batch("B1", pieces=9).op("M1").order("O1", "B1", due=2).build()


def no_orders() -> Work:
    return ShopBuilder().machine("M1").batch("B1", pieces=9).op("M1").op("M1").build()


def three(first_due: int | None = None) -> Work:
    """Two steps and one of ten minutes each on a machine that is open on one week's days."""
    shop = ShopBuilder().machine("M1", DAY).batch("B1", pieces=10).op("M1").op("M1").batch("B2", pieces=10).op("M1")
    return shop.build() if first_due is None else shop.order("O1", "B1", due=first_due).build()


@pytest.mark.parametrize("limit", LIMITS, ids=str)
@pytest.mark.parametrize("make", [nothing, all_done, all_under_way, one_step, no_orders])
def test_the_least_work_is_planned(make: Any, limit: dict[str, Any]) -> None:
    work = make()
    plan = search(work, **limit)
    assert plan.state is State.BEST
    assert verify(work, start_later(work, plan)) == []


@pytest.mark.parametrize("make", [nothing, all_done, all_under_way])
def test_where_nothing_can_be_moved_the_search_ends_at_once(make: Any) -> None:
    began = time.monotonic()
    assert search(make(), seconds=30.0).complete
    assert time.monotonic() - began < 15.0


# --- faults ------------------------------------------------------------------------------------


class Fault(Exception):
    pass


def _fails(*_: object) -> None:
    raise Fault


@pytest.mark.parametrize("workers", [1, 2])
@pytest.mark.parametrize("limit", [{"trials": 20_000}, {"seconds": 20.0}], ids=str)
@pytest.mark.parametrize(("side", "does"), [(Solving, "turn"), (Climber, "run")])
def test_a_fault_on_either_side_reaches_the_caller(
    side: type, does: str, limit: dict[str, Any], workers: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(side, does, _fails)
    before, began = threading.active_count(), time.monotonic()
    with pytest.raises(Fault):
        search(three(5), workers=workers, **limit)
    assert threading.active_count() == before
    assert time.monotonic() - began < 15.0


@pytest.mark.parametrize("fault", [Fault, KeyboardInterrupt])
def test_a_break_from_the_caller_ends_both_sides(fault: type[BaseException]) -> None:
    seen = []

    def progress(now: Progress) -> None:
        seen.append(now)
        if now.phase == "list search":
            raise fault

    before = threading.active_count()
    with pytest.raises(fault):
        search(three(5), seconds=20.0, progress=progress)
    assert threading.active_count() == before
    assert seen[-1].seconds < 15.0


def test_by_turns_the_list_search_has_as_long_as_the_solver(monkeypatch: pytest.MonkeyPatch) -> None:
    turns: list[tuple[float, float]] = []

    def turn(*_: object) -> None:
        began = time.monotonic()
        time.sleep(0.7)
        turns.append((began, time.monotonic()))

    monkeypatch.setattr(Solving, "turn", turn)
    search(three(5), seconds=3.0, workers=1)
    assert len(turns) > 1
    for (began, ended), (again, _) in pairwise(turns):
        assert again - ended >= ended - began


def test_stopped_from_the_start_there_is_a_first_plan() -> None:
    work = three(5)
    plan = search(work, seconds=20.0, stop=lambda: True, start=[Listed(2), Listed(0)])
    assert (plan.sequence, plan.trials) == ((2, 0, 1), 1)
    assert verify(work, plan) == []


def test_searches_in_two_threads_do_not_meet() -> None:
    """With a limit of trials each finds what it finds alone."""
    works = [three(5), three(15)]
    alone = [search(work, trials=4000) for work in works]
    found: dict[int, Any] = {}
    threads = [threading.Thread(target=lambda i=i: found.update({i: search(works[i], trials=4000)})) for i in (0, 1)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for i, plan in enumerate(alone):
        assert (found[i].steps, found[i].sequence, found[i].cost) == (plan.steps, plan.sequence, plan.cost)


# --- what a list holds back ---------------------------------------------------------------------


@pytest.mark.parametrize("first_due", [None, 500])
@pytest.mark.parametrize("until", [7 * 1440, NEVER, 4 * NEVER])
def test_a_hold_to_where_there_are_no_hours_is_let_go(until: int, first_due: int | None) -> None:
    """With and without an order for what is held, and whichever step it is."""
    work = three(first_due)
    for held in ([0], [1], [2], [0, 1, 2]):
        plan = search(work, trials=30, start=[Listed(i, 0, until if i in held else 0) for i in range(3)])
        assert plan.complete
        assert verify(work, plan) == []
        assert all(step.held_until is None for step in plan.steps)


@pytest.mark.parametrize(("begun", "held"), [(Begun.NO, 700), (Begun.PART, None), (Begun.RUNNING, None)])
def test_what_is_begun_is_not_held_back_any_more(begun: Begun, held: int | None) -> None:
    """Begun before the minute to which an earlier plan held it back."""
    fields: dict[str, Any] = {"begun": begun, "begun_machine": "M1"} if begun is Begun.RUNNING else {"begun": begun}
    work = ShopBuilder().machine("M1").batch("B1", pieces=60).op("M1", **fields).order("O1", "B1", due=9000).build()
    plan = search(work, trials=30, start=[Listed(0, 0, 700)])
    assert plan.steps[0].held_until == held
    for made in (plan, start_later(work, plan)):
        assert verify(work, made) == []


@pytest.mark.parametrize("work", [nothing(), all_done(), all_under_way(), one_step()])
def test_the_list_search_alone_plans_too_and_says_that_it_has_no_bound(work: Work) -> None:
    plan = search(work, trials=50, solver=False)
    assert plan.complete and not verify(work, plan)
    assert plan.bound.value == 0 and plan.bound.kind == "none was looked for"
    assert search(work, seconds=0.01, solver=False).complete


def test_only_an_order_of_no_weight_is_late() -> None:
    work = ShopBuilder().batch("A").op({"L": (0, 3600)}).order("O", "A", due=0, weight=0).build()
    for limit in LIMITS:
        plan = search(work, **limit)
        assert (verify(work, plan), plan.cost.first, plan.state) == ([], 0, State.BEST)


def test_there_is_room_to_remember_every_stint() -> None:
    """One person, thirty hand steps of many windows each: more bookings than there is room for at first."""
    shop = ShopBuilder().person("Cy", "fit", days(400, (0, 240), (270, 510)))
    for n in range(30):
        shop.batch(f"B{n}").manual("bench", 60 * 3000, skill="fit").order(f"O{n}", f"B{n}", due=0)
    work = shop.build()
    table = Timetable(work)
    sequence = np.arange(30)
    first = table.state.people.at.size
    climber = Climber(table, sequence, np.full(30, -1, np.int64), 1)
    assert table.state.people.at.size > first
    assert len(climber.touched.was_stint) == table.state.people.at.size
    plan = search(work, trials=300)
    assert verify(work, plan) == []
