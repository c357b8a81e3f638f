"""Who sets a machine or does hand work: whoever is through soonest, or, where the list says so, somebody by name."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from builders import ShopBuilder
from hypothesis import given, settings
from hypothesis import strategies as st
from random_shops import random_work
from trials import begun

from planner.answers.why import why
from planner.by_ref import by_ref
from planner.compiling import compiled
from planner.plan import Listed, Plan, Step
from planner.planfile import read_plan, start_from, write_plan
from planner.proposals.carry import carried
from planner.search import search
from planner.search.climb import Climber
from planner.search.dispatch import RULES, dispatch
from planner.search.moves import carry_out, take_back
from planner.search.pick import NO_MOVE, name_person
from planner.timetable import Timetable, arrays
from planner.timetable.changes import begin
from planner.verify import verify
from planner.work import Work

ANN, BEN = 0, 1
L, M = 0, 1


def two_setters(**fields: object) -> Work:
    """Ann and Ben can set both machines, Ann is there an hour sooner; only Ann approves."""
    shop = ShopBuilder().machine("L").machine("M").person("Ann", ["s", "t"]).person("Ben", "s", [(60, 10_000)])
    return shop.batch("A", pieces=10).op(["L", "M"], setup=30, skill="s", **fields).order("O", "A", due=0).build()


def timed(work: Work, *listed: Listed) -> tuple[Step, ...]:
    table = Timetable(work)
    choice, _ = table.taken(listed)
    table.time([row.operation for row in listed], choice)
    return table.steps()


@pytest.mark.parametrize(
    ("named", "setter", "start", "kept"),
    [(None, ANN, 0, None), (ANN, ANN, 0, ANN), (BEN, BEN, 60, BEN), (7, ANN, 0, None)],
)
def test_the_setter_is_who_is_named(named: int | None, setter: int, start: int, kept: int | None) -> None:
    """Somebody who cannot do it is nobody."""
    work = two_setters()
    step = timed(work, Listed(0, M, named=named))[0]
    assert (step.machine, step.setup[0].person, step.start, step.named) == (M, setter, start, kept)


@pytest.mark.parametrize(("named", "stints"), [(None, [(ANN, 0, 60), (BEN, 60, 70)]), (BEN, [(BEN, 30, 100)])])
def test_hand_work_is_done_by_who_is_named_throughout(named: int | None, stints: list[tuple[int, int, int]]) -> None:
    shop = ShopBuilder().person("Ann", "s", [(0, 60)]).person("Ben", "s", [(30, 1000)])
    work = shop.batch("A", pieces=70).manual("bench", skill="s").order("O", "A", due=0).build()
    step = timed(work, Listed(0, 0, named=named))[0]
    assert [(s.person, s.start, s.end) for s in step.stints] == stints
    assert step.named == named


def test_there_is_a_choice_only_of_several_and_not_for_what_is_pinned_or_runs() -> None:
    def choices(work: Work) -> int:
        row = Timetable(work).data.op[0]
        return int(row["own_hi"] - row["own_lo"])

    assert choices(two_setters()) == 4  # two machines, two people
    assert choices(two_setters(pin_machine="M")) == 2
    assert choices(two_setters(pin_person="Ben")) == 0
    alone = ShopBuilder().person("Ann", "s").batch("A").op("M", 30, skill="s").order("O", "A", due=0).build()
    assert choices(alone) == 0
    assert timed(two_setters(pin_person="Ben"), Listed(0, M, named=ANN))[0].setup[0].person == BEN


def test_where_the_first_who_could_set_it_bars_its_approval_another_is_named() -> None:
    """Ann would be through soonest, but nobody else may approve what she has set."""
    barred = two_setters(first_off_skill="t", first_off_min=5)
    assert not timed(barred, Listed(0, L))[0].setup
    plan = search(barred, trials=2_000)
    assert plan.complete
    assert verify(barred, plan) == []
    assert (plan.steps[0].setup[0].person, plan.steps[0].named) == (BEN, BEN)
    free = replace(barred, setter_may_approve=True)
    plan = search(free, trials=2_000)
    assert (plan.steps[0].setup[0].person, plan.steps[0].named) == (ANN, None)


@settings(max_examples=30)
@given(number=st.integers(0, 100_000))
def test_rules_make_the_same_first_plans_whether_or_not_people_can_be_named(number: int) -> None:
    work = random_work(number, jobs=15)
    table = Timetable(work)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(arrays, "_choice_of_people", lambda *_: [])
        without = Timetable(work)
    for rule in RULES:
        assert dispatch(table, rule).tolist() == dispatch(without, rule).tolist()
        assert (table.choice == without.choice).all()
        table.reset()
        without.reset()


@settings(max_examples=20)
@given(number=st.integers(0, 100_000))
def test_nobody_is_named_where_nothing_is_gained(number: int) -> None:
    """From a list without names, one with a name is kept only when it costs less."""
    work = random_work(number)
    climber = begun(work)
    table = climber.table
    climber.run(300)
    named = [op for op, a in enumerate(climber.best_choice) if a >= 0 and table.data.alt[a]["plain"] != a]
    before = climber.best_choice.copy()
    for op in named:
        before[op] = table.data.alt[before[op]]["plain"]
    table.retime(climber.best, before, 0)
    assert not named or climber.now_cost() >= climber.best_cost


@compiled
def _name_and_take_back(data, st, ch, win, cur, choice, op, back, seed):
    np.random.seed(seed)
    moved, alt = name_person(by_ref(data), by_ref(st), by_ref(win), choice, 0, op)
    if moved >= 0:
        begin(by_ref(ch))
        carry_out(by_ref(data), by_ref(st), by_ref(ch), by_ref(win), cur, choice, moved, alt)
        if back:
            take_back(by_ref(st), by_ref(win), cur, choice)
    return moved, alt


def test_a_move_names_somebody_for_the_machine_it_is_on_or_nobody_again() -> None:
    work = two_setters()
    table = Timetable(work)
    climber = Climber(table, np.array([0]), np.array([table.alternative(0, M)]), 1)
    plain, own = table.alternative(0, M), {table.alternative(0, M, p) for p in (ANN, BEN)}
    seen = set()
    for seed in range(20):
        moved, alt = _name_and_take_back(
            table.data, table.state, climber.touched, climber.window, climber.sequence, climber.choice, 0, True, seed
        )
        assert (moved, climber.choice[0]) == (0, plain)
        seen.add(alt)
    assert seen == own
    args = (table.data, table.state, climber.touched, climber.window, climber.sequence, climber.choice, 0, False)
    _name_and_take_back(*args, 1)
    assert climber.choice[0] in own
    _name_and_take_back(*args, 1)
    assert climber.choice[0] == plain


def test_no_move_where_there_is_no_choice_of_people() -> None:
    work = two_setters(pin_person="Ben")
    table = Timetable(work)
    climber = Climber(table, np.array([0]), np.array([table.alternative(0, M)]), 1)
    moved, _ = _name_and_take_back(
        table.data, table.state, climber.touched, climber.window, climber.sequence, climber.choice, 0, False, 1
    )
    assert moved == NO_MOVE


def named_plan(work: Work) -> Plan:
    """Ben is named, though Ann would be through sooner."""
    return search(work, trials=1, start=[Listed(0, M, named=BEN)], workers=1, solver=False)


def test_a_plan_file_keeps_who_is_named(tmp_path: Path) -> None:
    work, file = two_setters(), tmp_path / "plan.json"
    plan = named_plan(work)
    assert plan.steps[0].named == BEN
    write_plan(file, work, plan)
    assert read_plan(file, work).steps == plan.steps
    assert start_from(file, work) == [Listed(0, M, named=BEN)]
    assert search(work, trials=1, start=start_from(file, work), solver=False).steps == plan.steps
    without = replace(work, people=(replace(work.people[0], name="Cat"), work.people[1]))
    assert start_from(file, without) == [Listed(0, M, named=BEN)]
    gone = replace(work, people=(work.people[0], replace(work.people[1], name="Cat")))
    assert start_from(file, gone) == [Listed(0, M)]


def test_carried_to_other_work_who_is_named_stays_by_name() -> None:
    work = two_setters()
    turned = replace(work, people=work.people[::-1])
    assert carried(work, named_plan(work), turned) == [Listed(0, M, named=0)]


def test_another_than_who_is_named_is_a_breach() -> None:
    work = two_setters()
    plan = named_plan(work)
    assert verify(work, plan) == []
    wrong = replace(plan, steps=(replace(plan.steps[0], named=ANN),))
    assert [(b.message.rsplit(", ", 1)[1], b.expected, b.found) for b in verify(work, wrong)] == [
        ("setter is named by the plan", "Ann", "Ben")
    ]
    nobody = replace(plan, steps=(replace(plan.steps[0], named=5),))
    assert verify(work, nobody)[0].expected == "a person from 0 to 1"
    shop = ShopBuilder().person("Ann", "s").person("Ben", "s")
    hand = shop.batch("A", pieces=70).manual("bench", skill="s").order("O", "A", due=0).build()
    made = search(hand, trials=1, start=[Listed(0, 0, named=BEN)], workers=1, solver=False)
    assert verify(hand, made) == []
    wrong = replace(made, steps=(replace(made.steps[0], named=ANN),))
    assert [b.expected for b in verify(hand, wrong)] == ["Ann"]


def test_why_says_that_the_plan_names_them() -> None:
    shop = ShopBuilder().person("Ann", ["s", "v"]).person("Ben", ["s", "u"]).machine("L").machine("M")
    shop.batch("B", pieces=60).manual("L", skill="u").batch("C", pieces=10).manual("bench", skill="v")
    work = shop.batch("A", pieces=10).op("M", 30, skill="s").order("O", "A", due=0).order("P", "B", "C", due=0).build()
    sentence = "waits for Ben, whom the plan names for it"

    def told(*listed: Listed) -> bool:
        return sentence in repr(why(work, search(work, trials=1, start=listed, workers=1, solver=False), "O"))

    assert told(Listed(0, 0), Listed(1), Listed(2, M, named=BEN))
    assert not told(Listed(0, 0), Listed(1), Listed(2, M, named=ANN))
    assert not told(Listed(0, 0), Listed(1), Listed(2, M))
