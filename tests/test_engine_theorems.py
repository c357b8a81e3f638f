"""Theorems of scheduling as properties of the engine's plans, for any small data.

That the engine finds Smith's and Johnson's orders is held in ``test_published_one_machine.py`` and
``test_published_many_machines.py``, with the examples of those papers.
"""

from __future__ import annotations

from itertools import product
from math import ceil

from builders import ShopBuilder
from hypothesis import given, settings
from hypothesis import strategies as st
from published import (
    LATE_ONLY,
    alike,
    by_due,
    ends,
    every_order,
    flow_shop,
    found,
    max_lateness,
    number_late,
    one_machine,
)

from planner.search import search
from planner.verify import verify
from planner.work import Work

TIMES = st.lists(st.integers(1, 20), min_size=1, max_size=6)
JOBS = st.lists(st.tuples(st.integers(1, 20), st.integers(0, 60)), min_size=1, max_size=6)
PAIRS = st.lists(st.tuples(st.integers(1, 20), st.integers(1, 20)), min_size=1, max_size=5)
TRIALS = 2000


@settings(max_examples=80)
@given(JOBS)
def test_by_due_date_is_least_maximum_lateness_to_the_minute(
    jobs: list[tuple[int, int]],
) -> None:
    """Jackson, Research Report 43, UCLA, 1955: by due date gives the least maximum lateness.

    Dues may be before the plan start: only how late they are counts.
    """
    p, d = map(list, zip(*jobs, strict=True))
    least = max_lateness(ends(one_machine(p), by_due(d)), d)
    assert found(one_machine(p, due=[x + least for x in d]), TRIALS) == 0
    tight = [x + least - 1 for x in d]
    late = min(
        sum(max(0, e - t) for e, t in zip(order, tight, strict=True)) for _, order in every_order(one_machine(p))
    )
    assert found(one_machine(p, due=tight), TRIALS) == late > 0


def least_number_late(minutes: list[int], due: list[int]) -> int:
    """Moore and Hodgson's rule: by due date; whenever one would be late, drop the longest so far."""
    kept: list[int] = []
    for j in by_due(due):
        kept.append(minutes[j - 1])
        if sum(kept) > due[j - 1]:
            kept.remove(max(kept))
    return len(minutes) - len(kept)


@settings(max_examples=80)
@given(JOBS)
def test_no_plan_has_fewer_late_jobs_than_moore_and_hodgson_s_rule(jobs: list[tuple[int, int]]) -> None:
    """Moore, Management Science 15:102-109, 1968. The engine weighs minutes, not jobs: it may have more late, never fewer;
    where the rule says none, it has none."""
    p, d = map(list, zip(*jobs, strict=True))
    work = one_machine(p, due=d)
    plan, least = search(work, trials=TRIALS), least_number_late(p, d)
    assert verify(work, plan) == []
    late = number_late([s.end for s in plan.steps], d)
    assert late >= least
    assert (late == 0) == (least == 0)
    assert least == min(number_late(e, d) for _, e in every_order(work))


def least_makespan(minutes: list[int], machines: int) -> int:
    """Of every way to share the jobs out to machines."""
    shares = product(range(machines), repeat=len(minutes))
    return min(
        max(sum(p for p, m in zip(minutes, share, strict=True) if m == k) for k in range(machines)) for share in shares
    )


@settings(max_examples=80)
@given(TIMES, st.integers(2, 3))
def test_last_of_alike_machines_is_between_mcnaughton_s_and_graham_s_bounds(minutes: list[int], machines: int) -> None:
    """McNaughton, Management Science 6:1-12, 1959: max(longest, sum / machines) even with interruption; Graham, SIAM Journal
    on Applied Mathematics 17:416-429, 1969: longest first is at most 4/3 - 1/(3m) of the least."""
    work = alike(minutes, machines)
    longest_first = max(ends(work, sorted(range(1, len(minutes) + 1), key=lambda j: -minutes[j - 1])))
    makespan = found(work, TRIALS)
    assert makespan == least_makespan(minutes, machines)
    assert max(max(minutes), ceil(sum(minutes) / machines)) <= makespan <= longest_first
    assert longest_first * 3 * machines <= makespan * (4 * machines - 1)


def pausing(minutes: list[int], machines: int) -> Work:
    """Jobs that may be interrupted: each minute an operation of its own, on any machine."""
    shop = ShopBuilder(prices=LATE_ONLY)
    names = [f"M{m + 1}" for m in range(machines)]
    for j, p in enumerate(minutes):
        shop.batch(f"J{j + 1}")
        for _ in range(p):
            shop.op(names, 0, 60)
    return shop.order("all", *(f"J{j + 1}" for j in range(len(minutes))), due=0).build()


@settings(max_examples=8)
@given(st.lists(st.integers(1, 5), min_size=1, max_size=5), st.integers(2, 3))
def test_with_interruption_mcnaughton_s_bound_is_met(minutes: list[int], machines: int) -> None:
    """McNaughton 1959: in whole minutes there is a plan that ends at max(longest, ceil(sum / machines))."""
    assert found(pausing(minutes, machines), 4000) == max(max(minutes), ceil(sum(minutes) / machines))


def open_end(tails: list[tuple[int, int]]) -> Work:
    """One machine, then a wait of its own for each job; one order ready with the last."""
    shop = ShopBuilder(prices=LATE_ONLY)
    for j, (p, tail) in enumerate(tails):
        shop.batch(f"J{j + 1}").op("M", 0, 60 * p).wait(tail)
    return shop.order("all", *(f"J{j + 1}" for j in range(len(tails))), due=0).build()


@settings(max_examples=60)
@given(PAIRS)
def test_longest_tail_first_ends_soonest(tails: list[tuple[int, int]]) -> None:
    """Jackson 1955, for delivery times: with a wait after the machine, longest wait first ends soonest of all orders."""
    now = soonest = 0
    for p, tail in sorted(tails, key=lambda t: -t[1]):
        now += p
        soonest = max(soonest, now + tail)
    assert found(open_end(tails), TRIALS) == soonest


@settings(max_examples=60)
@given(st.lists(st.tuples(st.integers(1, 20), st.integers(1, 9)), min_size=1, max_size=5), st.integers(2, 4))
def test_longer_minutes_cost_in_proportion(jobs: list[tuple[int, int]], times: int) -> None:
    """Smith, Naval Research Logistics Quarterly 3:59-66, 1956: time over weight keeps its order when all times are
    multiplied, so the least weighted completion is multiplied too."""
    p, w = map(list, zip(*jobs, strict=True))
    longer = one_machine([times * minutes for minutes in p], weight=w)
    assert found(longer, TRIALS) == times * found(one_machine(p, weight=w), TRIALS)


@settings(max_examples=60)
@given(PAIRS)
def test_two_machines_end_as_soon_backwards(times: list[tuple[int, int]]) -> None:
    """Johnson, Naval Research Logistics Quarterly 1:61-68, 1954: machines swapped, the least makespan is the same."""
    a, b = map(list, zip(*times, strict=True))
    assert found(flow_shop(a, b), TRIALS) == found(flow_shop(b, a), TRIALS)
