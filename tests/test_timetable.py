"""The timetable against a worked reference and against the verifier."""

from __future__ import annotations

import pytest
from builders import ShopBuilder, days
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.plan import Plan
from planner.search import search
from planner.timetable import Timetable
from planner.verify import verify
from planner.work import Work

DAY = days(12, (0, 240), (270, 510))  # 08:00-12:00 and 12:30-16:30


def _two_machines(**overlap: int) -> Work:
    """108 pieces: saw 10 + 0.5 min, lathe 90 + 6, mill 60 + 4 (the usual textbook sum, worked by hand)."""
    shop = ShopBuilder().machine("saw", DAY).machine("lathe", DAY).machine("mill", DAY)
    shop.batch("B1", pieces=108).op("saw", 10, 30).op("lathe", 90, 360, **overlap).op("mill", 60, 240)
    return shop.order("O1", "B1", due=0).build()


def _ends(work: Work) -> list[str]:
    table = Timetable(work)
    table.time(table.repaired([0, 1, 2]))
    return [f"{work.local(s.run_end):%a %H:%M}" for s in table.steps()]


def test_steps_one_after_another_end_as_worked_by_hand() -> None:
    """Saw 64, lathe 738 and mill 492 working minutes from Monday 08:00."""
    assert _ends(_two_machines()) == ["Mon 09:04", "Tue 13:52", "Wed 14:04"]


def test_four_sublots_with_setting_ahead_end_as_worked_by_hand() -> None:
    """Sublots of 27 with 15 working minutes of moving: the mill begins each when it is there."""
    work = _two_machines(transfer_pieces=27, move_min=15)
    table = Timetable(work)
    table.time(table.repaired([0, 1, 2]))
    starts = [f"{work.local(b.start):%a %H:%M}" for b in table.steps()[2].bursts]
    assert starts == ["Mon 14:01", "Tue 08:13", "Tue 10:55", "Tue 14:07"]
    assert _ends(work)[2] == "Tue 15:55"


@pytest.mark.parametrize(("lathe_min", "mill_min"), [(6, 4), (4, 6)])
def test_overlap_with_an_exact_number_of_sublots(lathe_min: int, mill_min: int) -> None:
    """100 pieces in sublots of 20, setting 90, moving 15: 785 minutes either way (common lot-streaming sum)."""
    shop = ShopBuilder().batch("B1", pieces=100)
    shop.op("lathe", 90, 60 * lathe_min, transfer_pieces=20, move_min=15).op("mill", 0, 60 * mill_min)
    table = Timetable(shop.order("O1", "B1", due=0).build())
    table.time(table.repaired([]))
    assert table.steps()[-1].run_end == 785


def test_pieces_already_across_may_run_at_once() -> None:
    """The step before is half through: what it has handed on does not wait for its next sublot."""
    from planner.work import Begun

    shop = ShopBuilder().batch("B1", pieces=60)
    shop.op("lathe", 0, 300, transfer_pieces=20, begun=Begun.RUNNING, begun_machine="lathe", pieces_left=20)
    shop.op("mill", 0, 60)
    work = shop.order("O1", "B1", due=0).build()
    plan = search(work, trials=20)
    assert plan.step_of()[1].run_start == 0
    assert verify(work, plan) == []


JOBS = st.lists(
    st.lists(st.tuples(st.sampled_from("ABC"), st.integers(0, 20), st.integers(20, 400)), min_size=1, max_size=4),
    min_size=1,
    max_size=5,
)


def _random_work(jobs: list, hours: list, transfer: int | None) -> Work:
    shop = ShopBuilder(handover_min=5)
    for name in "ABC":
        shop.machine(name, hours, [(s + 540, s + 700) for s, _ in hours[::2]])
    shop.person("Ann", ["set", "check"], hours).person("Ben", ["set", "bench"], hours).person("Cy", "check", hours)
    for n, steps in enumerate(jobs):
        shop.batch(f"B{n}", pieces=12, release=30 * n)
        for k, (machine, setup, cycle) in enumerate(steps):
            if k % 3 == 2:
                shop.manual(machine, cycle, skill="check" if n % 2 else "bench", setup=setup)
            else:
                shop.op(
                    [machine, "A"] if machine != "A" else "A", setup, cycle, skill="set",
                    first_off_skill="check" if setup % 2 else None, first_off_min=7, unattended_limit_min=60 * (n % 2),
                    transfer_pieces=transfer, move_min=setup, wait_min=cycle % 3,
                )  # fmt: skip
        shop.order(f"O{n}", f"B{n}", due=400 * n, weight=1 + n)
    return shop.build()


@settings(max_examples=10, deadline=None)
@given(JOBS, st.sampled_from([None, 4]), st.integers(1, 3))
def test_plans_of_random_shops_pass_the_verifier_and_repeat(jobs: list, transfer: int | None, seed: int) -> None:
    """Every plan found is allowed, and the same seed and trials give the same plan."""
    work = _random_work(jobs, list(days(30, (0, 240), (270, 510))), transfer)
    plans: list[Plan] = [search(work, trials=60, seed=seed) for _ in range(2)]
    assert verify(work, plans[0]) == []
    assert (plans[0].steps, plans[0].cost) == (plans[1].steps, plans[1].cost)
