"""One machine: published examples of due-date and weighted problems, through the timetable and the search.

Weighted tardiness and completion go through the search. Maximum lateness and the number of late jobs are not what it
minimises: they are found by trying every order through the timetable.
"""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st
from published import by_due, ends, every_order, found, max_lateness, number_late, one_machine, planned, tardiness


def test_five_jobs_by_due_date_have_the_least_maximum_lateness() -> None:
    """Jackson, Research Report 43, UCLA, 1955 (earliest due date); Moore, Management Science 15:102-109, 1968
    (number late). Data: Pinedo, Scheduling, ch. 3 (attribution from memory; values recomputed here)."""
    p, d = [7, 8, 4, 6, 6], [9, 17, 18, 19, 21]
    work = one_machine(p, due=d)
    all_ends = [e for _, e in every_order(work)]
    edd = ends(work, by_due(d))
    assert max_lateness(edd, d) == min(max_lateness(e, d) for e in all_ends) == 10
    assert (number_late(edd, d), tardiness(edd, d)) == (3, 17)
    assert min(number_late(e, d) for e in all_ends) == 2
    assert found(work) == min(tardiness(e, d) for e in all_ends) == 16
    assert [tardiness(ends(work, o), d) for o in ((1, 3, 4, 5, 2), (1, 4, 3, 5, 2))] == [16, 16]


def on_time_without(work, due: list[int], dropped: set[int]) -> int:
    """Late jobs when the dropped ones go last and the others by due date (Jackson: no order does better by them)."""
    kept = [j for j in by_due(due) if j not in dropped]
    return number_late(ends(work, [*kept, *sorted(dropped)]), due)


def test_eight_jobs_two_late() -> None:
    """The usual illustration of Moore and Hodgson's rule (Management Science 15:102-109, 1968; data from memory)."""
    p, d = [10, 6, 3, 1, 4, 8, 7, 6], [35, 20, 11, 8, 6, 25, 28, 9]
    work = one_machine(p, due=d)
    assert on_time_without(work, d, {6, 8}) == 2
    assert min(on_time_without(work, d, {j}) for j in range(1, 9)) > 1
    assert on_time_without(work, d, set()) > 1


def test_ten_jobs_eight_on_time() -> None:
    """A course exercise on Moore and Hodgson's rule (data only)."""
    p = [19, 23, 5, 31, 17, 8, 32, 41, 26, 18]
    d = [48, 75, 170, 215, 205, 240, 85, 67, 100, 95]
    work = one_machine(p, due=d)
    assert on_time_without(work, d, {7, 8}) == 2
    assert min(on_time_without(work, d, {j}) for j in range(1, 11)) > 1
    assert on_time_without(work, d, set()) > 1


def test_total_tardiness_of_five_long_jobs() -> None:
    """Pinedo, Scheduling, total tardiness example (from memory; recomputed here)."""
    p, d = [121, 79, 147, 83, 130], [260, 266, 266, 336, 337]
    work = one_machine(p, due=d)
    best = [o for o, e in every_order(work) if tardiness(e, d) == 370]
    assert best == [(1, 2, 4, 5, 3), (2, 1, 4, 5, 3)]
    edd = ends(work, by_due(d))
    assert (tardiness(edd, d), max_lateness(edd, d)) == (398, 223)
    assert found(work) == 370


def test_weighted_tardiness_of_four_jobs() -> None:
    """Pinedo, Scheduling, branch and bound example (from memory; recomputed here)."""
    p, d, w = [12, 8, 15, 9], [16, 26, 25, 27], [4, 5, 3, 5]
    work = one_machine(p, due=d, weight=w)
    assert [o for o, e in every_order(work) if tardiness(e, d, w) <= 67] == [(1, 2, 4, 3)]
    assert tardiness(ends(work, by_due(d)), d, w) == 136
    assert found(work) == 67


def test_weighted_tardiness_of_four_jobs_with_one_that_matters_little() -> None:
    """Pinedo, Scheduling, tabu search example (from memory; recomputed here)."""
    p, d, w = [10, 10, 13, 4], [4, 2, 1, 12], [14, 12, 1, 12]
    work = one_machine(p, due=d, weight=w)
    assert [o for o, e in every_order(work) if tardiness(e, d, w) <= 408] == [(1, 4, 2, 3)]
    assert tardiness(ends(work, (2, 1, 4, 3)), d, w) == 500
    assert tardiness(ends(work, (1, 2, 4, 3)), d, w) == 480
    assert found(work) == 408


SEVEN = ([3, 6, 6, 5, 4, 8, 10], [6, 18, 12, 8, 8, 17, 18])


def test_weighted_completion_of_seven_jobs() -> None:
    """Smith, Naval Research Logistics Quarterly 3:59-66, 1956: by time over weight."""
    p, w = SEVEN
    assert found(one_machine(p, weight=w)) == 1942


def test_weighted_completion_of_seven_jobs_in_two_chains() -> None:
    """Pinedo, Scheduling, chains example (from memory; recomputed here): 1-2-3-4 and 5-6-7, least 1967."""
    p, w = SEVEN
    work = one_machine(p, weight=w, chains=[(1, 2), (2, 3), (3, 4), (5, 6), (6, 7)])
    assert found(work) == 1967
    assert tardiness(ends(work, (1, 2, 5, 6, 3, 7, 4)), [0] * 7, w) == 1967


def test_release_dates_without_interruption() -> None:
    """Pinedo, Scheduling, example of 1|r|Lmax: 5 only at (1, 3, 4, 2); with interruption no less either, by due date."""
    p, r, d = [4, 2, 6, 5], [0, 1, 3, 5], [8, 12, 11, 10]
    work = one_machine(p, due=d, release=r)
    by_order = {o: max_lateness(e, d) for o, e in every_order(work)}
    assert [o for o, late in by_order.items() if late <= 5] == [(1, 3, 4, 2)]
    assert (by_order[1, 2, 4, 3], by_order[1, 2, 3, 4]) == (6, 7)
    assert preemptive_max_lateness(p, r, d) == 5


def preemptive_max_lateness(p: list[int], r: list[int], d: list[int]) -> int:
    """Always the job with the earliest due date of those that are there, minute by minute: a bound for every order."""
    left, t, worst = list(p), 0, -(1 << 30)
    while any(left):
        there = [j for j in range(len(p)) if left[j] and r[j] <= t]
        t += 1
        if there:
            j = min(there, key=lambda i: d[i])
            left[j] -= 1
            worst = max(worst, t - d[j]) if not left[j] else worst
    return worst


FORTY = (
    "26 24 79 46 32 35 73 74 14 67 86 46 78 40 29 94 64 27 90 55 35 52 36 69 85 95 14 78 37 86 44 28 39 12 30 68 70 9 49 50",
    "1 10 9 10 10 4 3 2 10 3 7 3 1 3 10 4 7 7 4 7 5 3 5 4 9 5 2 8 10 4 7 4 9 5 7 7 5 10 1 3",
    "1588 1620 1731 1773 1694 1487 1566 1844 1727 1636 1599 1539 1855 1645 1709 1660 1582 1836 1484 1559 1772 1510 1512 "
    "1795 1522 1509 1598 1658 1826 1628 1650 1833 1627 1528 1541 1497 1481 1446 1579 1814",
)


def test_weighted_tardiness_of_forty_jobs() -> None:
    """OR-Library, wt40 no. 1 (Crauwels, Potts and Van Wassenhove, INFORMS Journal on Computing 10:341-350, 1998): 913."""
    p, w, d = ([int(x) for x in line.split()] for line in FORTY)
    work = one_machine(p, due=d, weight=w)
    assert tardiness(ends(work, by_due(d)), d, w) == 1588
    assert planned(work, 913, 60_000).cost.first == 913


JOBS = st.lists(st.tuples(st.integers(1, 20), st.integers(1, 9), st.integers(0, 60)), min_size=1, max_size=6)


@settings(max_examples=20)
@given(JOBS)
def test_by_time_over_weight_is_least_weighted_completion(jobs: list[tuple[int, int, int]]) -> None:
    """Smith 1956, for any data: the search must find what the rule proves."""
    p, w, _ = map(list, zip(*jobs, strict=True))
    work = one_machine(p, weight=w)
    order = sorted(range(1, len(p) + 1), key=lambda j: p[j - 1] / w[j - 1])
    assert found(work, trials=2000) == tardiness(ends(work, order), [0] * len(p), w)


@settings(max_examples=20)
@given(JOBS)
def test_by_due_date_is_least_maximum_lateness(jobs: list[tuple[int, int, int]]) -> None:
    """Jackson 1955, for any data: no order through the timetable does better."""
    p, _, d = map(list, zip(*jobs, strict=True))
    work = one_machine(p, due=d)
    best = min(max_lateness(e, d) for _, e in every_order(work))
    assert max_lateness(ends(work, by_due(d)), d) == best


def test_a_minute_more_on_one_job_is_seen() -> None:
    """The checks above can fail: with one minute more the least is another, and the search finds that one."""
    p, d, w = [13, 8, 15, 9], [16, 26, 25, 27], [4, 5, 3, 5]
    work = one_machine(p, due=d, weight=w)
    assert found(work) == min(tardiness(e, d, w) for _, e in every_order(work)) == 75
