"""Decisions at the terminal: ``batchwright decide DB pin B-1201 20 --machine M2``."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

import typer

from planner.answers.rows import as_row
from planner.cli.arguments import AsJson, At, StoreDb, Who, moment_of
from planner.cli.output import plain_faults, say, say_json
from planner.cli.replan import against_accepted, show_differences
from planner.cli.rows import entry_row
from planner.cli.summary import show_lines
from planner.day.clock import moment_in
from planner.day.decisions import HANDLERS, Decision
from planner.day.decisions import decide as decide_it
from planner.day.moving import breaches_of_move
from planner.day.replan import time_again
from planner.store import Store

WORDS = {name.replace(" ", "-"): name for name in HANDLERS}


def what_of(text: str) -> str:
    """The kind of a decision, for an argument's ``parser``."""
    name = text.casefold().replace(" ", "-")
    if name not in WORDS:
        raise typer.BadParameter(f"there is no decision '{text}'; there are {', '.join(WORDS)}")
    return WORDS[name]


def decide(
    db: StoreDb,
    what: Annotated[str, typer.Argument(metavar="WHAT", parser=what_of, help=f"One of {', '.join(WORDS)}.")],
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
        breaks = breaches_of_move(store, decision.name, machine, until) if what == "move" and until and machine else []
        entry = decide_it(store, who, decision)
        found = time_again(store, who, moment) if timing else None
        changes = against_accepted(store, found) if found else None
    if as_json:
        shown = None if changes is None else as_row(changes)
        say_json({"good": True, **entry_row(entry), "breaks": breaks, "plan": found and found.number, "changes": shown})
        return
    say(f"Entry {entry.id}: {entry.words}")
    show_lines("as it stands, that breaks", breaks, most=12)
    if changes is not None and found is not None:
        show_differences(changes)
        say(f"Plan {found.number}, timed again without a search, waits: batchwright accept DB {found.number}")
