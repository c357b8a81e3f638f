"""The plan through the day: from now on, what it changes, yes or no."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from planner.answers.rows import as_row
from planner.answers.summary import summary
from planner.cli.arguments import AsJson, At, Seconds, Seed, StoreDb, Who, one_limit
from planner.cli.output import FAULTS_FOUND, plain_faults, say, say_json, show_table
from planner.cli.planning import SECONDS, with_progress
from planner.cli.rows import entry_row, tell_entry
from planner.cli.summary import show_lines, show_summary
from planner.day import acceptance
from planner.day.clock import moment_in
from planner.day.differences import Differences, against_accepted
from planner.day.replan import Candidate, plan_from_now
from planner.main_job import stored_job
from planner.store import Store

PlanNumber = Annotated[int | None, typer.Argument(metavar="NUMBER", help="Which plan [the last that waits].")]


def replan(
    db: StoreDb,
    seconds: Seconds = None,
    trials: Annotated[int | None, typer.Option(min=1, help="Search for so many trials instead.")] = None,
    seed: Seed = 1,
    accept: Annotated[bool, typer.Option("--accept", help="Accept it at once.")] = False,
    who: Who = "",
    at: At = None,
    as_json: AsJson = False,
) -> None:
    """Plan from now on, close to the accepted plan; say what changes. It waits until it is accepted."""
    one_limit(seconds, trials)
    seconds = SECONDS if seconds is None and trials is None else seconds
    with plain_faults(as_json), Store(db) as store:
        moment = moment_in(store, at)
        with with_progress(seconds, trials, quiet=as_json) as (watch, stop):
            found = plan_from_now(
                store, who, moment, seconds=seconds, trials=trials, seed=seed, progress=watch, stop=stop
            )  # fmt: skip
        changes = against_accepted(store, found.job)
        if accept and found.number is not None:
            acceptance.accept(store, who, moment, found.number)
    tell_candidate(
        found,
        changes,
        accept and found.number is not None,
        summary(found.job.work, found.job.plan, watch.first_seconds),
        as_json,
    )


def tell_candidate(
    found: Candidate, changes: Differences | None, accepted: bool, data: dict[str, Any], as_json: bool
) -> None:
    """Say what came of it; exit code 1 when there is no plan."""
    if as_json:
        shown = None if changes is None else as_row(changes)
        say_json(
            {"good": found.number is not None, **data, "plan": found.number, "accepted": accepted, "changes": shown}
        )
    else:
        show_summary(data, in_store=True)
        if changes is not None:
            show_differences(changes)
        waits = "is accepted" if accepted else f"waits: batchwright accept DB {found.number}"
        say(f"Plan {found.number} {waits}." if found.number is not None else "No plan: nothing was kept.")
    if found.number is None:
        raise typer.Exit(FAULTS_FOUND)


def show_differences(found: Differences) -> None:
    """The sentences, then orders and steps with their reasons."""
    show_lines("what changes", list(found.words), most=len(found.words))
    if found.orders:
        show_table(
            "orders", ("order", "customer", "what", "due", "was", "now", "why"),
            [(o.order, o.customer, o.what, o.due, o.was, o.now, o.why) for o in found.orders],
        )  # fmt: skip
    if found.steps:
        show_table(
            "operations of the next days", ("batch", "op", "what", "was on", "was", "now on", "now", "right after", "why"),
            [(s.batch, s.operation, s.what, s.was_machine, s.was, s.now_machine, s.now, s.now_after, s.why) for s in found.steps],
            "lr",
        )  # fmt: skip


def changes(db: StoreDb, number: PlanNumber = None, as_json: AsJson = False) -> None:
    """What a waiting plan changes against the accepted one, and why."""
    with plain_faults(as_json), Store(db) as store:
        plan = acceptance.plan_named(store, number)
        found = against_accepted(store, stored_job(store, plan))
    if as_json:
        say_json({"plan": plan.id, "changes": None if found is None else as_row(found)})
    elif found is None:
        say(f"Plan {plan.id} has nothing to be compared with: no plan is accepted now.")
    else:
        show_differences(found)


def accept(db: StoreDb, number: PlanNumber = None, who: Who = "", at: At = None, as_json: AsJson = False) -> None:
    """Accept a plan: lists, kits and vans follow it from then on."""
    with plain_faults(as_json), Store(db) as store:
        entry = acceptance.accept(store, who, moment_in(store, at), number)
    tell_entry(entry, as_json)


def refuse(
    db: StoreDb,
    number: PlanNumber = None,
    why: Annotated[str, typer.Option(help="For the history.")] = "",
    who: Who = "",
    at: At = None,
    as_json: AsJson = False,
) -> None:
    """Refuse a plan: the accepted one goes on."""
    with plain_faults(as_json), Store(db) as store:
        entry = acceptance.refuse(store, who, moment_in(store, at), number, why)
    tell_entry(entry, as_json)


def unaccept(db: StoreDb, who: Who = "", at: At = None, as_json: AsJson = False) -> None:
    """Take the last acceptance back: the plan before it is followed again."""
    with plain_faults(as_json), Store(db) as store:
        entry = acceptance.undo_acceptance(store, who, moment_in(store, at))
    tell_entry(entry, as_json)


def plans(db: StoreDb, as_json: AsJson = False) -> None:
    """Every plan that was kept, when it was made and by whom, and what was decided about it."""
    with plain_faults(as_json), Store(db) as store:
        found, entries = store.plans(), {e.id: e for e in store.entries("plan")}
        followed = store.accepted()
    rows = [
        {"plan": p.id, "made": p.made, "who": p.who, "state": p.state, "followed": followed is not None and p.id == followed.id,
         "decided": entry_row(entries[p.decided]) if p.decided else None}
        for p in found
    ]  # fmt: skip
    if as_json:
        say_json(rows)
        return
    lines = [
        [p.id, p.made, p.who, p.state + (", followed" if followed and p.id == followed.id else ""),
         f"{entries[p.decided].who} {entries[p.decided].at:%Y-%m-%d %H:%M}" if p.decided else ""]
        for p in found
    ]  # fmt: skip
    show_table("plans", ("plan", "made (UTC)", "by", "state", "decided by"), lines, "r")
