"""How much of a setup is left: nobody books each minute of it, so it is counted down when a plan is made."""

from __future__ import annotations

from datetime import datetime

from planner import worktime
from planner.day.board import BOOKING, typed
from planner.day.undo import UNDO
from planner.shop import Shop
from planner.store import StoredRow, Writing
from planner.store.sheets import Cells


def setup_left(writing: Writing, shop: Shop, row: StoredRow, at: datetime) -> int:
    """Minutes left at a moment of what is being set, never less than one: that it is done has to be booked.

    Parameters
    ----------
    row
        The step's row of the progress table; what it says was so when it was last said.
    """
    values = typed(row)
    since, until = _last_said(writing, row), _at_it_until(writing, row, at)
    return max(1, values["setup_left_min"] - _worked(shop, values["machine"], values["person"], since, until))


def _at_it_until(writing: Writing, row: StoredRow, at: datetime) -> datetime:
    """The moment, or when the work was stopped, if the stop is what was booked last."""
    name = row["batch"], int(row["operation"])
    booked = [
        e for e in writing.entries()
        if e.kind == BOOKING and e.undone_by is None and (e.data.get("batch"), e.data.get("operation")) == name
    ]  # fmt: skip
    return min(at, booked[-1].at) if booked and booked[-1].what == "stop" else at


def _last_said(writing: Writing, row: StoredRow) -> datetime:
    """When the minutes left were last entered or counted: at a start, after a first-off that failed, for a plan."""
    history = writing.history(row.id)
    said = [
        entry.at for entry, change in history
        if entry.undone_by is None and entry.kind != UNDO and _minutes(change.before) != _minutes(change.after)
    ]  # fmt: skip
    return said[-1] if said else history[0][0].at


def _minutes(cells: Cells | None) -> str:
    return (cells or {}).get("setup_left_min", "")


def _worked(shop: Shop, machine: str, person: str | None, begin: datetime, end: datetime) -> int:
    """Minutes between two local moments in which the machine is attended and not down, and its setter, if known, is here."""
    zone = shop.settings.zone
    start = worktime.to_utc(begin, zone)
    on = shop.machines[machine]
    windows = worktime.hours_of(shop.calendars[on.calendar], zone, start, on.downtime).attended
    if person:
        setter = shop.people[person]
        theirs = worktime.hours_of(shop.calendars[setter.calendar], zone, start, setter.leave).attended
        windows = tuple(worktime.common(windows, theirs))
    return max(0, worktime.OpenTime(windows).open_between(0, worktime.minute_of(end, zone, start)))
