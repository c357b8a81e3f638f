"""A list to begin with that holds work back: what is late because of it is let go, all else stays."""

from __future__ import annotations

from builders import ShopBuilder

from planner.plan import Listed, Plan
from planner.search import search
from planner.verify import verify
from planner.work import Work


def planned(work: Work, *start: Listed) -> Plan:
    plan = search(work, trials=1, start=start)
    assert verify(work, plan) == []
    return plan


def one_batch(due: int) -> Work:
    """An hour's run on a machine that is always open."""
    return ShopBuilder().batch("A").op({"L": (0, 3600)}).order("O", "A", due=due).build()


def test_what_is_in_time_though_held_back_stays_so() -> None:
    plan = planned(one_batch(due=360), Listed(0, 0, 300))
    assert (plan.steps[0].start, plan.steps[0].held_until, plan.cost.late) == (300, 300, 0)


def test_what_would_be_a_minute_late_is_let_go() -> None:
    plan = planned(one_batch(due=359), Listed(0, 0, 300))
    assert (plan.steps[0].start, plan.steps[0].held_until, plan.cost.late) == (0, None, 0)


def test_what_is_late_because_something_before_it_is_held_back_goes_with_it() -> None:
    """A is held back and in time, B behind it is late for that."""
    shop = ShopBuilder().batch("A").op({"L": (0, 3600)}).order("O", "A", due=1000)
    work = shop.batch("B").op({"L": (0, 3600)}).order("P", "B", due=400).build()
    plan = planned(work, Listed(0, 0, 300), Listed(1, 0))
    assert ([s.start for s in plan.steps], plan.cost.late) == ([0, 60], 0)


def test_one_held_start_right_behind_another_does_not_hide_it() -> None:
    """B is held back to the very minute at which A, held back too, is through: either alone would change nothing for B."""
    shop = ShopBuilder().batch("A").op({"L": (0, 3600)}).order("O", "A", due=1000)
    work = shop.batch("B").op({"L": (0, 3600)}).order("P", "B", due=130).build()
    plan = planned(work, Listed(0, 0, 300), Listed(1, 0, 360))
    assert ([s.start for s in plan.steps], plan.cost.late) == ([0, 60], 0)


def test_a_component_held_back_to_the_minute_of_its_use_goes_with_it() -> None:
    shop = ShopBuilder().batch("C").op({"L": (0, 3600)}).batch("P").op({"M": (0, 3600)}).need("P", 10, "C")
    work = shop.order("O", "P", due=130).build()
    plan = planned(work, Listed(0, 0, 300), Listed(1, 1, 360))
    assert ([s.start for s in plan.steps], plan.cost.late) == ([0, 60], 0)


def test_letting_go_is_not_done_where_it_makes_nothing_less_late() -> None:
    """The order is late before anything is held back, and what is held is not what it waits for."""
    shop = ShopBuilder().batch("A").op({"L": (0, 3600)}).order("O", "A", due=30)
    work = shop.batch("B").op({"M": (0, 3600)}).order("P", "B", due=1000).build()
    plan = planned(work, Listed(0, 0), Listed(1, 1, 500))
    assert ([s.start for s in plan.steps], plan.cost.late) == ([0, 500], 30)


def test_the_bound_does_not_believe_what_is_held_back() -> None:
    """Held back until the last moment that is in time, the other order would be late on every list."""
    shop = ShopBuilder().batch("A").op({"L": (0, 3600)}).order("O", "A", due=500)
    work = shop.batch("B").op({"L": (0, 12_000)}).order("P", "B", due=450).build()
    plan = search(work, trials=2000, start=[Listed(0, 0, 400), Listed(1, 0, 250)])
    assert verify(work, plan) == []
    assert (plan.cost.late, plan.bound.value) == (0, 0)
