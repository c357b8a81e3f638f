"""Who is put on a step: may they do it, are they there, and are they free?

By the timing rules a setup has its setter from its beginning to its end, and work by hand has somebody in each open stretch; a
machine that runs needs nobody throughout. So who is setting, or at work by hand, cannot begin another step that needs them, while any number
of machines may run that they have set: more than can be minded is warned of. What may well be so is told and entered:
people stay longer than their hours, and what they began in another stretch somebody else may have taken over.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any

from planner import worktime
from planner.counted import counted
from planner.day.board import Board, typed
from planner.day.record import Booking
from planner.day.refusal import Refused
from planner.shop import Operation, Shop
from planner.store.records import MINUTE
from planner.work import Span


def person_begins(board: Board, booking: Booking, step: Operation, machine: str, setup_min: int) -> list[str]:
    """Refuses whom the rules bar from beginning the step; else says what is to be minded."""
    if not booking.person:
        return []
    board.known("people", booking.person)
    _skilled(board, booking, step)
    _here(board, booking)
    told = list(_hours(board, booking))
    if step.kind == "manual" or setup_min:
        told += _free(board, booking)
    if step.kind == "machine":
        told += _minded(board, booking, machine)
    return told


def _skilled(board: Board, booking: Booking, step: Operation) -> None:
    skill = _skill_for(board.shop, step)
    if skill and skill not in board.shop.people[booking.person].skills:
        raise Refused(f"{booking.person} does not have the skill '{skill}' that {booking.name} asks for.")


def _skill_for(shop: Shop, step: Operation) -> str | None:
    """Who does a manual step, or sets a machine."""
    return step.skill or (shop.groups[step.group].setup_skill if step.group else None)


def _here(board: Board, booking: Booking) -> None:
    for away in map(typed, board.draft.rows("leave")):
        if away["person"] == booking.person and away["from"] <= board.at < away["to"]:
            reason = f" ({away['reason']})" if away["reason"] else ""
            raise Refused(
                f"{booking.person} is away until {away['to']:{MINUTE}}{reason}: say that they are back, or name somebody else."
            )


def _hours(board: Board, booking: Booking) -> Iterator[str]:
    if not any(a <= 0 < b for a, b in _windows(board, booking.person)):
        yield f"{board.at:{MINUTE}} is outside the hours of {booking.person}."


def _windows(board: Board, person: str) -> tuple[Span, ...]:
    """Hours of a person in minutes from the booking's moment."""
    return _attended(board, board.shop.people[person].calendar)


def _attended(board: Board, calendar: str) -> tuple[Span, ...]:
    zone = board.shop.settings.zone
    return worktime.hours_of(board.shop.calendars[calendar], zone, worktime.to_utc(board.at, zone)).attended


# --- at something else ---------------------------------------------------------------------------


def _free(board: Board, booking: Booking) -> Iterator[str]:
    """Refuses while they are needed elsewhere; says what they are taken to have handed over."""
    for row in board.running():
        at = f"batch {row['batch']} operation {row['operation']} on {row['machine']}"
        since = _at_it_since(board, booking, row)
        if since is None:
            continue
        doing = f"is setting {at} ({row['setup_left_min']} min left)" if row["setup_left_min"] else f"is at {at}"
        if not _may_have_left(board, booking.person, row, since):
            mend = "book the setup done" if row["setup_left_min"] else "book it finished"
            raise Refused(
                f"{booking.person} {doing}, and cannot be at {booking.name} meanwhile: {mend}, or stopped, first, or name "
                "somebody else."
            )
        yield f"{booking.person} {doing} by the bookings: somebody else is taken to have gone on with that."


def _at_it_since(board: Board, booking: Booking, row: dict[str, Any]) -> datetime | None:
    """From when on they have been at a step that needs them throughout; None where they are not."""
    step = board.step(board.batch(row["batch"]), row["operation"])[1]
    if row["person"] != booking.person or not (step.kind == "manual" or row["setup_left_min"]):
        return None
    entries = board.since_start(row["batch"], row["operation"])
    if entries is None:  # as it was when the tables were taken in
        entries = [board.writing.entries()[0], *board.booked(row["batch"], row["operation"])]
    return None if entries[-1].what == "stop" else entries[0].at


def _may_have_left(board: Board, person: str, row: dict[str, Any], since: datetime) -> bool:
    """May somebody else have gone on since? Work by hand with the next stretch; a setup where handing over is allowed, with the next
    shift."""
    settings = board.shop.settings
    if row["setup_left_min"] and settings.handover_min is None:
        return False
    machine = board.shop.machines[row["machine"]]
    windows: list[Span] = worktime.common(_attended(board, machine.calendar), _windows(board, person))
    if row["setup_left_min"]:
        windows = worktime.stretches(windows, settings.break_max_min)
    begun = worktime.minute_of(since, settings.zone, worktime.to_utc(board.at, settings.zone))
    return any(begun < end <= 0 for _, end in windows)


def _minded(board: Board, booking: Booking, machine: str) -> Iterator[str]:
    """More machines of a group that they have set than one person minds."""
    group = board.shop.groups[board.shop.machines[machine].group]
    theirs = sorted({r["machine"] for r in board.running() if r["person"] == booking.person} | {machine})
    theirs = [m for m in theirs if board.shop.machines[m].group == group.name]
    if group.machines_per_person is not None and len(theirs) > group.machines_per_person:
        yield (
            f"{booking.person} then minds {', '.join(theirs)}: one person minds {counted(group.machines_per_person, 'machine')} "
            f"of {group.name}."
        )
