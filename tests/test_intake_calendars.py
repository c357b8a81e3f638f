"""Settings, dates and windows: each contradiction is one fault, and the nearest sense is none."""

from __future__ import annotations

from pathlib import Path

import pytest
from intake_folders import Edit, Folder, Place, add, case, drop, place, put

from planner.intake.settings import FIELDS
from planner.shop import Settings

SETTINGS = [
    case("no plan start", ("settings.csv", None, "name"), [drop("settings", 3)], []),
    case("empty plan start", ("settings.csv", None, "name"), [put("settings", 3, "value", "")], []),
    case("no shop name", ("settings.csv", None, "name"), [drop("settings", 2)], []),
    case(
        "plan start without time",
        ("settings.csv", 3, "value"),
        [put("settings", 3, "value", "2026-03-23")],
        [put("settings", 3, "value", "2026-03-23T08:00")],
    ),
    case("misspelt setting", ("settings.csv", 7, "name"), [put("settings", 7, "name", "break_max")], []),
    case(
        "unknown zone",
        ("settings.csv", 4, "value"),
        [put("settings", 4, "value", "Europe/Londn")],
        [put("settings", 4, "value", "Europe/Paris")],
    ),
    case(
        "zone by offset",
        ("settings.csv", 4, "value"),
        [put("settings", 4, "value", "+01:00")],
        [put("settings", 4, "value", "UTC")],
    ),
    case(
        "unknown shop calendar",
        ("settings.csv", 5, "value"),
        [put("settings", 5, "value", "days")],
        [put("settings", 5, "value", "")],
    ),
    case(
        "negative weight",
        ("settings.csv", 9, "value"),
        [add("settings", "name=wip_weight|value=-1")],
        [add("settings", "name=wip_weight|value=0")],
    ),
    case(
        "certain confidence",
        ("settings.csv", 9, "value"),
        [add("settings", "name=confidence_percent|value=100")],
        [add("settings", "name=confidence_percent|value=99")],
    ),
    case(
        "stretch that shortens",
        ("settings.csv", 9, "value"),
        [add("settings", "name=inspection_stretch_percent|value=99")],
        [add("settings", "name=inspection_stretch_percent|value=100")],
    ),
    case(
        "setting twice",
        ("settings.csv", 9, "name"),
        [add("settings", "name=zone|value=UTC")],
        [add("settings", "name=setter_may_approve|value=yes")],
    ),
]

DATES = [
    case(
        "closed days backwards",
        ("closed_days.csv", 5, "last"),
        [put("closed_days", 5, "last", "2026-08-02")],
        [put("closed_days", 5, "last", "2026-08-03")],
    ),
    case(
        "leave backwards",
        ("leave.csv", 2, "to"),
        [put("leave", 2, "to", "2026-03-26 08:00")],
        [put("leave", 2, "to", "2026-03-26 08:01")],
    ),
    case(
        "downtime backwards",
        ("downtime.csv", 2, "to"),
        [put("downtime", 2, "to", "2026-03-24 12:00")],
        [put("downtime", 2, "to", "2026-03-26 12:00")],
    ),
    case(
        "calendar ends before the plan",
        ("calendars.csv", 3, "known_to"),
        [put("calendars", 3, "known_to", "2026-03-22")],
        [put("calendars", 3, "known_to", "2026-03-23")],
    ),
    case(
        "extra shift beyond the calendar",
        ("extra_shifts.csv", 2, "date"),
        [put("calendars", 2, "known_to", "2026-03-27")],
        [put("calendars", 2, "known_to", "2026-03-28")],
    ),
    case(
        "cutoff after collection",
        ("collections.csv", 2, "cutoff"),
        [put("collections", 2, "cutoff", "15:01")],
        [put("collections", 2, "cutoff", "15:00")],
    ),
    case(
        "closed for an unknown calendar",
        ("closed_days.csv", 5, "calendar"),
        [put("closed_days", 5, "calendar", "lates")],
        [put("closed_days", 5, "calendar", "*")],
    ),
    case(
        "a calendar called star",
        ("calendars.csv", 6, "calendar"),
        [
            add("calendars", "calendar=*|known_to=2027-12-31"),
            add("hours", "calendar=*|weekday=Mon|from=08:00|to=12:00"),
        ],
        [
            add("calendars", "calendar=star|known_to=2027-12-31"),
            add("hours", "calendar=star|weekday=Mon|from=08:00|to=12:00"),
        ],
    ),
]

# row 2 of hours is day Mon 08:00-12:00, row 3 day Mon 12:30-16:30; rows 5 and 6 are turning Mon 08-20 and 20-24
WINDOWS = [
    case(
        "window without length",
        ("hours.csv", 2, "to"),
        [put("hours", 2, "to", "08:00")],
        [put("hours", 2, "to", "08:01")],
    ),
    case(
        "midnight to midnight",
        ("hours.csv", 29, "to"),
        [put("hours", 29, "from", "00:00"), put("hours", 29, "to", "00:00")],
        [put("hours", 29, "from", "00:00"), put("hours", 29, "to", "24:00")],
    ),
    case(
        "windows overlap",
        ("hours.csv", 3, "from"),
        [put("hours", 3, "from", "11:59")],
        [put("hours", 3, "from", "12:00")],
    ),
    case(
        "attended over unattended",
        ("hours.csv", 6, "from"),
        [put("hours", 6, "from", "19:59")],
        [put("hours", 6, "to", "08:00")],
    ),
    case(
        "past midnight into the next day",
        ("hours.csv", 11, "from"),
        [put("hours", 6, "to", "08:01")],
        [put("hours", 6, "to", "07:59")],
    ),
    case(
        "past Sunday into Monday",
        ("hours.csv", 30, "from"),
        [add("hours", "calendar=day|weekday=Sun|from=22:00|to=08:01|attended=no")],
        [add("hours", "calendar=day|weekday=Sun|from=22:00|to=08:00|attended=no")],
    ),
    case(
        "window twice",
        ("hours.csv", 30, "from"),
        [add("hours", "calendar=day|weekday=Mon|from=08:00|to=12:00")],
        [add("hours", "calendar=day|weekday=Sun|from=08:00|to=12:00")],
    ),
    case(
        "extra shifts overlap",
        ("extra_shifts.csv", 3, "from"),
        [add("extra_shifts", "calendar=day|date=2026-03-28|from=11:00|to=14:00")],
        [add("extra_shifts", "calendar=day|date=2026-03-28|from=12:00|to=14:00")],
    ),
    case(
        "extra shift over the weekly one",
        ("extra_shifts.csv", 3, "from"),
        [add("extra_shifts", "calendar=day|date=2026-03-27|from=12:00|to=14:00")],
        [add("extra_shifts", "calendar=day|date=2026-03-27|from=12:30|to=14:00")],
    ),
    case(
        "extra shift over last night's",
        ("extra_shifts.csv", 3, "from"),
        [put("hours", 6, "to", "04:00"), add("extra_shifts", "calendar=turning|date=2026-03-24|from=03:00|to=05:00")],
        [put("hours", 6, "to", "04:00"), add("extra_shifts", "calendar=turning|date=2026-03-24|from=04:00|to=05:00")],
    ),
    case(
        "extra shift of no length",
        ("extra_shifts.csv", 2, "to"),
        [put("extra_shifts", 2, "to", "08:00")],
        [put("extra_shifts", 2, "to", "08:30")],
    ),
    case(
        "calendar without windows",
        ("calendars.csv", 6, "calendar"),
        [add("calendars", "calendar=nights|known_to=2027-12-31")],
        [
            add("calendars", "calendar=nights|known_to=2027-12-31"),
            add("extra_shifts", "calendar=nights|date=2026-03-28|from=22:00|to=06:00"),
        ],
    ),
    case(
        "calendar never attended",
        ("calendars.csv", 6, "calendar"),
        [
            add("calendars", "calendar=nights|known_to=2027-12-31"),
            add("hours", "calendar=nights|weekday=Mon|from=22:00|to=06:00|attended=no"),
        ],
        [
            add("calendars", "calendar=nights|known_to=2027-12-31"),
            add("hours", "calendar=nights|weekday=Mon|from=22:00|to=06:00|attended=yes"),
        ],
    ),
]


@pytest.mark.parametrize(("at", "bad", "good"), [*SETTINGS, *DATES, *WINDOWS])
def test_a_contradiction_is_one_fault_and_its_nearest_sense_is_none(
    tmp_path: Path, at: Place, bad: list[Edit], good: list[Edit]
) -> None:
    assert place(Folder(tmp_path / "bad").edit(*bad).only_fault()) == at
    assert Folder(tmp_path / "good").edit(*good).faults() == ()


def test_an_extra_shift_may_stand_on_a_closed_day(tmp_path: Path) -> None:
    """Its weekly windows do not happen, so there is no overlap."""
    assert (
        Folder(tmp_path / "shop").edit(add("extra_shifts", "calendar=day|date=2026-04-03|from=08:00|to=12:00")).faults()
        == ()
    )


def test_a_misspelt_setting_is_shown_the_nearest_name(tmp_path: Path) -> None:
    fault = Folder(tmp_path / "shop").edit(put("settings", 7, "name", "break_max")).only_fault()
    assert "'break_max_min'" in fault.mend


def test_every_setting_can_be_written(tmp_path: Path) -> None:
    """One row for each field of the record, in the form of its type."""
    forms = {"text": "day", "moment": "2026-03-23 08:00", "time": "15:00", "whole": "99", "yesno": "yes"}
    values = {name: forms[type_] for name, type_ in FIELDS.items()} | {
        "zone": "UTC",
        "inspection_stretch_percent": "150",
        "batch_proposals": "no",
    }
    content = "".join(f"{name},{value}\n" for name, value in values.items())
    folder = Folder(tmp_path / "shop")
    (folder.path / "settings.csv").write_text(f"name,value\n{content}", encoding="utf-8")
    settings = folder.read().settings
    defaults = Settings(settings.shop_name, settings.plan_start)
    same = [name for name in FIELDS if getattr(settings, name) == getattr(defaults, name)]
    assert same == ["shop_name", "plan_start"]
