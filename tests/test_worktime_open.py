"""``OpenTime`` answers as counting minute by minute would."""

from __future__ import annotations

from itertools import accumulate

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.work import NEVER
from planner.worktime import OpenTime

END = 70


@st.composite
def open_times(draw: st.DrawFn) -> OpenTime:
    """Windows from -50 on to at most 55, some of them touching."""
    steps = draw(st.lists(st.tuples(st.integers(0, 9), st.integers(1, 12)), max_size=5))
    edges = list(accumulate([n for step in steps for n in step], initial=-50))[1:]
    return OpenTime(tuple(zip(edges[::2], edges[1::2], strict=True)))


def minutes(open_time: OpenTime) -> list[int]:
    return [t for a, b in open_time.windows for t in range(a, b)]


@settings(max_examples=300)
@given(open_times(), st.integers(-60, END), st.integers(0, 60))
def test_after_is_the_end_of_the_dth_open_minute(open_time: OpenTime, t: int, d: int) -> None:
    following = [m for m in minutes(open_time) if m >= t]
    expected = t if d == 0 else following[d - 1] + 1 if d <= len(following) else NEVER
    assert open_time.after(t, d) == expected


@settings(max_examples=300)
@given(open_times(), st.integers(-60, END), st.integers(0, 60))
def test_before_is_the_begin_of_the_dth_open_minute_counted_back(open_time: OpenTime, t: int, d: int) -> None:
    earlier = [m for m in minutes(open_time) if m < t]
    expected = t if d == 0 else earlier[-d] if d <= len(earlier) else -NEVER
    assert open_time.before(t, d) == expected


@settings(max_examples=300)
@given(open_times(), st.integers(-60, END), st.integers(-60, END))
def test_open_between_counts_open_minutes(open_time: OpenTime, a: int, b: int) -> None:
    a, b = sorted((a, b))
    assert open_time.open_between(a, b) == sum(a <= m < b for m in minutes(open_time))


@settings(max_examples=300)
@given(open_times(), st.integers(-60, END))
def test_first_open_is_the_next_open_minute(open_time: OpenTime, t: int) -> None:
    assert open_time.first_open(t) == next((m for m in minutes(open_time) if m >= t), NEVER)


@settings(max_examples=300)
@given(open_times(), st.integers(-60, END), st.integers(1, 60))
def test_before_undoes_after_but_for_closed_time(open_time: OpenTime, t: int, d: int) -> None:
    end = open_time.after(t, d)
    if end < NEVER:
        assert open_time.before(end, d) == open_time.first_open(t)


def test_fifteen_minutes_from_16_28_end_at_08_13() -> None:
    """The worked example of the timing rules: open 08:00-16:30, minutes of two days."""
    days = OpenTime(((480, 990), (1440 + 480, 1440 + 990)))
    assert days.after(16 * 60 + 28, 15) == 1440 + 8 * 60 + 13
    assert days.after(16 * 60 + 28, 2) == 16 * 60 + 30
    assert days.after(16 * 60 + 28, 3) == 1440 + 8 * 60 + 1


@pytest.mark.parametrize("windows", [((5, 10), (9, 12)), ((5, 10), (0, 3)), ((5, 5),), ((9, 4),)])
def test_windows_out_of_order_are_refused(windows: tuple[tuple[int, int], ...]) -> None:
    with pytest.raises(ValueError, match="sorted"):
        OpenTime(windows)


def test_without_windows_nothing_is_ever_open() -> None:
    closed = OpenTime(())
    assert (closed.first_open(3), closed.after(3, 1), closed.before(3, 1)) == (NEVER, NEVER, -NEVER)
    assert (closed.after(3, 0), closed.open_between(0, 9)) == (3, 0)


def test_the_last_known_minute_can_be_used_and_the_one_after_it_cannot() -> None:
    known = OpenTime(((0, 10), (20, 25)))
    assert (known.after(0, 15), known.after(0, 16)) == (25, NEVER)
    assert (known.before(25, 15), known.before(25, 16)) == (0, -NEVER)
    assert (known.first_open(24), known.first_open(25)) == (24, NEVER)
