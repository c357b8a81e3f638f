"""Queueing formulas against printed values (Hopp & Spearman, *Factory Physics*; Heizer & Render; Erlang 1917)."""

from __future__ import annotations

from fractions import Fraction
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.capacity.queueing import (
    departure_cv2,
    effective_time,
    erlang_c,
    markov_line,
    practical_worst_case,
    vut_wait,
)


@pytest.mark.parametrize(
    ("load", "servers", "chance"),
    [
        (1, 2, Fraction(1, 3)), (1.5, 2, Fraction(9, 14)), (1.6, 2, Fraction(32, 45)), (2, 3, Fraction(4, 9)),
        (2.4, 3, Fraction(288, 445)), (3, 4, Fraction(27, 53)),
    ],
)  # fmt: skip
def test_chance_to_wait_is_erlangs(load: float, servers: int, chance: Fraction) -> None:
    """A. K. Erlang, 1917; values by exact arithmetic."""
    assert erlang_c(load, servers) == pytest.approx(float(chance), rel=1e-12)


@pytest.mark.parametrize(("load", "servers", "chance"), [(4, 5, 0.554113), (8, 10, 0.409180), (15, 20, 0.160429)])
def test_chance_to_wait_with_many_machines(load: float, servers: int, chance: float) -> None:
    assert erlang_c(load, servers) == pytest.approx(chance, abs=5e-7)


def test_everybody_waits_when_there_is_as_much_work_as_there_are_machines() -> None:
    assert erlang_c(2, 2) == 1
    assert erlang_c(1.999999, 2) < 1
    assert erlang_c(0, 2) == 0


@given(load=st.floats(0, 0.99), servers=st.integers(1, 40))
def test_wait_of_the_sum_over_states_is_the_same(load: float, servers: int) -> None:
    """Erlang C by its definition, state by state, with no recursion."""
    a = load * servers
    term, states = 1.0, [1.0]
    for n in range(1, servers + 1):
        term *= a / n
        states.append(term)
    tail = states[-1] / (1 - load)
    assert erlang_c(a, servers) == pytest.approx(tail / (sum(states[:-1]) + tail), abs=1e-9)


def test_one_machine_at_random() -> None:
    """Heizer & Render, *Operations Management*: 2 an hour come, 3 an hour are done."""
    line = markov_line(2, 3)
    assert (line.wait_chance, line.queue, line.present) == (
        pytest.approx(2 / 3), pytest.approx(4 / 3), pytest.approx(2)
    )  # fmt: skip
    assert (60 * line.wait, 60 * line.stay) == (pytest.approx(40), pytest.approx(60))


def test_a_second_machine_at_random() -> None:
    """Same source; it prints 0.0415 h where 1/24 h is meant."""
    line = markov_line(2, 3, 2)
    assert line.idle == pytest.approx(0.5)
    assert (line.queue, line.present) == (pytest.approx(1 / 12), pytest.approx(0.75))
    assert 60 * line.wait == pytest.approx(2.5)


def test_a_line_that_cannot_keep_up_has_no_end() -> None:
    assert markov_line(3, 3).wait == inf


@pytest.mark.parametrize(("used", "times"), [(0.5, 1), (0.8, 4), (0.9, 9), (0.95, 19), (0.99, 99)])
def test_wait_in_job_times_at_random(used: float, times: float) -> None:
    assert vut_wait(1, 1, used, 1) == pytest.approx(times)
    assert vut_wait(1, 1, used, 60) == pytest.approx(60 * times)


def test_breakdowns_seldom_and_long_or_often_and_short() -> None:
    """*Factory Physics* 8.4: 15 min a job, spread 3.35, same availability."""
    seldom = effective_time(15, 3.35 / 15, up=744, down=248)
    often = effective_time(15, 3.35 / 15, up=114, down=38)
    assert seldom.availability == often.availability == 0.75
    assert seldom.mean == often.mean == pytest.approx(20)
    assert seldom.cv2 == pytest.approx(6.25, abs=0.002)
    assert often.cv2 == pytest.approx(1.00, abs=0.002)


def test_wait_with_breakdowns() -> None:
    """*Factory Physics* 8.6 (Kingman 1961)."""
    assert vut_wait(1, 6.25, 23 / 24, 20) == pytest.approx(1667.5)
    assert vut_wait(1, 1, 23 / 24, 20) == pytest.approx(460)


def test_what_leaves_one_machine_comes_to_the_next() -> None:
    """*Factory Physics* 8.6: into a station with ce2 of 1."""
    leaves = departure_cv2(1, 6.25, 23 / 24)
    assert leaves == pytest.approx(5.8216, abs=5e-5)
    assert vut_wait(leaves, 1, 23 / 24, 20) == pytest.approx(1568.97, abs=0.005)


def test_three_machines_from_one_line() -> None:
    """*Factory Physics* 8.6: pooled 2.467 h; exactly 2.459 h; each for itself 7.667 h."""
    assert vut_wait(1, 1, 23 / 24, 20, machines=3) / 60 == pytest.approx(2.467, abs=5e-4)
    assert markov_line(23 / 24 * 3, 1, 3).wait * 20 / 60 == pytest.approx(2.459, abs=5e-4)
    assert vut_wait(1, 1, 23 / 24, 20) / 60 == pytest.approx(7.667, abs=5e-4)


def test_long_and_short_setups() -> None:
    """*Factory Physics* 8.4: 2 h every ten jobs, 1 h every five."""
    long = effective_time(1, 0.25, setup=2, setup_cv=0.25, jobs_a_setup=10)
    short = effective_time(1, 0.25, setup=1, setup_cv=0.25, jobs_a_setup=5)
    assert long.mean == short.mean == pytest.approx(1.2)
    assert long.cv2 == pytest.approx(0.3108, abs=5e-5)
    assert short.cv2 == pytest.approx(0.1632, abs=5e-5)


@pytest.mark.parametrize(("jobs", "rate", "time"), [(4, 0.285714, 14), (57, 0.475, 120)])
def test_a_line_as_uneven_as_can_be_expected(jobs: int, rate: float, time: float) -> None:
    """*Factory Physics* ch. 7: four stations of 2 h; 57 jobs are needed for 95 % of the rate (Little 1961)."""
    found = practical_worst_case(jobs, 0.5, 8)
    assert found == (pytest.approx(rate, abs=5e-7), pytest.approx(time))
    assert found[0] * found[1] == pytest.approx(jobs)


@given(st.floats(0, 4), st.floats(0, 4), st.integers(1, 9))
def test_departures_follow_the_arrivals_when_idle_and_the_machine_when_full(
    ca2: float, ce2: float, machines: int
) -> None:
    assert departure_cv2(ca2, ce2, 0, machines) == pytest.approx(ca2, abs=1e-9)
    assert departure_cv2(ca2, ce2, 1) == departure_cv2(ca2, ce2, 1.7) == pytest.approx(ce2, abs=1e-9)
    assert departure_cv2(1, 1, 0.5, machines) == 1


def test_what_cannot_be_is_refused() -> None:
    for call in (
        lambda: erlang_c(-1, 2), lambda: erlang_c(1, 0), lambda: vut_wait(1, 1, -0.1, 1), lambda: vut_wait(1, 1, 0.5, 1, 0),
        lambda: effective_time(0), lambda: effective_time(1, jobs_a_setup=0.5), lambda: markov_line(1, 0),
    ):  # fmt: skip
        with pytest.raises(ValueError):
            call()
    assert vut_wait(1, 1, 1, 5) == inf
