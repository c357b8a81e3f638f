"""The moment that a store's tables speak of, and how it moves on.

The plan start in the settings is the moment up to which the shop's state is in the tables: a booking or an event
moves it on to its own moment, never back.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from planner.day.refusal import Refused
from planner.intake.convert import moment
from planner.shop import Settings
from planner.store import Draft, Store
from planner.store.records import MINUTE
from planner.store.sheets import Sheets

SLACK = timedelta(minutes=10)  # by which the clocks of two machines may differ


def state_moment(sheets: Sheets | Draft) -> datetime:
    """Local moment up to which the tables tell what has happened."""
    row = sheets.find("settings", name="plan_start")
    assert row is not None, "a store holds tables without faults"
    return moment(row["value"])


def wall_clock(sheets: Sheets | Draft) -> datetime:
    """Local time in the shop, in whole minutes."""
    return datetime.now(_zone(sheets)).replace(second=0, microsecond=0, tzinfo=None)


def local_moment(sheets: Sheets | Draft, moment: datetime) -> datetime:
    """A moment as the shop's clock shows it, in whole minutes; one that names no zone is local already.

    Raises
    ------
    Refused
        When it is beyond every calendar.
    """
    try:
        local = moment if moment.tzinfo is None else moment.astimezone(_zone(sheets))
    except OverflowError as beyond:
        raise Refused(f"{moment.isoformat()} is no moment to plan for: check the year.") from beyond
    return local.replace(second=0, microsecond=0, tzinfo=None)


def _zone(sheets: Sheets | Draft) -> ZoneInfo:
    row = sheets.find("settings", name="zone")
    return ZoneInfo(row["value"] if row and row["value"] else Settings.zone)


def now_in(sheets: Sheets | Draft) -> datetime:
    """Local time in the shop, but not before what the tables tell."""
    return max(wall_clock(sheets), state_moment(sheets))


def moment_in(store: Store, at: datetime | None = None) -> datetime:
    """The moment of an entry: as given, else now, but not before what the tables tell.

    Raises
    ------
    Refused
        When the moment is still to come. In a shop whose plan starts ahead of the clock (a rehearsal) any is taken.
    """
    sheets = store.sheets()
    if at is None:
        return now_in(sheets)
    clock, state = wall_clock(sheets), state_moment(sheets)
    if at > clock + SLACK and state <= clock + SLACK:
        raise Refused(f"{at:{MINUTE}} is still to come (it is {clock:{MINUTE}}): enter it when it has happened.")
    return at


def move_on(draft: Draft, at: datetime) -> None:
    """The tables now tell what has happened up to a moment. Undoing the entry does not take this back."""
    row = draft.find("settings", name="plan_start")
    assert row is not None, "a store holds tables without faults"
    if moment(row["value"]) < at:
        draft.put(row, {"value": f"{at:{MINUTE}}"}, lasting=True)
