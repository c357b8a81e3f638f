"""Bookings: what happened at a step, as an entry that changes the shop's tables.

The tables that come of it are what planning reads (``planner/explode/progress.py``): remaining work follows from
pieces. What cannot have happened is refused with the reason, and nothing is written.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from typing import Any

from planner.day.board import BOOKING, Board
from planner.day.clock import move_on
from planner.day.counting import first_off_failed, first_off_passed, good, rework, scrap, setup_done
from planner.day.ending import came_back, finish, stop
from planner.day.record import Booking
from planner.day.refusal import Refused
from planner.day.starting import sent_out, start
from planner.store import Entry, Note, Store, Writing

HANDLERS: dict[str, Callable[[Board, Booking], str]] = {
    "start": start,
    "setup done": setup_done,
    "first-off passed": first_off_passed,
    "first-off failed": first_off_failed,
    "good": good,
    "scrap": scrap,
    "rework": rework,
    "stop": stop,
    "finish": finish,
    "sent out": sent_out,
    "came back": came_back,
}


def book(store: Store, who: str, booking: Booking) -> Entry:
    """Enter a booking.

    Raises
    ------
    Refused
        When it cannot be, with the reason; nothing is written.
    """
    handler = HANDLERS[booking.what]

    def change(writing: Writing) -> Note:
        board = Board(writing, booking.at)
        _whole(booking)
        words = handler(board, booking)
        move_on(board.draft, booking.at)
        board.check()
        return Note(words[0].upper() + words[1:], {**_said(booking), **board.facts})

    return store.write(who, booking.at, BOOKING, booking.what, change)


def _whole(booking: Booking) -> None:
    for name in ("good", "scrap", "rework", "setup_min"):
        if (getattr(booking, name) or 0) < 0:
            raise Refused(f"{name} cannot be below 0; undo a booking that was wrong.")


def _said(booking: Booking) -> dict[str, Any]:
    """The fields that say something."""
    return {name: value for name, value in asdict(booking).items() if value not in (None, "", False) and name != "at"}
