"""Bookings at the terminal: ``batchwright book DB start B-1201 20 --machine M1``."""

from __future__ import annotations

from typing import Annotated

import typer

from planner.cli.arguments import AsJson, At, StoreDb, Who, kind_of, said_as
from planner.cli.output import plain_faults
from planner.cli.rows import tell_entry
from planner.day.bookings import HANDLERS, Booking
from planner.day.bookings import book as book_it
from planner.day.clock import moment_in
from planner.day.undo import undo as undo_it
from planner.store import Store

WORDS = said_as(HANDLERS)


def book(
    db: StoreDb,
    what: Annotated[
        str, typer.Argument(metavar="WHAT", parser=kind_of("booking", WORDS), help=f"One of {', '.join(WORDS)}.")
    ],
    batch: Annotated[str, typer.Argument(metavar="BATCH")],
    operation: Annotated[int, typer.Argument(metavar="OPERATION", min=1)],
    machine: Annotated[str, typer.Option(help="start: on which machine.")] = "",
    person: Annotated[str, typer.Option(help="Who sets, works or approves.")] = "",
    good: Annotated[int | None, typer.Option(min=0, help="Good pieces besides those booked before.")] = None,
    scrap: Annotated[int | None, typer.Option(min=0, help="Pieces lost.")] = None,
    rework: Annotated[int | None, typer.Option(min=0, help="Pieces to be done again.")] = None,
    from_operation: Annotated[
        int | None, typer.Option(min=1, help="rework: again from this earlier operation on, as a batch of their own.")
    ] = None,
    setup_min: Annotated[int, typer.Option(min=0, help="first-off failed: minutes to set again.")] = 0,
    torn_down: Annotated[bool, typer.Option("--torn-down", help="stop: the machine was cleared.")] = False,
    of_good: Annotated[bool, typer.Option("--of-good", help="scrap: the pieces had been booked good.")] = False,
    who: Who = "",
    at: At = None,
    as_json: AsJson = False,
) -> None:
    """Book what happened at a step; what cannot have happened is refused with the reason."""
    with plain_faults(as_json), Store(db) as store:
        booking = Booking(
            what, batch, operation, moment_in(store, at), machine, person, good, scrap, rework, setup_min, torn_down,
            of_good, from_operation,
        )  # fmt: skip
        entry = book_it(store, who, booking)
    tell_entry(entry, as_json)


def undo(
    db: StoreDb,
    entry: Annotated[int | None, typer.Argument(metavar="ENTRY", help="Which one [your last].")] = None,
    who: Who = "",
    at: At = None,
    as_json: AsJson = False,
) -> None:
    """Take back a booking on its own day; an event, a decision, a changed row or an undo on any day."""
    with plain_faults(as_json), Store(db) as store:
        undone = undo_it(store, who, moment_in(store, at), entry)
    tell_entry(undone, as_json)
