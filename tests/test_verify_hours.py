"""Open time as the verifier counts it, against counting minute by minute."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from planner.verify.hours import OpenTime, common, with_unattended

DAY = OpenTime([(480, 720), (750, 990)])  # 08:00-12:00, 12:30-16:30
TWO_DAYS = OpenTime([(480, 720), (750, 990), (1920, 2160), (2190, 2430)])


def test_a_move_at_the_end_of_the_day_is_finished_the_next_morning() -> None:
    """16:28 and 15 minutes in hours to 16:30 and from 08:00 is 08:13 (the rules' own example)."""
    assert TWO_DAYS.work_off(16 * 60 + 28, 15) == 1440 + 8 * 60 + 13


def test_no_minutes_end_at_once_even_in_closed_time() -> None:
    assert DAY.work_off(100, 0) == 100


def test_the_last_open_minute_is_enough_and_one_more_is_never() -> None:
    assert DAY.work_off(989, 1) == 990
    assert DAY.work_off(989, 2) is None


def test_a_gap_up_to_the_break_keeps_a_stretch_and_one_minute_more_ends_it() -> None:
    assert DAY.in_one_stretch(700, 800, 30)
    assert not DAY.in_one_stretch(700, 800, 29)


def test_a_stretch_does_not_begin_or_end_in_closed_time() -> None:
    assert DAY.in_one_stretch(700, 720, 30)
    assert not DAY.in_one_stretch(700, 721, 29)
    assert not DAY.in_one_stretch(479, 500, 30)


def test_a_shift_ends_where_more_than_a_break_follows() -> None:
    assert not TWO_DAYS.ends_shift(720, 30)
    assert TWO_DAYS.ends_shift(720, 29)
    assert TWO_DAYS.ends_shift(990, 60)
    assert TWO_DAYS.ends_shift(2430, 60), "the last window ends a shift"
    assert not TWO_DAYS.ends_shift(989, 0)


def test_windows_that_touch_are_one_stretch_but_two_windows() -> None:
    touching = OpenTime([(0, 60), (60, 120)])
    assert touching.in_one_stretch(0, 120, 0)
    assert touching.window_at(59) == (0, 60) and touching.window_at(60) == (60, 120)
    assert not touching.ends_shift(60, 0)


def test_the_unattended_limit_counts_from_where_the_stretch_began() -> None:
    """Two windows that touch are one stretch; one that began before minute 0 has used part of its limit."""
    attended = OpenTime([(0, 100)])
    hours = with_unattended(attended, OpenTime([(-30, 0), (100, 130), (130, 200), (300, 400)]), 50)
    assert hours.windows == ((-30, 0), (0, 100), (100, 130), (130, 150), (300, 350))
    assert with_unattended(attended, OpenTime([(100, 200)]), 0).windows == ((0, 100),)


windows = st.lists(st.integers(1, 12), max_size=12).map(
    lambda lengths: [(sum(lengths[: i + 1]), sum(lengths[: i + 2])) for i in range(0, len(lengths) - 1, 2)]
)


@given(windows, st.integers(-5, 90), st.integers(0, 40))
def test_working_off_agrees_with_counting_minutes_one_by_one(
    spans: list[tuple[int, int]], start: int, minutes: int
) -> None:
    open_minutes = [m for a, b in spans for m in range(a, b) if m >= start]
    expected = start if minutes == 0 else open_minutes[minutes - 1] + 1 if minutes <= len(open_minutes) else None
    assert OpenTime(spans).work_off(start, minutes) == expected


@given(windows, windows, st.integers(-5, 90), st.integers(-5, 90))
def test_common_minutes_are_those_open_in_both(
    a: list[tuple[int, int]], b: list[tuple[int, int]], start: int, end: int
) -> None:
    both = common(OpenTime(a), OpenTime(b))
    expected = sum(OpenTime(a).is_open(m) and OpenTime(b).is_open(m) for m in range(start, end))
    assert both.minutes(start, max(start, end)) == expected
