"""Working time: calendars in local wall time become open windows in whole minutes.

Local time becomes UTC once, here; after that a window is a pair of minutes counted from the
plan start, and a minute is a minute. So a 22:00-06:00 shift is 7 h or 9 h long on the nights
on which the clocks change. Calendars are stepped through by calendar day, never by 24 h.

A window ``(a, b)`` is the half-open interval [a, b). Lists of windows are sorted and disjoint;
windows that touch stay apart, because a shift change matters to some rules.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import cached_property, lru_cache
from itertools import accumulate, pairwise
from zoneinfo import ZoneInfo

from planner import shop
from planner.work import NEVER, Hours, Span

HISTORY_DAYS = 14  # windows are kept from this long before the plan start: limits count from a stretch's real begin
_MINUTE = timedelta(minutes=1)
_DAY = timedelta(days=1)


# --- local time to minutes -------------------------------------------------------------------


def to_utc(local: datetime, zone: str) -> datetime:
    """Moment of a naive local wall time.

    A local time that the clock skips is the end of the gap; one that comes twice is its first
    occurrence.
    """
    tz = ZoneInfo(zone)
    early = local.replace(tzinfo=tz, fold=1).astimezone(UTC)
    late = local.replace(tzinfo=tz, fold=0).astimezone(UTC)
    if early >= late:  # an ordinary time, or a doubled one (fold 0 is its first occurrence)
        return late
    return _clock_change(early, late, tz)


def _clock_change(before: datetime, after: datetime, tz: ZoneInfo) -> datetime:
    """The moment between two in UTC at which the zone's offset becomes that of ``after``."""
    offset = after.astimezone(tz).utcoffset()
    while after - before > _MINUTE:
        middle = before + (after - before) // 2 // _MINUTE * _MINUTE
        if middle.astimezone(tz).utcoffset() == offset:
            after = middle
        else:
            before = middle
    return after


def minute_of(local: datetime, zone: str, plan_start: datetime) -> int:
    """Whole minutes from ``plan_start`` (aware) to a naive local wall time; seconds are dropped."""
    return (to_utc(local, zone) - plan_start) // _MINUTE


def later(local: datetime, minutes: int, zone: str) -> datetime:
    """What the clock on the wall shows so many minutes after it shows ``local``."""
    moment = to_utc(local, zone) + minutes * _MINUTE
    return moment.astimezone(ZoneInfo(zone)).replace(tzinfo=None)


def midnight(day: date, zone: str, plan_start: datetime) -> int:
    """Minute in which a local day begins."""
    return minute_of(datetime.combine(day, time()), zone, plan_start)


def local_day(minute: int, zone: str, plan_start: datetime) -> date:
    """Local date of a planning minute."""
    return (plan_start + minute * _MINUTE).astimezone(ZoneInfo(zone)).date()


# --- days and weeks --------------------------------------------------------------------------


def days(first: date, last: date) -> Iterator[date]:
    """Calendar days from ``first`` to ``last``, both included."""
    return (first + n * _DAY for n in range((last - first).days + 1))


def shifts_on(calendar: shop.Calendar, day: date) -> list[tuple[time, time, bool]]:
    """What begins on that day: (from, to, attended), sorted; ``to <= from`` runs past midnight.

    Nothing begins after ``known_to``. Closed days stop the weekly windows, not extra shifts.
    """
    if day > calendar.known_to:
        return []
    found = [(x.start, x.end, x.attended) for x in calendar.extra if x.day == day]
    if not any(c.first <= day <= c.last for c in calendar.closed):
        found += [(h.start, h.end, h.attended) for h in calendar.hours if h.weekday == day.weekday()]
    return sorted(found)


def window_on(day: date, start: time, end: time, zone: str, plan_start: datetime) -> Span | None:
    """Minutes of a window that begins on a day, by the clock; ``end <= start`` is on the next day.

    None where it lies wholly in the hour that the clock skips.
    """
    last = day if end > start else day + _DAY
    a = minute_of(datetime.combine(day, start), zone, plan_start)
    b = minute_of(datetime.combine(last, end), zone, plan_start)
    return (a, b) if a < b else None


def works_on(calendar: shop.Calendar, day: date) -> bool:
    """Is it a working day: does any window begin on it?"""
    return bool(shifts_on(calendar, day))


def working_days(calendar: shop.Calendar, first: date, last: date) -> list[date]:
    """Working days from ``first`` to ``last``, both included."""
    return [day for day in days(first, min(last, calendar.known_to)) if works_on(calendar, day)]


def working_day_after(calendar: shop.Calendar, day: date, n: int) -> date | None:
    """The n-th working day after ``day`` (which counts as day 0); None beyond the known calendar."""
    while n > 0:
        day += _DAY
        if day > calendar.known_to:
            return None
        n -= works_on(calendar, day)
    return day


def iso_week(day: date) -> str:
    """ISO year and week, e.g. ``2026-W53`` for 1 January 2027."""
    year, week, _ = day.isocalendar()
    return f"{year}-W{week:02}"


def week_spans(first_min: int, last_min: int, zone: str, plan_start: datetime) -> list[tuple[str, Span]]:
    """ISO weeks that touch [first_min, last_min), each from local Monday 00:00 to the next.

    The spans are whole weeks (167 or 169 h long when the clocks change), not cut to the ends asked for.
    """
    monday = local_day(first_min, zone, plan_start)
    monday -= monday.weekday() * _DAY
    weeks = []
    while (begin := midnight(monday, zone, plan_start)) < last_min:
        weeks.append((iso_week(monday), (begin, midnight(monday + 7 * _DAY, zone, plan_start))))
        monday += 7 * _DAY
    return weeks


def day_spans(first_min: int, last_min: int, zone: str, plan_start: datetime) -> list[tuple[str, Span]]:
    """Local days that touch [first_min, last_min), by ISO date, each from midnight to midnight (23 or 25 h long when the
    clocks change)."""
    first, last = (local_day(m, zone, plan_start) for m in (first_min, last_min - 1))
    return [
        (day.isoformat(), (midnight(day, zone, plan_start), midnight(day + _DAY, zone, plan_start)))
        for day in days(first, last)
    ]


# --- calendars to windows --------------------------------------------------------------------


def hours_of(calendar: shop.Calendar, zone: str, plan_start: datetime, absences: Iterable[shop.Absence] = ()) -> Hours:
    """Open windows of a calendar, less absences, in minutes from ``plan_start``.

    Parameters
    ----------
    calendar
        Weekly windows with closed days and extra shifts, local wall time.
    zone
        Name of the time zone the wall times are in.
    plan_start
        Aware moment of minute 0.
    absences
        Leave or downtime; each cuts what it overlaps.

    Returns
    -------
    Hours
        Windows that begin from 14 days before the plan start (so minutes may be negative) to the
        calendar's last known day; a shift that begins that day may run past its end. Overlapping
        windows of one kind are united; where attended and unattended overlap, it is attended.
    """
    hours = _hours(calendar, zone, plan_start)
    away = [(minute_of(x.start, zone, plan_start), minute_of(x.end, zone, plan_start)) for x in absences]
    if not away:
        return hours
    return Hours(tuple(without(hours.attended, away)), tuple(without(hours.unattended, away)))


@lru_cache(maxsize=256)
def _hours(calendar: shop.Calendar, zone: str, plan_start: datetime) -> Hours:
    """Open windows of a calendar; kept, because many machines and people share one."""
    first = local_day(0, zone, plan_start) - HISTORY_DAYS * _DAY
    shift = (_noon(first) - plan_start) // _MINUTE
    hours = _hours_from(calendar, zone, first)
    return Hours(
        tuple((a + shift, b + shift) for a, b in hours.attended),
        tuple((a + shift, b + shift) for a, b in hours.unattended),
    )


def _noon(day: date) -> datetime:
    """In UTC, where it does not depend on any zone."""
    return datetime.combine(day, time(12), UTC)


@lru_cache(maxsize=256)
def _hours_from(calendar: shop.Calendar, zone: str, first: date) -> Hours:
    """Open windows of a calendar from a day on, in minutes from its noon in UTC: the same for all plan starts of one day."""
    spans: dict[bool, list[Span]] = {True: [], False: []}
    for day in days(first, calendar.known_to):
        for start, end, manned in shifts_on(calendar, day):
            span = window_on(day, start, end, zone, _noon(first))
            if span is not None:
                spans[manned].append(span)
    attended = united(spans[True])
    return Hours(tuple(attended), tuple(without(united(spans[False]), attended)))


def known_to_min(calendar: shop.Calendar, zone: str, plan_start: datetime) -> int:
    """Minute at which the calendar's last known day ends."""
    return midnight(calendar.known_to + _DAY, zone, plan_start)


# --- lists of windows ------------------------------------------------------------------------


def united(spans: Iterable[Span]) -> list[Span]:
    """Sorted windows with overlapping ones made one; those that only touch stay separate."""
    result: list[Span] = []
    for a, b in sorted(spans):
        if result and a < result[-1][1]:
            result[-1] = (result[-1][0], max(b, result[-1][1]))
        else:
            result.append((a, b))
    return result


def without(windows: Sequence[Span], cuts: Iterable[Span]) -> list[Span]:
    """What is left of the windows when the cuts (in any order, may overlap) are taken out."""
    cuts = stretches([(a, b) for a, b in united(cuts) if a < b], 0)
    result = []
    j = 0
    for a, b in windows:
        while j < len(cuts) and cuts[j][1] <= a:
            j += 1
        k = j
        while k < len(cuts) and cuts[k][0] < b:
            if a < cuts[k][0]:
                result.append((a, cuts[k][0]))
            a = cuts[k][1]
            k += 1
        if a < b:
            result.append((a, b))
    return result


def common(a: Sequence[Span], b: Sequence[Span]) -> list[Span]:
    """Intersection of two lists of windows; a window of either that ends, ends the common one."""
    result = []
    i = j = 0
    while i < len(a) and j < len(b):
        start, end = max(a[i][0], b[j][0]), min(a[i][1], b[j][1])
        if start < end:
            result.append((start, end))
        if a[i][1] <= b[j][1]:
            i += 1
        else:
            j += 1
    return result


def stretches(windows: Sequence[Span], gap_min: int) -> list[Span]:
    """Spans without a closed gap longer than ``gap_min`` minutes; 0 joins only what touches."""
    result: list[Span] = []
    for a, b in windows:
        if result and a - result[-1][1] <= gap_min:
            result[-1] = (result[-1][0], b)
        else:
            result.append((a, b))
    return result


def run_hours(hours: Hours, unattended_limit_min: int) -> list[Span]:
    """Hours in which a run goes on: attended, and the first minutes of each unattended stretch.

    A stretch is a run of touching unattended windows; the limit counts from where it begins,
    also where that is before the plan start.
    """
    night: list[Span] = []
    for a, b in stretches(hours.unattended, 0):
        if unattended_limit_min > 0:
            night.append((a, min(b, a + unattended_limit_min)))
    return sorted([*hours.attended, *night])


def from_minute(windows: Sequence[Span], minute: int) -> list[Span]:
    """The part of the windows at or after a minute."""
    return [(max(a, minute), b) for a, b in windows if b > minute]


# --- elapsed and working minutes --------------------------------------------------------------


@dataclass(frozen=True)
class OpenTime:
    """Sorted, disjoint windows with quick conversion between elapsed and working minutes.

    Every question is answered by bisection over cumulated minutes. Beyond the last window the
    answer is ``NEVER``; before the first, ``-NEVER``.
    """

    windows: tuple[Span, ...]

    def __post_init__(self) -> None:
        edges = [edge for window in self.windows for edge in window]
        if any(a > b for a, b in pairwise(edges)) or any(a == b for a, b in self.windows):
            raise ValueError(f"windows must be sorted, disjoint and not empty: {self.windows}")

    @cached_property
    def _starts(self) -> list[int]:
        return [a for a, _ in self.windows]

    @cached_property
    def _worked(self) -> list[int]:
        """Open minutes up to the beginning of each window, and in all."""
        return [0, *accumulate(b - a for a, b in self.windows)]

    def _before(self, t: int) -> int:
        """Open minutes before ``t``, counted from the first window."""
        i = bisect_right(self._starts, t) - 1
        if i < 0:
            return 0
        a, b = self.windows[i]
        return self._worked[i] + min(t, b) - a

    def first_open(self, t: int) -> int:
        """The first open minute at or after ``t``."""
        i = bisect_right(self._starts, t) - 1
        if i >= 0 and t < self.windows[i][1]:
            return t
        return self._starts[i + 1] if i + 1 < len(self.windows) else NEVER

    def after(self, t: int, d: int) -> int:
        """End of the d-th open minute at or after ``t``; ``t`` itself for d = 0."""
        if d == 0:
            return t
        target = self._before(t) + d
        if target > self._worked[-1]:
            return NEVER
        i = bisect_left(self._worked, target) - 1
        return self._starts[i] + target - self._worked[i]

    def before(self, t: int, d: int) -> int:
        """Begin of the d-th open minute counted back from ``t``; ``t`` itself for d = 0."""
        if d == 0:
            return t
        target = self._before(t) - d
        if target < 0:
            return -NEVER
        i = bisect_right(self._worked, target) - 1
        return self._starts[i] + target - self._worked[i]

    def open_between(self, a: int, b: int) -> int:
        """Open minutes in [a, b)."""
        return self._before(b) - self._before(a)


@lru_cache(maxsize=1024)
def open_together(a: tuple[Span, ...], b: tuple[Span, ...]) -> OpenTime:
    """When both are open; kept, because machines and people share calendars, and one morning's work is looked at again and again."""
    return OpenTime(tuple(common(a, b)))
