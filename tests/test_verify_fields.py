"""The fields of a step agree with each other and with the kind of its operation."""

from __future__ import annotations

from dataclasses import replace

import pytest
from builders import ShopBuilder, broken, step

from planner.plan import Burst, FirstOff, Stint


def shop() -> ShopBuilder:
    return ShopBuilder().person("Ann", "deburr").service("plate", [(100, 120, 500)])


def test_the_end_is_the_run_end_and_the_wait() -> None:
    work = shop().batch("B1", pieces=5).op("L1", wait_min=30).build()
    good = step(work, "B1", 10, "L1", run=(0, 5))
    assert broken(work, good) == []
    for end in (34, 36):
        assert broken(work, replace(good, end=end)) == ["fields"]


def test_a_run_does_not_end_before_it_begins() -> None:
    work = shop().batch("B1", pieces=5).op("L1").build()
    assert "fields" in broken(work, step(work, "B1", 10, "L1", run=(5, 4)))


@pytest.mark.parametrize(
    ("number", "fields"),
    [
        (10, {"stints": (Stint(0, 0, 5),)}), (10, {"trip": 0}),
        (20, {"setup": (Stint(0, 5, 6),)}), (20, {"bursts": (Burst(5, 0),)}), (20, {"first_off": FirstOff(5, 0, 5, 6)}),
        (30, {"machine": 0}), (30, {"setup_min": 3}), (30, {"stints": (Stint(0, 0, 5),)}), (30, {"changeover_min": 1}),
        (40, {"machine": 0}), (40, {"bursts": (Burst(500, 0),)}),
    ],
)  # fmt: skip
def test_fields_of_another_kind_are_empty(number: int, fields: dict) -> None:
    """Each kind of operation has only its own fields; a machine step has no trip, a wait no machine."""
    work = shop().batch("B1", pieces=5).op("L1").manual("bench", skill="deburr").outside("plate").wait(60).build()
    good = {
        10: step(work, "B1", 10, "L1", run=(0, 5)),
        20: step(work, "B1", 20, "bench", stints=[("Ann", 5, 10)]),
        30: step(work, "B1", 30, start=10, run=(120, 500), trip=0),
        40: step(work, "B1", 40, run=(500, 500)),
    }
    assert broken(work, *good.values()) == []
    good[number] = replace(good[number], **fields)
    assert not {"fields", "complete"}.isdisjoint(broken(work, *good.values()))
