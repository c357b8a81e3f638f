"""``today``: what needs somebody's eye now."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.answers.rows import as_row
from planner.answers.whom import WaitedFor
from planner.cli.arguments import AsJson, At, StoreDb
from planner.cli.output import plain_faults, say, say_json, show_table
from planner.cli.rows import entry_row
from planner.day.today import StepLine, Today
from planner.day.today import today as today_of
from planner.main_job import load_plan
from planner.store import Store

TITLES = {
    "open_first_offs": "first-offs open", "missing": "not booked", "starts": "to start today",
    "not_yet": "not to be started yet", "next_vans": "with the next vans",
}  # fmt: skip


WAITS_SHOWN = 3  # for each that is waited for


def today(db: StoreDb, at: At = None, as_json: AsJson = False) -> None:
    """What is late and why, what waits for whom, what is not booked, what should start and what should not yet, first-offs, vans."""
    with plain_faults(as_json):
        job = load_plan(db)
        with Store(db) as store:
            found = today_of(store, job, at)
    if as_json:
        say_json({**as_row(found), "entries": [entry_row(e) for e in found.entries]})
    else:
        show_today(found)


def show_today(found: Today) -> None:
    """A table for each question that has an answer."""
    say(f"As booked up to {found.now}")
    if found.late:
        rows = [(o.order, o.customer, o.due, o.expected, "late" if o.late else "nearly", o.why) for o in found.late]
        show_table("late, or nearly", ("order", "customer", "due", "expected", "", "why"), rows)
    if found.waiting:
        title = f"what waits for whom, to {found.waiting_until} (! makes an order late, or nearly)"
        show_table(
            title, ("for", "what waits", "since", "until", "behind", "holds up"), list(_wait_rows(found.waiting))
        )
    for name, title in TITLES.items():
        _show_steps(title, getattr(found, name))


def _wait_rows(waiting: Sequence[WaitedFor]) -> Iterator[Sequence[object]]:
    """The first of each; how many more there are is said."""
    for whom in waiting:
        name = f"{whom.name} ({whom.kind})" if whom.name else str(whom.kind)
        for w in whom.waits[:WAITS_SHOWN]:
            holds = f"{'! ' if w.binds else ''}{w.order}, {w.late}" if w.order else "for stock"
            yield name, f"{w.batch} op {w.operation} {w.description}, {w.part}", w.since, w.until, w.behind, holds
        if len(whom.waits) > WAITS_SHOWN:
            yield name, f"and {len(whom.waits) - WAITS_SHOWN} more", "", "", "", ""


def _show_steps(title: str, lines: Sequence[StepLine]) -> None:
    if lines:
        rows = [(x.batch, x.operation, x.description, x.part, x.machine, x.planned, x.what) for x in lines]
        show_table(title, ("batch", "op", "what", "part", "machine", "planned", ""), rows, "lr")
