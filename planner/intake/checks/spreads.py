"""Chances and spreads within what they can mean."""

from __future__ import annotations

from collections.abc import Iterator

from planner.faults import Fault
from planner.intake.rows import Tables

LARGEST_SPREAD = 300  # percent: beyond it a time says nothing
LARGEST_ABSENCE_DAYS = 100


def turns_rise(tables: Tables) -> Iterator[Fault]:
    """The shortest turn is no longer than the usual one, the longest no shorter."""
    for row in tables["processes"]:
        usual = row["turn_days"]
        for column, wrong, expected in (
            ("turn_low", lambda days, usual: days > usual, "no more"),
            ("turn_high", lambda days, usual: days < usual, "no less"),
        ):
            days = row[column]
            if usual is not None and days is not None and wrong(days, usual):
                mend = "Mend one of the two, or leave the cell empty."
                yield row.fault(column, f"{expected} than turn_days, which is {usual}", mend)


def chances(tables: Tables) -> Iterator[Fault]:
    """A chance is 100 percent at most, a spread no more than that of a time that says nothing."""
    for row in tables["collections"]:
        if row["missed_percent"] is not None and row["missed_percent"] > 100:
            yield row.fault("missed_percent", "a whole number from 0 to 100", "Mend the number.")
    rows = tables.by_key("settings", "name")
    for name, value in tables.settings.items():
        most = LARGEST_SPREAD if "_spread_" in name else 100
        is_chance = "_spread_" in name or name in ("missed_collection_percent", "receipt_late_percent")
        if is_chance and value > most:
            yield rows[name].fault("value", f"a whole number from 0 to {most} for '{name}'", "Mend the number.")
    if tables.settings.get("absence_days", 0) > LARGEST_ABSENCE_DAYS:
        expected = f"a whole number from 0 to {LARGEST_ABSENCE_DAYS} for 'absence_days'"
        yield rows["absence_days"].fault("value", expected, "Days known beforehand belong into leave.csv.")
