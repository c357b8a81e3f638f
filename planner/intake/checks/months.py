"""Forecasts, learning and bars: what the longer view and the quantities are worked out from."""

from __future__ import annotations

from collections.abc import Iterator

from planner.faults import Fault
from planner.intake.rows import Tables


def forecast_of_what_is_not_made(tables: Tables) -> Iterator[Fault]:
    parts = tables.by_key("parts", "part")
    for row in tables["forecast"]:
        part = parts.get(row["part"])
        if part is not None and part["made"] is False:
            mend = f"Name a part that is made, or remove the row (parts.csv row {part.number} says bought)."
            yield row.fault("part", "a part that is made here", mend)


def learning_without_end(tables: Tables) -> Iterator[Fault]:
    """Below a half, all pieces ever made would take hardly longer than the first."""
    for row in tables["parts"]:
        if row["learning_percent"] is not None and row["learning_percent"] < 50:
            yield row.fault(
                "learning_percent", "50 to 100", "85 is a quick learner, 95 a slow one; empty: nothing left to learn."
            )


def bars_too_short(tables: Tables) -> Iterator[Fault]:
    for row in tables.complete("bars"):
        if row["part_mm"] + row["cutoff_mm"] + row["facing_mm"] <= 0:
            yield row.fault("part_mm", "a length above 0", "Enter the length of the finished part.")
        elif row["part_mm"] + row["cutoff_mm"] + row["facing_mm"] > row["bar_mm"] - row["remnant_mm"]:
            yield row.fault(
                "bar_mm",
                "a bar long enough for one part, remnant, cut-off and facing included",
                "Mend the lengths, in mm.",
            )
