"""Calendars to minutes: local time, clock changes, closed days, ISO weeks, working days.

"External values K1-K5" are published calendar facts; each source is named beside its check.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import holidays
import pytest
from dateutil import rrule

from planner import worktime
from planner.shop import Absence, Calendar, ClosedDays, ExtraShift, Hours
from planner.worktime import hours_of, iso_week, minute_of, to_utc, week_spans, working_days

LONDON, NEW_YORK = "Europe/London", "America/New_York"
START = datetime(2026, 3, 23, 8, 0, tzinfo=UTC)  # a Monday, 08:00 in London


def calendar(*hours: tuple[int, str, str, bool], known_to: date = date(2026, 12, 31), **more: object) -> Calendar:
    windows = tuple(Hours(day, time.fromisoformat(a), time.fromisoformat(b), att) for day, a, b, att in hours)
    return Calendar("c", known_to, windows, **more)  # type: ignore[arg-type]


def after_start(windows: tuple[tuple[int, int], ...]) -> list[tuple[int, int]]:
    return [w for w in windows if w[1] > 0]


# --- local time becomes UTC once ---------------------------------------------------------------


def test_a_skipped_local_time_is_the_end_of_the_gap() -> None:
    """K4 (IANA time zone data): 01:00-02:00 is missing on 29 March 2026; the gap ends at 01:00 UTC."""
    end_of_gap = datetime(2026, 3, 29, 1, 0, tzinfo=UTC)
    assert to_utc(datetime(2026, 3, 29, 0, 59), LONDON) == end_of_gap - timedelta(minutes=1)
    for minute in (0, 1, 30, 59):
        assert to_utc(datetime(2026, 3, 29, 1, minute), LONDON) == end_of_gap
    assert to_utc(datetime(2026, 3, 29, 2, 0), LONDON) == end_of_gap
    assert to_utc(datetime(2026, 3, 29, 2, 1), LONDON) == end_of_gap + timedelta(minutes=1)


def test_a_doubled_local_time_is_its_first_occurrence() -> None:
    """K4 (IANA time zone data): 01:30 on 25 October 2026 is 00:30 UTC first, 01:30 UTC second."""
    assert to_utc(datetime(2026, 10, 25, 1, 30), LONDON) == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    assert to_utc(datetime(2026, 10, 25, 2, 0), LONDON) == datetime(2026, 10, 25, 2, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("zone", "local", "utc"),
    [
        (LONDON, datetime(2026, 3, 29, 1, 30), datetime(2026, 3, 29, 1, 0)),
        (LONDON, datetime(2027, 3, 28, 1, 30), datetime(2027, 3, 28, 1, 0)),
        (LONDON, datetime(2028, 3, 26, 1, 30), datetime(2028, 3, 26, 1, 0)),
        (LONDON, datetime(2027, 10, 31, 1, 30), datetime(2027, 10, 31, 0, 30)),
        (LONDON, datetime(2028, 10, 29, 1, 30), datetime(2028, 10, 29, 0, 30)),
        (NEW_YORK, datetime(2026, 3, 8, 2, 30), datetime(2026, 3, 8, 7, 0)),
        (NEW_YORK, datetime(2026, 11, 1, 1, 30), datetime(2026, 11, 1, 5, 30)),
    ],
)
def test_clock_changes_fall_on_their_published_days(zone: str, local: datetime, utc: datetime) -> None:
    """K4 (IANA time zone data): London and New York; the latter is out of step with Europe."""
    assert to_utc(local, zone) == utc.replace(tzinfo=UTC)


def test_between_the_two_changes_new_york_and_london_are_four_hours_apart() -> None:
    """K4: from 8 to 29 March 2026 only New York has changed its clocks."""
    for day, hours in ((7, 5), (9, 4), (28, 4), (30, 5)):
        local = datetime(2026, 3, day, 12)
        assert to_utc(local, NEW_YORK) - to_utc(local, LONDON) == timedelta(hours=hours)


# --- shifts --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("saturday", "hours"), [((3, 28), 7), ((10, 24), 9), ((3, 21), 8), ((4, 4), 8)])
def test_a_night_shift_has_its_real_length_when_the_clocks_change(saturday: tuple[int, int], hours: int) -> None:
    """K4: Saturday 22:00 to Sunday 06:00 in 2026 is 7 h on 28 March and 9 h on 24 October, else 8 h."""
    day = datetime(2026, *saturday, 22, 0)
    found = hours_of(calendar((5, "22:00", "06:00", False)), LONDON, START).unattended
    begin = minute_of(day, LONDON, START)
    assert (begin, begin + hours * 60) in found


def test_a_day_shift_keeps_its_wall_time_across_the_change() -> None:
    """Stepping by 24 h would drift: 08:00 is 08:00 UTC before 29 March and 07:00 UTC after."""
    found = after_start(hours_of(calendar((0, "08:00", "12:00", True)), LONDON, START).attended)
    assert found[:2] == [(0, 240), (7 * 1440 - 60, 7 * 1440 + 180)]


def test_a_shift_over_midnight_belongs_to_the_day_it_begins() -> None:
    """Closing Tuesday takes out Tuesday night, not the morning after Monday night."""
    nights = [(day, "22:00", "06:00", True) for day in (0, 1)]
    closed = (ClosedDays(date(2026, 3, 24), date(2026, 3, 24), ""),)
    found = after_start(hours_of(calendar(*nights, closed=closed), LONDON, START).attended)
    assert found[0] == (14 * 60, 22 * 60)
    assert found[1][0] > 6 * 1440


def test_an_end_of_24_00_is_the_next_midnight() -> None:
    """``to`` not after ``from`` means the next day, so 16:00-00:00 is 8 h."""
    found = after_start(hours_of(calendar((0, "16:00", "00:00", True)), LONDON, START).attended)
    assert found[0] == (8 * 60, 16 * 60)


def test_nothing_begins_after_the_last_known_day_but_its_shift_runs_to_its_end() -> None:
    nights = [(day, "22:00", "06:00", True) for day in range(7)]
    known_to = date(2026, 3, 24)
    found = hours_of(calendar(*nights, known_to=known_to), LONDON, START)
    assert found.attended[-1] == (1440 + 14 * 60, 1440 + 22 * 60)
    assert worktime.known_to_min(calendar(known_to=known_to), LONDON, START) == 2 * 1440 - 8 * 60


def test_closed_days_do_not_stop_extra_shifts() -> None:
    day = date(2026, 3, 23)
    closed = (ClosedDays(day, day, "stocktaking"),)
    extra = (ExtraShift(day, time(10), time(12), True),)
    found = hours_of(calendar((0, "08:00", "16:00", True), closed=closed, extra=extra), LONDON, START)
    assert after_start(found.attended)[0] == (120, 240)


def test_windows_begin_fourteen_days_before_the_plan_and_stay_whole() -> None:
    """Minute 0 is inside the window of Monday 06:00-14:00; the window before is Sunday's."""
    daily = [(day, "06:00", "14:00", True) for day in range(7)]
    found = hours_of(calendar(*daily), LONDON, START).attended
    assert found[0] == (-14 * 1440 - 120, -14 * 1440 + 360)
    assert (-120, 360) in found


@pytest.mark.parametrize("zone", [LONDON, "Asia/Kolkata", "Pacific/Auckland", "America/New_York"])
@pytest.mark.parametrize("begins", [(23, 0, 0), (23, 8, 1), (23, 8, 0, 30), (23, 23, 59), (24, 0, 0)])
def test_windows_are_the_same_moments_whenever_the_plan_starts(zone: str, begins: tuple[int, ...]) -> None:
    """They are made once for all plan starts of a day; the clocks change in the weeks after."""
    nightly = calendar(*((day, "22:00", "06:00", day < 5) for day in range(7)))
    plan_start = datetime(2026, 3, *begins, tzinfo=UTC)
    found = hours_of(nightly, zone, plan_start)
    first = plan_start.astimezone(ZoneInfo(zone)).date() - timedelta(days=14)
    for windows, weekdays in ((found.attended, range(5)), (found.unattended, (5, 6))):
        nights = [day for day in worktime.days(first, date(2026, 12, 31)) if day.weekday() in weekdays]
        assert windows == tuple(
            (
                minute_of(datetime.combine(day, time(22)), zone, plan_start),
                minute_of(datetime.combine(day + timedelta(days=1), time(6)), zone, plan_start),
            )
            for day in nights
        )


def test_overlapping_windows_are_united_and_touching_ones_are_not() -> None:
    hours = calendar((0, "08:00", "12:00", True), (0, "11:00", "14:00", True), (0, "14:00", "22:00", True))
    assert after_start(hours_of(hours, LONDON, START).attended)[:2] == [(0, 360), (360, 840)]


def test_attended_wins_where_both_kinds_overlap() -> None:
    hours = calendar((0, "08:00", "16:00", False), (0, "10:00", "12:00", True))
    found = hours_of(hours, LONDON, START)
    assert after_start(found.attended)[0] == (120, 240)
    assert after_start(found.unattended)[:2] == [(0, 120), (240, 480)]


def test_an_absence_cuts_both_kinds_of_window() -> None:
    hours = calendar((0, "08:00", "16:00", True), (0, "16:00", "20:00", False))
    away = [
        Absence(datetime(2026, 3, 23, 15), datetime(2026, 3, 23, 17), ""),
        Absence(START.replace(tzinfo=None), datetime(2026, 3, 23, 9), ""),
    ]
    found = hours_of(hours, LONDON, START, away)
    assert after_start(found.attended)[0] == (60, 420)
    assert after_start(found.unattended)[0] == (540, 720)


# --- lists of windows --------------------------------------------------------------------------------


def test_common_windows_end_where_a_window_of_either_ends() -> None:
    assert worktime.common([(0, 10), (10, 20)], [(5, 15), (18, 30)]) == [(5, 10), (10, 15), (18, 20)]
    assert worktime.common([(5, 15), (18, 30)], [(0, 10), (10, 20)]) == [(5, 10), (10, 15), (18, 20)]
    assert worktime.common([(0, 10)], [(10, 20)]) == []
    assert worktime.common([(0, 10)], []) == []


def test_a_stretch_goes_on_over_a_gap_up_to_the_limit_and_no_further() -> None:
    windows = [(0, 10), (40, 50), (81, 90)]
    assert worktime.stretches(windows, 30) == [(0, 50), (81, 90)]
    assert worktime.stretches(windows, 31) == [(0, 90)]
    assert worktime.stretches([(0, 10), (10, 20), (21, 30)], 0) == [(0, 20), (21, 30)]


def test_the_unattended_limit_counts_once_for_touching_windows_and_from_their_real_begin() -> None:
    hours = worktime.Hours(((200, 300),), ((-50, 20), (20, 100), (300, 400)))
    assert worktime.run_hours(hours, 90) == [(-50, 40), (200, 300), (300, 390)]
    assert worktime.run_hours(hours, 0) == [(200, 300)]


def test_cuts_in_any_order_take_out_just_what_they_cover() -> None:
    assert worktime.without([(0, 10), (10, 30), (40, 50)], [(45, 60), (5, 12), (8, 20)]) == [(0, 5), (20, 30), (40, 45)]
    assert worktime.without([(0, 10)], [(3, 3)]) == [(0, 10)]


# --- days and weeks -----------------------------------------------------------------------------------


def closed_on(country: str, year: int, subdivision: str | None = None) -> Calendar:
    """Monday to Friday, less the public holidays as the ``holidays`` package lists them."""
    found = holidays.country_holidays(country, subdiv=subdivision, years=year)
    closed = tuple(ClosedDays(day, day, name) for day, name in sorted(found.items()))
    return calendar(*((day, "08:00", "16:00", True) for day in range(5)), known_to=date(year + 1, 1, 31), closed=closed)


@pytest.mark.parametrize(("year", "expected"), [(2025, 253), (2026, 253), (2027, 253), (2028, 252)])
def test_a_year_in_england_has_its_published_number_of_working_days(year: int, expected: int) -> None:
    """K1: days of England and Wales as published by gov.uk; weekend entries of the package do not count twice."""
    assert len(working_days(closed_on("GB", year, "ENG"), date(year, 1, 1), date(year, 12, 31))) == expected


@pytest.mark.parametrize(
    ("year", "closed"),
    [
        (2026, ["01-01", "04-03", "04-06", "05-04", "05-25", "08-31", "12-25", "12-28"]),
        (2027, ["01-01", "03-26", "03-29", "05-03", "05-31", "08-30", "12-27", "12-28"]),
        (2028, ["01-03", "04-14", "04-17", "05-01", "05-29", "08-28", "12-25", "12-26"]),
    ],
)
def test_weekdays_closed_in_england_are_the_published_bank_holidays(year: int, closed: list[str]) -> None:
    """K1: gov.uk bank holidays of England and Wales; exactly these weekdays are not worked."""
    worked = set(working_days(closed_on("GB", year, "ENG"), date(year, 1, 1), date(year, 12, 31)))
    weekdays = [d for d in worktime.days(date(year, 1, 1), date(year, 12, 31)) if d.weekday() < 5]
    assert [f"{d:%m-%d}" for d in weekdays if d not in worked] == closed


def test_twelve_working_days_around_the_turn_of_the_year() -> None:
    """K1: 21 December 2026 to 8 January 2027 in England, both included."""
    this, following = closed_on("GB", 2026, "ENG"), closed_on("GB", 2027, "ENG")
    both = Calendar("c", following.known_to, this.hours, this.closed + following.closed)
    assert len(working_days(both, date(2026, 12, 21), date(2027, 1, 8))) == 12


def test_the_nation_decides_which_days_are_worked() -> None:
    """K2: Scotland works Easter Monday 2026 and is closed 2 January and 30 November; England the reverse."""
    scotland, england = closed_on("GB", 2026, "SCT"), closed_on("GB", 2026, "ENG")
    for day, scots, english in (
        (date(2026, 4, 6), True, False),
        (date(2026, 1, 2), False, True),
        (date(2026, 11, 30), False, True),
    ):
        assert worktime.works_on(scotland, day) is scots
        assert worktime.works_on(england, day) is english


def test_the_united_states_close_the_friday_before_a_saturday_holiday() -> None:
    """K2: 4 July 2026 is a Saturday, so Friday 3 July is closed as well."""
    federal = closed_on("US", 2026)
    assert not worktime.works_on(federal, date(2026, 7, 3))
    assert worktime.works_on(federal, date(2026, 7, 2))


def test_the_nth_working_day_after_a_day_does_not_count_that_day() -> None:
    """Over Easter 2026 (3 and 6 April): five days after Thursday 26 March end on 2 April, one more on the 7th."""
    easter = closed_on("GB", 2026, "ENG")
    thursday = date(2026, 3, 26)
    assert worktime.working_day_after(easter, thursday, 0) == thursday
    assert worktime.working_day_after(easter, thursday, 5) == date(2026, 4, 2)
    assert worktime.working_day_after(easter, thursday, 6) == date(2026, 4, 7)
    assert worktime.working_day_after(easter, date(2026, 3, 28), 1) == date(2026, 3, 30)
    assert worktime.working_day_after(easter, date(2027, 1, 29), 1) is None


@pytest.mark.parametrize(
    ("day", "week"),
    [
        ("2005-01-01", "2004-W53"), ("2008-12-29", "2009-W01"), ("2010-01-03", "2009-W53"), ("2019-12-30", "2020-W01"),
        ("2020-12-31", "2020-W53"), ("2021-01-03", "2020-W53"), ("2025-12-29", "2026-W01"), ("2026-12-31", "2026-W53"),
        ("2027-01-03", "2026-W53"), ("2027-01-04", "2027-W01"),
    ],
)  # fmt: skip
def test_days_around_new_year_are_in_their_iso_week(day: str, week: str) -> None:
    """K3: ISO 8601."""
    assert iso_week(date.fromisoformat(day)) == week


def test_years_of_53_weeks_are_those_of_iso_8601() -> None:
    """K3: 2015 to 2048, and 71 in 400 years."""
    long_years = [year for year in range(2000, 2400) if iso_week(date(year, 12, 31)).endswith("W53")]
    assert [y for y in long_years if 2015 <= y <= 2048] == [2015, 2020, 2026, 2032, 2037, 2043, 2048]
    assert len(long_years) == 71


@pytest.mark.parametrize(
    ("zone", "inside", "week", "hours"),
    [
        (LONDON, datetime(2026, 3, 25, 12), "2026-W13", 167),
        (LONDON, datetime(2026, 10, 21, 12), "2026-W43", 169),
        (LONDON, datetime(2026, 4, 1, 12), "2026-W14", 168),
        (NEW_YORK, datetime(2026, 3, 4, 12), "2026-W10", 167),
        (NEW_YORK, datetime(2026, 10, 28, 12), "2026-W44", 169),
    ],
)
def test_a_week_from_monday_to_monday_has_its_real_length(zone: str, inside: datetime, week: str, hours: int) -> None:
    """K4: 167 h and 169 h in the weeks of the clock changes."""
    minute = minute_of(inside, zone, START)
    [(name, (a, b))] = week_spans(minute, minute + 1, zone, START)
    assert (name, b - a) == (week, hours * 60)


def test_weeks_follow_each_other_without_a_gap_and_cover_what_was_asked() -> None:
    weeks = week_spans(0, 40 * 1440, LONDON, START)
    assert weeks[0][1][0] <= 0 and weeks[-1][1][1] >= 40 * 1440
    assert all(a[1][1] == b[1][0] for a, b in pairwise(weeks))
    assert [name for name, _ in weeks] == [f"2026-W{n}" for n in range(13, 19)]
    assert week_spans(0, 7 * 1440 - 9 * 60, LONDON, START)[-1][0] == "2026-W13"
    assert week_spans(0, 7 * 1440 - 9 * 60 + 1, LONDON, START)[-1][0] == "2026-W14"


# --- weekly patterns against RFC 5545 -------------------------------------------------------------------


def weekly(*weekdays: int) -> Calendar:
    return calendar(*((day, "09:00", "10:00", True) for day in weekdays), known_to=date(1999, 12, 31))


def every_second_week(days: list[date]) -> list[date]:
    weeks = sorted({d - timedelta(days=d.weekday()) for d in days})
    return [d for d in days if weeks.index(d - timedelta(days=d.weekday())) % 2 == 0]


def test_tuesdays_and_thursdays_of_every_second_week() -> None:
    """K5 (a), RFC 5545 section 3.8.5.3: 2, 4, 16, 18, 30 September, 2, 14, 16 October 1997."""
    days = every_second_week(working_days(weekly(1, 3), date(1997, 9, 2), date(1997, 10, 31)))
    assert [(d.month, d.day) for d in days[:8]] == [
        (9, 2),
        (9, 4),
        (9, 16),
        (9, 18),
        (9, 30),
        (10, 2),
        (10, 14),
        (10, 16),
    ]


def test_tuesdays_and_sundays_of_every_second_week_that_begins_on_monday() -> None:
    """K5 (b), RFC 5545 section 3.8.5.3, WKST=MO: 5, 10, 19, 24 August 1997."""
    days = every_second_week(working_days(weekly(1, 6), date(1997, 8, 5), date(1997, 8, 31)))
    assert [d.day for d in days[:4]] == [5, 10, 19, 24]


def test_mondays_of_week_20() -> None:
    """K5 (e), RFC 5545 section 3.8.5.3: 12 May 1997, 11 May 1998, 17 May 1999."""
    mondays = working_days(weekly(0), date(1997, 5, 12), date(1999, 12, 31))
    assert [d for d in mondays if iso_week(d).endswith("W20")] == [
        date(1997, 5, 12),
        date(1998, 5, 11),
        date(1999, 5, 17),
    ]


def test_weekly_windows_begin_when_the_recurrence_rule_says() -> None:
    """Local begin of every window over both clock changes, against dateutil's weekly rule."""
    pattern = calendar((1, "09:00", "17:00", True), (3, "09:00", "17:00", True), (6, "01:30", "03:00", True))
    begins = [
        (START + timedelta(minutes=a)).astimezone(worktime.ZoneInfo(LONDON)).replace(tzinfo=None)
        for a, _ in after_start(hours_of(pattern, LONDON, START).attended)
    ]
    rules = [rrule.rrule(rrule.WEEKLY, datetime(2026, 3, 23, 9), byweekday=(rrule.TU, rrule.TH), until=datetime(2026, 12, 31, 23)),
             rrule.rrule(rrule.WEEKLY, datetime(2026, 3, 23, 1, 30), byweekday=rrule.SU, until=datetime(2026, 12, 31))]  # fmt: skip
    expected = sorted(moment for rule in rules for moment in rule)
    gap = expected.index(datetime(2026, 3, 29, 1, 30))
    assert begins[gap] == datetime(2026, 3, 29, 2, 0)  # the clock skips 01:30 that day
    assert begins[:gap] + begins[gap + 1 :] == expected[:gap] + expected[gap + 1 :]


def test_a_cut_at_an_edge_of_a_window_leaves_no_empty_window() -> None:
    assert worktime.without([(0, 10)], [(0, 3)]) == [(3, 10)]
    assert worktime.without([(0, 10)], [(7, 10)]) == [(0, 7)]
    assert worktime.without([(0, 10)], [(0, 10)]) == []


def test_windows_from_a_minute_on_are_cut_there() -> None:
    assert worktime.from_minute([(-20, -5), (-5, 10), (10, 20)], 0) == [(0, 10), (10, 20)]
    assert worktime.from_minute([(-5, 0), (3, 9)], 0) == [(3, 9)]
