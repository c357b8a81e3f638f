"""Events at the terminal: ``batchwright event DB down M1 --until '2026-04-08 12:00'``."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated

import typer

from planner.cli.arguments import AsJson, At, StoreDb, Who, day_of, kind_of, moment_of, said_as
from planner.cli.output import plain_faults
from planner.cli.rows import tell_entry
from planner.day.clock import moment_in
from planner.day.events import HANDLERS, happen
from planner.day.happening import Event
from planner.store import Store

WORDS = said_as(HANDLERS)


def event(
    db: StoreDb,
    what: Annotated[
        str, typer.Argument(metavar="WHAT", parser=kind_of("event", WORDS), help=f"One of {', '.join(WORDS)}.")
    ],
    subject: Annotated[
        str, typer.Argument(metavar="NAME", help="Machine, person, order, receipt, supplier, part or batch.")
    ],
    until: Annotated[
        datetime | None, typer.Option(parser=moment_of, metavar="MOMENT", help="down, away, hold, drawing.")
    ] = None,
    since: Annotated[
        datetime | None, typer.Option("--from", parser=moment_of, metavar="MOMENT", help="down, away.")
    ] = None,
    day: Annotated[date | None, typer.Option(parser=day_of, metavar="DATE", help="late, van-missed.")] = None,
    quantity: Annotated[int | None, typer.Option(min=0, help="arrived, hot, quantity, ship, top-up.")] = None,
    machine: Annotated[str, typer.Option(help="routing: the machine that can do it too.")] = "",
    operation: Annotated[int | None, typer.Option(min=1, help="routing: of which step.")] = None,
    setup_min: Annotated[int | None, typer.Option(min=0, help="routing: setup there [as in the routing].")] = None,
    cycle_sec: Annotated[int | None, typer.Option(min=0, help="routing: cycle there [as in the routing].")] = None,
    part: Annotated[str, typer.Option(help="hot, a new order: which part.")] = "",
    customer: Annotated[str, typer.Option(help="hot, a new order: whose.")] = "",
    due: Annotated[str, typer.Option(metavar="DUE", help="hot: date, or date and time.")] = "",
    class_: Annotated[str, typer.Option("--class", help="hot: its class.")] = "",
    revision: Annotated[str, typer.Option(help="drawing: the new one.")] = "",
    drop_batches: Annotated[bool, typer.Option("--drop-batches", help="cancel: also what is not begun.")] = False,
    reason: Annotated[str, typer.Option(help="For the tables and the history.")] = "",
    who: Who = "",
    at: At = None,
    as_json: AsJson = False,
) -> None:
    """Enter what happened to a machine, a person, an order, a van; 'undo' takes it back."""
    with plain_faults(as_json), Store(db) as store:
        happened = Event(
            what, subject, moment_in(store, at), until, since, day, quantity, machine, operation, setup_min, cycle_sec,
            part, customer, due, class_, revision, drop_batches, reason,
        )  # fmt: skip
        entry = happen(store, who, happened)
    tell_entry(entry, as_json)
