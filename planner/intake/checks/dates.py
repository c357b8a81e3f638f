"""Dates in their order, and calendars that reach the plan."""

from __future__ import annotations

from collections.abc import Iterator

from planner.faults import Fault
from planner.intake.rows import Tables


def closed_days_backwards(tables: Tables) -> Iterator[Fault]:
    for row in tables.complete("closed_days"):
        if row["last"] and row["last"] < row["first"]:
            yield row.fault("last", f"a date not before {row['first']}", "Exchange the two dates, or mend one.")


def absences_backwards(tables: Tables) -> Iterator[Fault]:
    for table in ("leave", "downtime"):
        for row in tables.complete(table):
            if row["to"] <= row["from"]:
                yield row.fault("to", f"a moment after {row.text['from']}", "Exchange the two moments, or mend one.")


def calendar_ends_too_soon(tables: Tables) -> Iterator[Fault]:
    start = tables.settings.get("plan_start")
    for row in tables["calendars"]:
        if start and row["known_to"] and row["known_to"] < start.date():
            mend = "Enter hours and closed days for the time ahead, then move 'known_to' on."
            yield row.fault("known_to", f"a date not before the plan start ({start.date()})", mend)


def extra_shift_after_end(tables: Tables) -> Iterator[Fault]:
    known_to = {name: row["known_to"] for name, row in tables.by_key("calendars", "calendar").items()}
    for row in tables.complete("extra_shifts"):
        last = known_to.get(row["calendar"])
        if last and row["date"] > last:
            mend = "Move 'known_to' of the calendar on, or remove the shift: it would not count."
            yield row.fault("date", f"a date the calendar is known to ({last})", mend)


def collected_in_future(tables: Tables) -> Iterator[Fault]:
    start = tables.settings.get("plan_start")
    for row in tables["progress"]:
        if start and row["collected"] and row["collected"] > start:
            mend = "If it is still here, remove the row; else mend the moment."
            yield row.fault("collected", f"a moment not after the plan start ({start:%Y-%m-%d %H:%M})", mend)


def cutoff_after_collection(tables: Tables) -> Iterator[Fault]:
    for row in tables.complete("collections"):
        if row["cutoff"] > row["collect"]:
            mend = "What is ready by the cut-off goes on the collection: the cut-off comes first."
            yield row.fault("cutoff", f"a time not after the collection ({row.text['collect']})", mend)
