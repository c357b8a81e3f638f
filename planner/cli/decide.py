"""Decisions at the terminal: ``batchwright decide DB pin B-1201 20 --machine M2``."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

import typer

from planner.answers.rows import as_row
from planner.cli.arguments import AsJson, At, StoreDb, Who, kind_of, moment_of, said_as
from planner.cli.output import plain_faults, say, say_json
from planner.cli.replan import show_differences
from planner.cli.rows import entry_row
from planner.cli.summary import show_lines
from planner.day.clock import moment_in
from planner.day.deciding import decide_and_time
from planner.day.decisions import HANDLERS, Decision
from planner.store import Store

WORDS = said_as(HANDLERS)


def decide(
    db: StoreDb,
    what: Annotated[
        str, typer.Argument(metavar="WHAT", parser=kind_of("decision", WORDS), help=f"One of {', '.join(WORDS)}.")
    ],
    batch: Annotated[str, typer.Argument(metavar="BATCH")],
    operation: Annotated[int, typer.Argument(metavar="OPERATION", min=1)],
    machine: Annotated[str, typer.Option(help="pin, move, after, not-on.")] = "",
    person: Annotated[str, typer.Option(help="pin: who sets or does it.")] = "",
    until: Annotated[
        datetime | None,
        typer.Option("--until", "--to", parser=moment_of, metavar="MOMENT", help="hold: until; move: to."),
    ] = None,
    other_batch: Annotated[str, typer.Option("--other", metavar="BATCH", help="after, swap: the other batch.")] = "",
    other_operation: Annotated[
        int, typer.Option("--other-operation", metavar="N", help="after, swap: its operation.")
    ] = 0,
    reason: Annotated[str, typer.Option(help="For the tables and the history.")] = "",
    timing: Annotated[bool, typer.Option("--timing/--no-timing", help="Time the accepted plan again with it.")] = True,
    who: Who = "",
    at: At = None,
    as_json: AsJson = False,
) -> None:
    """Decide about a step: see what it breaks and, timed again, what it changes. The result waits to be accepted."""
    other = (other_batch, other_operation) if other_batch else None
    with plain_faults(as_json), Store(db) as store:
        moment = moment_in(store, at)
        decision = Decision(what, (batch, operation), moment, machine, person, until, other, reason)
        found = decide_and_time(store, who, decision, timing=timing)
    if as_json:
        shown = None if found.changes is None else as_row(found.changes)
        said = {"breaks": list(found.breaks), "plan": found.plan, "changes": shown, "note": found.note}
        say_json({"good": True, **entry_row(found.entry), **said})
        return
    say(f"Entry {found.entry.id}: {found.entry.words}")
    show_lines("as it stands, that breaks", list(found.breaks), most=12)
    if found.changes is not None:
        show_differences(found.changes)
    if found.plan is not None:
        say(f"Plan {found.plan}, timed again without a search, waits: batchwright accept DB {found.plan}")
    elif found.note:
        say(found.note)
