"""Rule 14: what a step says it waited for must be there to be waited for."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from builders import ShopBuilder, as_plan, at, broken, days, plan, step
from random_shops import random_work

from planner.plan import Step
from planner.timetable import Timetable
from planner.verify import verify
from planner.work import Begun, Work

DONE, RUN, BENCH, USE, OTHER = range(5)


def shop() -> Work:
    return (
        ShopBuilder().person("Ann", "deburr")
        .batch("B1", pieces=5).op("L1", begun=Begun.DONE).op("L1").manual("bench", skill="deburr")
        .batch("B2", pieces=5).op("L1").need("B2", 10, "B1")
        .batch("B3", pieces=5).op("L1")
        .build()
    )  # fmt: skip


def steps(work: Work) -> dict[int, Step]:
    """B3 and then B1 on L1, B1 on the bench, and B2, which needs B1, on L1 again."""
    return {
        RUN: step(work, "B1", 20, "L1", run=(5, 10)),
        BENCH: step(work, "B1", 30, "bench", stints=[("Ann", 10, 15)]),
        USE: step(work, "B2", 10, "L1", run=(15, 20)),
        OTHER: step(work, "B3", 10, "L1", run=(0, 5)),
    }


def breaks(op: int, waited_for: str, waited_on: int | None) -> list[str]:
    work = shop()
    made = steps(work)
    made[op] = replace(made[op], waited_for=waited_for, waited_on=waited_on)
    return broken(work, *made.values())


@pytest.mark.parametrize(
    ("op", "waited_for", "waited_on"),
    [
        (RUN, "machine", OTHER), (USE, "machine", RUN), (USE, "machine", OTHER), (BENCH, "step before", RUN),
        (USE, "component", 0), (BENCH, "person", None), (BENCH, "person", OTHER), (RUN, "equipment", OTHER),
        (RUN, "equipment", None), *((RUN, alone, None) for alone in ("release", "not before", "receipt", "van")),
    ],
)  # fmt: skip
def test_what_is_before_it_may_be_waited_for(op: int, waited_for: str, waited_on: int | None) -> None:
    assert breaks(op, waited_for, waited_on) == []


@pytest.mark.parametrize(
    ("op", "waited_for", "waited_on"),
    [
        (USE, "component", 1), (USE, "component", 2), (USE, "component", None), (RUN, "component", 0),
        (BENCH, "step before", OTHER), (BENCH, "step before", None), (RUN, "step before", DONE), (OTHER, "step before", RUN),
        (USE, "machine", BENCH), (RUN, "machine", USE), (RUN, "machine", RUN), (RUN, "machine", None), (RUN, "machine", DONE),
        *((RUN, alone, OTHER) for alone in ("release", "not before", "receipt", "van")),
        (RUN, "", None), (RUN, "the weather", None),
    ],
)  # fmt: skip
def test_what_cannot_have_held_it_is_refused(op: int, waited_for: str, waited_on: int | None) -> None:
    assert breaks(op, waited_for, waited_on) == ["14 waits"]


def test_a_machine_is_waited_for_until_the_minute_it_is_free() -> None:
    work = shop()
    made = steps(work)
    made[RUN] = replace(made[RUN], waited_for="machine", waited_on=OTHER)
    assert broken(work, *made.values()) == []
    made[OTHER] = step(work, "B3", 10, "L1", run=(1, 6))
    assert "14 waits" in broken(work, *made.values())


@pytest.mark.parametrize(
    ("held_until", "start", "rules"),
    [
        (5, 5, []), (4, 5, ["14 waits"]), (6, 5, ["10 release", "14 waits"]), (None, 5, ["14 waits"]),
        (479, 479, []), (480, 1440, []), (1439, 1440, []), (1440, 1441, ["14 waits"]),
    ],
)  # fmt: skip
def test_what_is_held_back_starts_in_the_first_minute_it_can(
    held_until: int | None, start: int, rules: list[str]
) -> None:
    """On a machine that is open for the first 480 minutes of each day."""
    work = ShopBuilder().machine("L1", days(9, (0, 480))).batch("B1").op("L1").build()
    made = replace(step(work, "B1", 10, "L1", run=(start, start + 1)), waited_for="held back", held_until=held_until)
    assert broken(work, made) == rules


def test_begun_work_is_not_held_back() -> None:
    work = ShopBuilder().batch("B1", pieces=5).op("L1", begun=Begun.RUNNING, begun_machine="L1").build()
    made = step(work, "B1", 10, "L1", run=(0, 5))
    assert broken(work, made) == []
    assert broken(work, replace(made, held_until=0)) == ["11 begun work"]


@pytest.mark.parametrize(("waited_for", "count"), [("component", 3), ("person", 5)])
def test_what_there_is_not_cannot_be_named(waited_for: str, count: int) -> None:
    """A component names one of 3 batches, anything else one of 5 operations."""
    for on in (-1, count):
        assert "complete" in breaks(USE, waited_for, on)
    assert "complete" not in breaks(USE, waited_for, count - 1)


def test_the_breach_says_what_could_have_been_waited_for() -> None:
    work = shop()
    made = steps(work)
    made[USE] = replace(made[USE], waited_for="component", waited_on=1)
    (breach,) = verify(work, plan(work, *made.values()))
    assert str(breach) == (
        "rule 14 waits: batch B2 operation 10 waited for component: expected batch B1, which it needs, found batch B2"
    )
    assert at(work, "B2", 10).index == USE


@pytest.mark.parametrize("placing", [False, True])
def test_what_the_timetable_says_is_allowed(placing: bool) -> None:
    """On shops that have, between them, the kinds of wait that the timetable knows."""
    told = set()
    for number in range(260, 310):
        work = random_work(number)
        table = Timetable(work)
        order = list(range(len(work.operations)))
        random.Random(number).shuffle(order)
        table.time(table.repaired(order), placing=placing)
        made = as_plan(work, table)
        assert verify(work, made) == []
        told |= {s.waited_for for s in made.steps}
    assert told >= {"release", "not before", "receipt", "step before", "machine", "person", "equipment", "component"}
