"""Flow shops, machines that are alike and sublots: published examples through the timetable and the search."""

from __future__ import annotations

import pytest
from builders import ShopBuilder
from hypothesis import given, settings
from hypothesis import strategies as st
from published import alike, ends, flow_shop, found

from planner.timetable import Timetable
from planner.work import Work


def makespan(work: Work, jobs: list[int]) -> int:
    """Makespan when every machine takes the jobs in this order (numbers from 1)."""
    table = Timetable(work)
    table.time([work.batches[j - 1].operations[k] for j in jobs for k in range(len(work.batches[0].operations))])
    return table.cost().late


JOHNSON = ([4, 4, 30, 6, 2], [5, 1, 4, 30, 3])


def test_two_machines_five_jobs() -> None:
    """Johnson, Naval Research Logistics Quarterly 1:61-68, 1954 (data from memory; recomputed here)."""
    work = flow_shop(*JOHNSON)
    assert found(work) == makespan(work, [5, 1, 4, 3, 2]) == 47
    assert makespan(work, [1, 2, 3, 4, 5]) == 77


def test_two_machines_five_jobs_and_their_idle_time() -> None:
    """A school-board text's exercise on Johnson's rule (data seen, values recomputed)."""
    a, b = [5, 1, 9, 3, 10], [2, 6, 7, 8, 4]
    work = flow_shop(a, b)
    assert found(work) == makespan(work, [2, 4, 3, 5, 1]) == 30
    assert (30 - sum(a), 30 - sum(b)) == (2, 3)


@pytest.mark.parametrize(
    ("machines", "jobs", "least"),
    [
        (([13, 5, 6, 7], [5, 3, 4, 2], [9, 7, 5, 6]), [2, 1, 3, 4], 43),
        (([3, 8, 7, 5, 4], [4, 5, 1, 2, 3], [7, 9, 5, 6, 10]), [4, 1, 5, 2, 3], 44),
    ],
    ids=["first machine dominates", "last machine dominates"],
)
def test_three_machines_where_johnson_s_rule_holds(machines, jobs: list[int], least: int) -> None:
    """Johnson 1954, case of a dominated middle machine (course and exam examples; recomputed here)."""
    work = flow_shop(*machines)
    assert found(work) == makespan(work, jobs) == least


def test_three_machines_where_johnson_s_rule_fails() -> None:
    """Without dominance the rule on summed times gives 34 and the least is 33 (counterexample, every order tried)."""
    assert found(flow_shop([5, 9, 3], [5, 5, 8], [6, 8, 8])) == 33


def johnson(a: list[int], b: list[int]) -> list[int]:
    first = sorted((j for j in range(len(a)) if a[j] <= b[j]), key=lambda j: a[j])
    last = sorted((j for j in range(len(a)) if a[j] > b[j]), key=lambda j: -b[j])
    return [j + 1 for j in first + last]


@settings(max_examples=20)
@given(st.lists(st.tuples(st.integers(1, 20), st.integers(1, 20)), min_size=1, max_size=6))
def test_johnson_s_order_is_the_least_makespan_on_two_machines(times: list[tuple[int, int]]) -> None:
    """Johnson 1954, for any data."""
    a, b = map(list, zip(*times, strict=True))
    work = flow_shop(a, b)
    assert found(work, trials=2000) == makespan(work, johnson(a, b))


# --- machines that are alike -------------------------------------------------------------------


def longest_first(minutes: list[int], machines: int) -> int:
    work = alike(minutes, machines)
    return max(ends(work, sorted(range(1, len(minutes) + 1), key=lambda j: -minutes[j - 1])))


@pytest.mark.parametrize(
    ("minutes", "machines", "bound", "least"),
    [([5, 5, 5], 2, 7.5, 10), ([13, 9, 9, 6, 6, 6], 3, 49 / 3, 18)],
    ids=["three jobs", "six jobs"],
)
def test_no_plan_is_below_the_bound_with_interruption(minutes, machines: int, bound: float, least: int) -> None:
    """McNaughton, Management Science 6:1-12, 1959: max(longest, sum / machines) where jobs may be interrupted."""
    assert bound == max(max(minutes), sum(minutes) / machines)
    assert found(alike(minutes, machines)) == least >= bound


@pytest.mark.parametrize(
    ("minutes", "machines", "listed", "least"),
    [
        ([3, 3, 2, 2, 2], 2, 7, 6),
        ([5, 5, 4, 4, 3, 3, 3], 3, 11, 9),
        ([7, 7, 6, 6, 5, 5, 4, 4, 4], 4, 15, 12),
        ([13, 9, 9, 6, 6, 6], 3, 19, 18),
    ],
)
def test_longest_first_and_the_least(minutes: list[int], machines: int, listed: int, least: int) -> None:
    """Graham, SIAM Journal on Applied Mathematics 17:416-429, 1969: at most 4/3 - 1/(3m) of the least, and that is met."""
    assert longest_first(minutes, machines) == listed
    assert found(alike(minutes, machines)) == least
    assert listed <= (4 / 3 - 1 / (3 * machines)) * least + 1e-9


@pytest.mark.parametrize(("ones", "last", "machines", "listed", "least"), [(6, 3, 3, 5, 3), (12, 4, 4, 7, 4)])
def test_a_bad_list_and_the_least(ones: int, last: int, machines: int, listed: int, least: int) -> None:
    """Graham, Bell System Technical Journal 45:1563-1581, 1966: any list is at most 2 - 1/m of the least, and that is met."""
    minutes = [1] * ones + [last]
    work = alike(minutes, machines)
    assert max(ends(work, list(range(1, len(minutes) + 1)))) == listed == (2 - 1 / machines) * least
    assert found(work) == least


# --- sublots ----------------------------------------------------------------------------------------


def lot(minutes: list[int], sublots: int) -> int:
    """Makespan of 100 pieces in equal sublots over machines in a row."""
    shop = ShopBuilder().batch("B1", pieces=100)
    for m, p in enumerate(minutes):
        shop.op(f"M{m + 1}", 0, 60 * p, transfer_pieces=100 // sublots)
    return found(shop.order("O1", "B1", due=0).build(), trials=20)


@pytest.mark.parametrize(("sublots", "least"), [(1, 500), (2, 400), (4, 350), (5, 340), (10, 320), (100, 302)])
@pytest.mark.parametrize("minutes", [[3, 2], [2, 3]], ids=str)
def test_equal_sublots_on_two_machines(minutes: list[int], sublots: int, least: int) -> None:
    """Trietsch and Baker, Operations Research 41:1065-1076, 1993: max(P1, P2) + min(P1, P2) / n."""
    assert lot(minutes, sublots) == least == max(minutes) * 100 + min(minutes) * 100 / sublots


@pytest.mark.parametrize(("sublots", "least"), [(1, 1000), (10, 550), (100, 505)])
def test_equal_sublots_on_three_machines(sublots: int, least: int) -> None:
    """The same source: q x (sum of times + (n - 1) x longest)."""
    assert lot([2, 5, 3], sublots) == least == 100 // sublots * (10 + (sublots - 1) * 5)


@pytest.mark.parametrize(
    ("setting", "move", "turn", "mill", "pieces", "end"),
    [(90, 15, 6, 4, 20, 785), (90, 15, 4, 6, 20, 785), (0, 0, 6, 5, 30, 740)],
    ids=str,
)
def test_sublots_with_setting_and_moving(setting: int, move: int, turn: int, mill: int, pieces: int, end: int) -> None:
    """The exact recursion f2_k = max(f2_(k-1), f1_k + move) + q_k t2, worked by hand; with a short last sublot the usual
    shortcut says 750 in place of 740."""
    shop = ShopBuilder().batch("B1", pieces=100)
    shop.op("lathe", setting, 60 * turn, transfer_pieces=pieces, move_min=move).op("mill", 0, 60 * mill)
    assert found(shop.order("O1", "B1", due=0).build(), trials=20) == end


def test_one_step_after_the_other_with_setting_and_moving() -> None:
    """The same 100 pieces without sublots, the mill's setting of 60 in line: 1,165 minutes."""
    shop = ShopBuilder().batch("B1", pieces=100)
    shop.op("lathe", 90, 360, move_min=15).op("mill", 60, 240)
    assert found(shop.order("O1", "B1", due=0).build(), trials=20) == 1165
