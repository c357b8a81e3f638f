"""Settings within what they can mean."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from zoneinfo import available_timezones

from planner.faults import Fault
from planner.intake.nearest import did_you_mean
from planner.intake.rows import Tables


@cache
def _zones() -> frozenset[str]:
    """The names of all time zones; to list them opens a file for each, far longer than the other checks together."""
    return frozenset(available_timezones())


def unknown_zone(tables: Tables) -> Iterator[Fault]:
    zone = tables.settings.get("zone")
    if zone and zone not in _zones():
        row = tables.by_key("settings", "name")["zone"]
        mend = did_you_mean(zone, _zones(), "use a name such as Europe/London.")
        yield row.fault("value", "the name of a time zone", mend)


def percents(tables: Tables) -> Iterator[Fault]:
    """No confidence is certain, and stretching does not shorten."""
    limits = {"confidence_percent": (0, 99), "inspection_stretch_percent": (100, 1000)}
    for name, (least, most) in limits.items():
        value = tables.settings.get(name)
        if value is not None and not least <= value <= most:
            row = tables.by_key("settings", "name")[name]
            yield row.fault("value", f"a whole number from {least} to {most} for '{name}'", "Mend the number.")
