"""Minutes as the shop's clock shows them, also over both clock changes."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest
from builders import ShopBuilder

from planner.answers.wording import BEYOND
from planner.work import NEVER
from web.clock import Clock

DAY = 1440


def clock(start: datetime, zone: str = "Europe/London") -> Clock:
    work = ShopBuilder().batch("B1", pieces=1).op("mill", 10, 60).order("O1", "B1", due=DAY).build()
    return Clock(replace(work, plan_start=start, zone=zone))


WINTER = clock(datetime(2026, 3, 23, 8, tzinfo=UTC))
# The United Kingdom changes its clocks at 01:00 UTC on 29 March and 25 October 2026 (IANA time zone data).
SPRING = clock(datetime(2026, 3, 28, 8, tzinfo=UTC))
AUTUMN = clock(datetime(2026, 10, 24, 7, tzinfo=UTC))


@pytest.mark.parametrize(
    ("minute", "text"),
    [(0, "Mon 23 Mar 08:00"), (61, "Mon 23 Mar 09:01"), (-1, "Mon 23 Mar 07:59"), (16 * 60, "Tue 24 Mar 00:00")],
)
def test_a_minute_reads_as_weekday_day_and_time(minute: int, text: str) -> None:
    assert WINTER.text(minute) == text


def test_what_is_never_reached_is_not_given_a_date() -> None:
    assert WINTER.text(NEVER) == BEYOND
    assert WINTER.text(DAY) != BEYOND


def test_an_hour_is_left_out_in_spring() -> None:
    """After 00:59 the clock shows 02:00."""
    midnight = 16 * 60
    assert SPRING.text(midnight + 59) == "Sun 29 Mar 00:59"
    assert SPRING.text(midnight + 60) == "Sun 29 Mar 02:00"


def test_the_second_of_two_equal_times_in_autumn_says_so() -> None:
    """Minute 0 is 08:00 summer time; 01:30 comes 17.5 h later and again an hour after that."""
    assert AUTUMN.text(17 * 60 + 30) == "Sun 25 Oct 01:30"
    assert AUTUMN.text(18 * 60 + 30) == "Sun 25 Oct 01:30 (second)"
    assert AUTUMN.text(19 * 60) == "Sun 25 Oct 02:00"


@pytest.mark.parametrize(("clock_", "hours"), [(WINTER, 24), (SPRING, 23), (AUTUMN, 25)])
def test_days_have_their_real_length(clock_: Clock, hours: int) -> None:
    """The second day, which is the Sunday of the change for two of them."""
    first, second, third = clock_.days(2 * DAY)[:3]
    assert second.start - first.start == DAY
    assert third.start - second.start == hours * 60


def test_days_run_from_the_start_s_own_to_the_last_one_touched() -> None:
    """The day after midnight counts from its first minute on."""
    midnight = 16 * 60
    assert [d.iso for d in WINTER.days(midnight - 1)] == ["2026-03-23"]
    assert [d.iso for d in WINTER.days(midnight)] == ["2026-03-23", "2026-03-24"]
    first = WINTER.days(0)[0]
    assert (first.start, first.label, first.week) == (-8 * 60, "Mon 23 Mar", "2026-W13")


@pytest.mark.parametrize(("clock_", "ones", "marks"), [(WINTER, 1, 24), (SPRING, 0, 23), (AUTUMN, 2, 25)])
def test_hours_of_the_second_day_are_those_its_clock_shows(clock_: Clock, ones: int, marks: int) -> None:
    _, second, third = clock_.days(2 * DAY)[:3]
    hours = [m.hour for m in clock_.hours(3 * DAY) if second.start <= m.at < third.start]
    assert len(hours) == marks
    assert hours.count(1) == ones


def test_hours_are_whole_in_a_zone_with_half_hours() -> None:
    """India is 5 h 30 min ahead of UTC (IANA time zone data)."""
    india = clock(datetime(2026, 3, 23, 8, tzinfo=UTC), "Asia/Kolkata")
    marks = india.hours(180)
    assert all(india.text(m.at).endswith(f"{m.hour:02d}:00") for m in marks)
    assert [m.hour for m in marks][:3] == [0, 1, 2]


def test_a_day_and_its_minutes_agree() -> None:
    assert WINTER.day(16 * 60 - 1) == date(2026, 3, 23)
    assert WINTER.day(16 * 60) == date(2026, 3, 24)
    assert WINTER.minute_of(date(2026, 3, 24)) == WINTER.minute_of_next_day(0) == 16 * 60
    assert WINTER.day_label("2026-03-24") == "Tue 24 Mar"
