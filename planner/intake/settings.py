"""Rows of the settings table to values, by the fields of ``planner.shop.Settings``."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import MISSING, fields
from typing import Any

from planner.faults import Fault
from planner.intake.convert import Unfit, convert_text
from planner.intake.nearest import did_you_mean
from planner.intake.rows import Row
from planner.shop import Settings

_TYPES = {"str": "text", "datetime": "moment", "time": "time", "int": "whole", "int | None": "whole", "bool": "yesno"}
FIELDS = {f.name: _TYPES[str(f.type)] for f in fields(Settings)}
REQUIRED = [f.name for f in fields(Settings) if f.default is MISSING]


def convert_settings(rows: Iterable[Row]) -> tuple[dict[str, Any], list[Fault]]:
    """Good values by name (those left empty are not among them), and a fault for each other row.

    A required setting that is not there at all is a fault as well.
    """
    values: dict[str, Any] = {}
    faults: list[Fault] = []
    seen: set[str] = set()
    for row in rows:
        name = row["name"]
        if name is not None and name not in FIELDS:
            faults.append(row.fault("name", "the name of a setting", did_you_mean(name, FIELDS, "remove the row.")))
        elif name is not None and row["value"]:
            seen.add(name)
            try:
                values.setdefault(name, convert_text(FIELDS[name], row["value"]))
            except Unfit as problem:
                faults.append(row.fault("value", f"{problem.expected} for '{name}'", problem.mend))
        elif not row.good("value"):
            seen.add(name)
    for name in REQUIRED:
        if name not in seen:
            faults.append(
                Fault("settings.csv", None, "name", name, f"a row for '{name}'", f"Add a row '{name}' with its value.")
            )
    return values, faults
