"""A plan file gives back exactly what was written, or says plainly why it does not."""

from __future__ import annotations

import json
import os
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from builders import ShopBuilder, at, plan, step
from hypothesis import given
from hypothesis import strategies as st
from web_fixtures import made_plan, made_work

from planner import planfile
from planner.faults import PlanFileFault
from planner.plan import AcceptedStep, Bound, Burst, Cost, FirstOff, Plan, State, Step, Stint
from planner.work import Begun, Work


def everything() -> tuple[Work, Plan]:
    """A plan in which each field of each record has a value somewhere."""
    work = (
        ShopBuilder(handover_min=10)
        .person("Ann", ["turning", "deburr"])
        .person("Bob", "inspection")
        .service("anodiser", [(100, 200, 900), (1000, 1100, 1900)])
        .batch("B1", pieces=10)
        .op("L1", setup=30, cycle=60, skill="turning", first_off_skill="inspection", first_off_min=5)
        .manual("bench", cycle=60, skill="deburr")
        .outside("anodiser")
        .wait(60)
        .batch("B2", pieces=4, part="Zählrad – 4°")
        .op("L1", setup=10)
        .need("B2", 10, "B1")
        .order("O1", "B2", due=1000)
        .build()
    )
    made = plan(
        work,
        step(
            work, "B1", 10, "L1", setup=[("Ann", 0, 20), ("Bob", 20, 40)], setup_min=30, changeover_min=7, run=(40, 60),
            bursts=[(40, 0), (51, 1)], first_off=(41, "Bob", 41, 46), waited_for="release", held_until=0,
        ),
        step(work, "B1", 20, "bench", stints=[("Ann", 60, 65), ("Bob", 70, 75)], waited_for="step before",
             waited_on=at(work, "B1", 10).index),
        step(work, "B1", 30, start=75, run=(1100, 1900), trip=1, waited_for="van"),
        step(work, "B1", 40, start=1900, run=(1900, 1900), end=1960, waited_for="step before"),
        step(work, "B2", 10, "L1", setup=[(None, 1960, 1970)], run=(1970, 1974), waited_for="component", waited_on=0,
             equipment_from=1950),
        state=State.BEST, bound=Bound(17, "critical path"), cost=Cost(17, 2, 3, 4, 5), seed=9, trials=12, seconds=0.1 + 0.2,
    )  # fmt: skip
    return work, made


def test_a_plan_comes_back_exactly_as_it_was_written(tmp_path: Path) -> None:
    work, made = everything()
    planfile.write_plan(tmp_path / "plan.json", work, made)
    assert planfile.read_plan(tmp_path / "plan.json", work) == made


def test_a_plan_file_that_knows_no_held_starts_is_read_as_holding_none(tmp_path: Path) -> None:
    work, made = everything()
    planfile.write_plan(tmp_path / "plan.json", work, made)
    document = json.loads((tmp_path / "plan.json").read_text(encoding="utf-8"))
    for row in document["operations"]:
        del row["held_until"]
    (tmp_path / "plan.json").write_text(json.dumps(document), encoding="utf-8")
    none = replace(made, steps=tuple(replace(s, held_until=None) for s in made.steps))
    assert made != none == planfile.read_plan(tmp_path / "plan.json", work)


def test_a_plan_without_steps_keeps_its_state(tmp_path: Path) -> None:
    work, made = everything()
    nothing = replace(made, steps=(), sequence=(), state=State.NOTHING)
    planfile.write_plan(tmp_path / "plan.json", work, nothing)
    assert planfile.read_plan(tmp_path / "plan.json", work) == nothing


def test_a_plan_over_a_clock_change_comes_back_exactly(tmp_path: Path) -> None:
    """300 operations reach past the last Sunday of March; the local times of each minute must be unmistakable."""
    work = made_work()
    made = made_plan(work)
    planfile.write_plan(tmp_path / "plan.json", work, made)
    assert planfile.read_plan(tmp_path / "plan.json", work) == made


def test_the_same_plan_gives_the_same_bytes_in_utf_8_and_unix_lines(tmp_path: Path) -> None:
    work, made = everything()
    for name in ("a.json", "b.json"):
        planfile.write_plan(tmp_path / name, work, made)
    raw = (tmp_path / "a.json").read_bytes()
    assert raw == (tmp_path / "b.json").read_bytes()
    assert b"\r" not in raw
    raw.decode("utf-8")


def test_people_find_names_and_local_times_in_it(tmp_path: Path) -> None:
    work, made = everything()
    planfile.write_plan(tmp_path / "plan.json", work, made)
    first = json.loads((tmp_path / "plan.json").read_text("utf-8"))["operations"][0]
    assert (first["batch"], first["step"], first["machine"], first["pieces"]) == ("B1", 10, "L1", 10)
    assert first["setup"][0]["person"] == "Ann"
    assert first["run_start"] == {"min": 40, "at": "2026-03-23T08:40:00+00:00"}


def test_nothing_is_lost_when_the_last_moment_fails(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The old plan stays as it was and no half-written file is left beside it."""
    work, made = everything()
    target = tmp_path / "plan.json"
    planfile.write_plan(target, work, made)
    before = target.read_bytes()

    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(PlanFileFault, match="cannot be written"):
        planfile.write_plan(target, work, replace(made, seed=10))
    assert target.read_bytes() == before
    assert list(tmp_path.iterdir()) == [target]


def test_a_folder_that_is_not_there_is_said_plainly(tmp_path: Path) -> None:
    work, made = everything()
    with pytest.raises(PlanFileFault, match="cannot be written"):
        planfile.write_plan(tmp_path / "no" / "plan.json", work, made)


def test_a_plan_for_other_data_is_refused(tmp_path: Path) -> None:
    work, made = everything()
    planfile.write_plan(tmp_path / "plan.json", work, made)
    other = replace(work, handover_min=11)
    with pytest.raises(PlanFileFault, match="made for other data; plan again"):
        planfile.read_plan(tmp_path / "plan.json", other)


def test_a_missing_file_is_said_plainly(tmp_path: Path) -> None:
    with pytest.raises(PlanFileFault, match="no such plan file"):
        planfile.accepted_steps(tmp_path / "plan.json")


@pytest.mark.parametrize("name", ["plan\0.json", "latin.json"])
def test_what_cannot_be_read_as_text_is_refused(tmp_path: Path, name: str) -> None:
    (tmp_path / "latin.json").write_bytes("{Zählrad}".encode("latin-1"))
    with pytest.raises(PlanFileFault, match="not a whole plan file"):
        planfile.read_once(tmp_path / name)


@pytest.mark.parametrize("text", ["", "{", "[]", "7", '{"format": "another"}', "\x00", '{"a": NaN}'])
def test_what_is_no_plan_file_is_refused(tmp_path: Path, text: str) -> None:
    (tmp_path / "plan.json").write_text(text, encoding="utf-8")
    with pytest.raises(PlanFileFault, match="not a"):
        planfile.accepted_steps(tmp_path / "plan.json")


def test_bytes_that_are_no_text_are_refused(tmp_path: Path) -> None:
    (tmp_path / "plan.json").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(PlanFileFault, match="may be damaged"):
        planfile.accepted_steps(tmp_path / "plan.json")


@pytest.mark.parametrize("version", [0, 1, "2", None, True])
def test_another_version_is_refused(tmp_path: Path, version: object) -> None:
    work, made = everything()
    changed(tmp_path, work, made, lambda d: d.update(format_version=version))
    with pytest.raises(PlanFileFault, match="version"):
        planfile.read_plan(tmp_path / "plan.json", work)


def changed(folder: Path, work: Work, made: Plan, change) -> None:
    target = folder / "plan.json"
    planfile.write_plan(target, work, made)
    document = json.loads(target.read_text("utf-8"))
    change(document)
    target.write_text(json.dumps(document), encoding="utf-8")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda d: d.pop("cost"), "has no 'cost'"),
        (lambda d: d["cost"].pop("late"), "has no 'late'"),
        (lambda d: d["cost"].update(late=1.5), "a whole number"),
        (lambda d: d["cost"].update(late=True), "a whole number"),
        (lambda d: d.update(state="fine"), "a known name"),
        (lambda d: d.update(seconds="1"), "a number"),
        (lambda d: d.update(operations={}), "a list"),
        (lambda d: d["operations"].append(3), "not a record"),
        (lambda d: d["operations"][0].update(batch="B9"), "no step 10 of batch 'B9'"),
        (lambda d: d["operations"][0].update(machine="L9"), "a known name"),
        (lambda d: d["operations"][0]["setup"][0].update(person="Eve"), "a known name"),
        (lambda d: d["operations"][0]["start"].update(min=1), "the local time of that minute"),
        (lambda d: d["operations"][0]["start"].update(min=10**15), "the local time of that minute"),
        (lambda d: d["sequence"][0].update(step="10"), "a whole number"),
    ],
)
def test_a_damaged_field_is_named(tmp_path: Path, change, words: str) -> None:
    work, made = everything()
    changed(tmp_path, work, made, change)
    with pytest.raises(PlanFileFault, match="damaged") as caught:
        planfile.read_plan(tmp_path / "plan.json", work)
    assert words in str(caught.value)


@pytest.mark.parametrize("at", ["soon", "2026-03-23T08:00:00"])
def test_a_damaged_moment_of_an_accepted_plan_is_named(tmp_path: Path, at: str) -> None:
    work, made = everything()
    changed(tmp_path, work, made, lambda d: d["operations"][0]["start"].update(at=at))
    with pytest.raises(PlanFileFault, match="expected a moment"):
        planfile.accepted_steps(tmp_path / "plan.json")


def test_a_list_to_begin_with_has_what_the_plan_decided(tmp_path: Path) -> None:
    """Machines and what is held back, by name; a minute is counted from the plan start of the work it is for."""
    work, made = everything()
    held = replace(made, steps=(replace(made.steps[0], held_until=90), *made.steps[1:]))
    planfile.write_plan(tmp_path / "plan.json", work, held)
    start = planfile.start_from(tmp_path / "plan.json", replace(work, plan_start=work.plan_start + timedelta(hours=1)))
    assert [row.operation for row in start] == list(held.sequence)
    assert {row.operation: row.machine for row in start} == {s.operation: s.machine for s in held.steps}
    assert {row.operation: row.held_until for row in start if row.held_until} == {held.steps[0].operation: 30}


def test_accepted_steps_are_those_on_machines_and_need_no_work(tmp_path: Path) -> None:
    work, made = everything()
    planfile.write_plan(tmp_path / "plan.json", work, made)
    assert planfile.accepted_steps(tmp_path / "plan.json") == (
        AcceptedStep("B1", 10, "L1", "2026-03-23T08:00:00+00:00"),
        AcceptedStep("B1", 20, "bench", "2026-03-23T09:00:00+00:00"),
        AcceptedStep("B2", 10, "L1", "2026-03-24T16:40:00+00:00"),
    )


def test_what_a_plan_was_made_against_stays_with_it(tmp_path: Path) -> None:
    work, made = everything()
    kept = (AcceptedStep("B2", 10, "L1", "2026-03-23T09:00:00+00:00"),)
    planfile.write_plan(tmp_path / "plan.json", work, made, kept)
    assert planfile.planned_against(tmp_path / "plan.json") == kept
    planfile.write_plan(tmp_path / "plan.json", work, made)
    assert planfile.planned_against(tmp_path / "plan.json") == ()


def test_a_running_operation_starts_with_the_plan(tmp_path: Path) -> None:
    work = ShopBuilder().batch("B1", pieces=5).op("L1", begun=Begun.RUNNING, begun_machine="L1").build()
    made = plan(work, step(work, "B1", 10, "L1", run=(0, 5)))
    planfile.write_plan(tmp_path / "plan.json", work, made)
    assert planfile.read_plan(tmp_path / "plan.json", work).steps[0].start == 0


WORK, MADE = everything()
MINUTES = st.integers(-100_000, 2_000_000)
PEOPLE = st.integers(-1, len(WORK.people) - 1)
STINTS = st.lists(st.builds(Stint, PEOPLE, MINUTES, MINUTES), max_size=3).map(tuple)


def steps_of(operation: int) -> st.SearchStrategy[Step]:
    """Any step at all of an operation, sensible or not."""
    waited = st.one_of(
        st.tuples(st.just("component"), st.none() | st.integers(0, len(WORK.batches) - 1)),
        st.tuples(st.sampled_from(["machine", "", "van"]), st.none() | st.integers(0, len(WORK.operations) - 1)),
    )
    any_step = st.builds(
        Step, st.just(operation), st.none() | st.integers(0, len(WORK.machines) - 1), MINUTES, MINUTES, MINUTES, STINTS,
        st.none() | st.builds(FirstOff, MINUTES, PEOPLE.filter(lambda p: p >= 0), MINUTES, MINUTES), MINUTES,
        st.lists(st.builds(Burst, MINUTES, MINUTES), max_size=3).map(tuple), MINUTES, MINUTES, STINTS, MINUTES,
        st.none() | st.integers(0, 9), st.just(""),
    )  # fmt: skip
    return st.tuples(any_step, waited).map(lambda pair: replace(pair[0], waited_for=pair[1][0], waited_on=pair[1][1]))


@given(
    steps=st.tuples(*map(steps_of, range(len(WORK.operations)))),
    sequence=st.permutations(range(len(WORK.operations))),
    cost=st.builds(Cost, *[st.integers(0, 10**12)] * 5),
    state=st.sampled_from(State),
    seconds=st.floats(0, 1e6),
    kind=st.text(max_size=5),
)
def test_any_plan_comes_back_exactly(tmp_path_factory, steps, sequence, cost, state, seconds, kind) -> None:
    """Whatever the numbers: reading gives an equal plan, and writing that gives the same bytes."""
    made = replace(
        MADE,
        steps=steps,
        sequence=tuple(sequence),
        cost=cost,
        state=state,
        seconds=seconds,
        bound=Bound(cost.late, kind),
    )
    file = tmp_path_factory.mktemp("any") / "plan.json"
    planfile.write_plan(file, WORK, made)
    raw = file.read_bytes()
    again = planfile.read_plan(file, WORK)
    assert again == made
    planfile.write_plan(file, WORK, again)
    assert file.read_bytes() == raw
