"""Turns of the bound: when the whole model is asked, with what limits, and whether what it promises comes true."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from builders import ShopBuilder
from ortools.sat.python.cp_model import CpModel
from published import one_machine

from planner.search import bound_turns
from planner.search.bound_turns import BoundTurns
from planner.search.cpsat import Cpsat
from planner.search.whole import Whole
from planner.timetable import Timetable
from planner.work import Work


def hand_work(people: int) -> Work:
    """Two jobs of 100 minutes at benches of their own, both due when one of them can be ready. The model takes it that
    somebody is there for each."""
    shop = ShopBuilder()
    for n in range(people):
        shop.person(f"P{n}", "hand")
    for n in range(2):
        shop.batch(f"B{n}").manual(f"bench {n}", 6000, skill="hand").order(f"O{n}", f"B{n}", due=100)
    return shop.build()


def looked(work: Work) -> tuple[int, int, BoundTurns]:
    """Cost of the plan in the order of the work, of what the whole model then finds, and the turns."""
    table = Timetable(work)
    assert table.time(table.repaired([])) == 0
    before, turns = table.cost().first, BoundTurns(table, Cpsat())
    assert turns.may_find
    for sequence, choice in turns.whole(table, 1):
        table.retime(sequence, choice, 0)
    return before, table.cost().first, turns


def test_a_promise_kept() -> None:
    before, after, turns = looked(one_machine([7, 8, 4, 6, 6], due=[19, 17, 9, 18, 21]))
    assert after < before
    assert turns.may_find


def test_a_promise_not_kept() -> None:
    """With one person the second job is 100 minutes late, whatever the model says: no more of the search's time for it."""
    before, after, turns = looked(hand_work(1))
    assert before == after == 100
    assert not turns.may_find


def test_nothing_promised() -> None:
    assert looked(hand_work(2))[:2] == (0, 0)


@pytest.mark.parametrize("people", [1, 2])
def test_nothing_promised_says_nothing_of_the_next(people: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """A model that finds nothing better tells nothing on whether what it finds better is better: that stays as it was."""
    solve = Whole.solve

    def no_better(self: Whole, *given: Any, **more: Any) -> Any:
        return replace(solve(self, *given, **more), cost=self.cost)

    _, _, turns = looked(hand_work(people))
    before = turns.may_find
    monkeypatch.setattr(Whole, "solve", no_better)
    table = Timetable(hand_work(people))
    table.time(table.repaired([]))
    assert turns.whole(table, 1)
    assert turns.may_find is before is (people == 2)


@pytest.mark.parametrize(
    ("seconds", "limits", "near"),
    [
        (None, [1.0, 2.0, 4.0, 8.0, 16.0], [True, True, True, True, True]),
        (60.0, [0.2, 2.0, 2.0, 20.0, 20.0], [True, True, False, True, False]),
    ],
)
def test_each_time_a_larger_limit(seconds: float | None, limits: list[float], near: list[bool]) -> None:
    """With a limit of time, after the first each twice: near the best plan and free of it."""
    given = []

    class Told(Cpsat):
        def solve(self, model: CpModel, *, work_limit: float, **more: Any) -> Any:
            given.append((work_limit, bool(model.proto.solution_hint.vars)))
            return super().solve(model, work_limit=work_limit, **more)

    table = Timetable(hand_work(1))
    turns = BoundTurns(table, Told())
    for _ in limits:
        table.time(table.repaired([]))
        turns.whole(table, 1, seconds)
    assert given == [(pytest.approx(limit), hinted) for limit, hinted in zip(limits, near, strict=True)]


@pytest.mark.parametrize(
    ("seconds", "promises", "models"),
    [(None, True, 2), (None, False, 2), (60.0, True, 1), (60.0, False, 2), (0.4, False, 2)],
)
def test_whole_models_among_the_turns(
    seconds: float | None, promises: bool, models: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With a limit of time the search asks for further ones itself, as long as what they promise comes true; if not, and
    without such a limit, they come by turns: each has a quarter of the time that is left."""
    given = []

    class Told(Whole):
        def solve(
            self, cpsat: Cpsat, limit: float, seed: int, seconds: float | None = None, *, near: bool = True
        ) -> Any:
            given.append(seconds)
            return super().solve(cpsat, limit, seed, seconds, near=near)

    monkeypatch.setattr(bound_turns, "Whole", Told)
    monkeypatch.setattr(bound_turns, "EVERY", 2)
    work = one_machine([7, 8, 4], due=[1, 1, 1]) if promises else hand_work(1)
    table = Timetable(work)
    turns = BoundTurns(table, Cpsat())
    for _ in range(6):
        table.time(table.repaired([]))  # never the best plan, so that there is something to look for
        turns.turn(table, 1, seconds)
    assert turns.may_find is promises
    assert given == [None if seconds is None else seconds / 4] * models
