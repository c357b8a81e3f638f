"""Windows of calendars: with a length, without overlap, at least one attended."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date, time, timedelta
from itertools import combinations

from planner.faults import Fault
from planner.intake.checks.references import ALL_CALENDARS
from planner.intake.convert import WEEKDAYS
from planner.intake.rows import Row, Tables

DAY_MIN = 1440
WEEK_MIN = 7 * DAY_MIN


def windows_without_length(tables: Tables) -> Iterator[Fault]:
    """The same time twice could mean nothing or a whole day; 00:00 to 24:00 is a whole day."""
    for table in ("hours", "extra_shifts"):
        for row in tables.complete(table):
            if row.text["from"] == row.text["to"]:
                yield row.fault("to", "another time than 'from'", "For a whole day write 00:00 and 24:00.")


def overlapping_hours(tables: Tables) -> Iterator[Fault]:
    for rows in _by_calendar(tables, "hours").values():
        for earlier, row in combinations(rows, 2):
            a, b = _week_span(earlier), _week_span(row)
            if any(_overlap(a, (b[0] + shift, b[1] + shift)) for shift in (-WEEK_MIN, 0, WEEK_MIN)):
                yield _overlap_fault(row, earlier)


def overlapping_extra_shifts(tables: Tables) -> Iterator[Fault]:
    """An extra shift overlaps neither another nor a weekly window that happens."""
    hours = _by_calendar(tables, "hours")
    for name, rows in _by_calendar(tables, "extra_shifts").items():
        for earlier, row in combinations(rows, 2):
            if _overlap(_date_span(earlier, earlier["date"]), _date_span(row, row["date"])):
                yield _overlap_fault(row, earlier)
        for row in rows:
            for weekly in hours.get(name, ()):
                if any(
                    _overlap(_date_span(row, row["date"]), _date_span(weekly, day))
                    for day in _happens(tables, weekly, row["date"])
                ):
                    yield _overlap_fault(row, weekly)


def calendars_without_windows(tables: Tables) -> Iterator[Fault]:
    attended = {
        row["calendar"] for table in ("hours", "extra_shifts") for row in tables[table] if row["attended"] or row.bad
    }
    for row in tables["calendars"]:
        if row["calendar"] and row["calendar"] not in attended:
            yield row.fault("calendar", "a calendar with at least one attended window", "Add its windows to hours.csv.")


def _by_calendar(tables: Tables, table: str) -> dict[str, list[Row]]:
    """Usable windows of each calendar."""
    result: dict[str, list[Row]] = defaultdict(list)
    for row in tables.complete(table):
        if row.text["from"] != row.text["to"]:
            result[row["calendar"]].append(row)
    return result


def _minutes(start: time, end: time) -> tuple[int, int]:
    a, b = start.hour * 60 + start.minute, end.hour * 60 + end.minute
    return a, b if b > a else b + DAY_MIN


def _week_span(row: Row) -> tuple[int, int]:
    a, b = _minutes(row["from"], row["to"])
    return row["weekday"] * DAY_MIN + a, row["weekday"] * DAY_MIN + b


def _date_span(row: Row, day: date) -> tuple[int, int]:
    a, b = _minutes(row["from"], row["to"])
    return day.toordinal() * DAY_MIN + a, day.toordinal() * DAY_MIN + b


def _overlap(a: tuple[int, int], b: tuple[int, int]) -> bool:
    return a[0] < b[1] and b[0] < a[1]


def _happens(tables: Tables, weekly: Row, around: date) -> Iterator[date]:
    """Days from the eve of a date to the day after on which a weekly window happens."""
    for day in (around + timedelta(days=n) for n in (-1, 0, 1)):
        if day.weekday() == weekly["weekday"] and not _closed(tables, weekly["calendar"], day):
            yield day


def _closed(tables: Tables, calendar: str, day: date) -> bool:
    return any(
        row["calendar"] in (ALL_CALENDARS, calendar) and row["first"] <= day <= (row["last"] or row["first"])
        for row in tables.complete("closed_days")
    )


def _overlap_fault(row: Row, earlier: Row) -> Fault:
    when = row.text["date"] if "date" in row.text else WEEKDAYS[row["weekday"]]
    shown = f"{row['calendar']} {when} {row.text['from']} to {row.text['to']}"
    mend = f"It overlaps {earlier.file} row {earlier.number}: make one end where the other begins, or remove one."
    return row.fault("from", "windows that do not overlap", mend, shown)
