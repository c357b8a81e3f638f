"""``today``: what needs somebody's eye now."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.answers.rows import as_row
from planner.answers.whom import Wait, WaitedFor
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
WAIT_HEADS = ("waits for", "what waits", "since", "until", "behind", "holds up")


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
    say(f"As of {found.now}")
    if found.late:
        rows = [(o.order, o.customer, o.due, o.expected, "late" if o.late else "nearly", o.why) for o in found.late]
        show_table("late, or nearly", ("order", "customer", "due", "expected", "", "why"), rows)
    if found.binding:
        binding = [_wait_row(whom, wait) for whom, wait in found.binding]
        show_table(f"what makes orders late, or nearly, to {found.waiting_until}", WAIT_HEADS, binding)
    if found.waiting:
        show_table(f"all that waits, to {found.waiting_until}", WAIT_HEADS, list(_wait_rows(found.waiting)))
    for name, title in TITLES.items():
        _show_steps(title, getattr(found, name))


def _wait_rows(waiting: Sequence[WaitedFor]) -> Iterator[Sequence[object]]:
    """The first of each; how many more there are is said."""
    for whom in waiting:
        yield from (_wait_row(whom, wait) for wait in whom.waits[:WAITS_SHOWN])
        if len(whom.waits) > WAITS_SHOWN:
            yield _whom(whom), f"and {len(whom.waits) - WAITS_SHOWN} more", "", "", "", ""


def _wait_row(whom: WaitedFor, wait: Wait) -> Sequence[object]:
    holds_up = f"{wait.order}, {wait.late}" if wait.order else "for stock"
    what = f"{wait.batch} op {wait.operation} {wait.description}, {wait.part}"
    return _whom(whom), what, wait.since, wait.until, wait.behind, holds_up


def _whom(whom: WaitedFor) -> str:
    return f"{whom.name} ({whom.kind})" if whom.name else str(whom.kind)


def _show_steps(title: str, lines: Sequence[StepLine]) -> None:
    if lines:
        rows = [(x.batch, x.operation, x.description, x.part, x.machine, x.planned, x.what) for x in lines]
        show_table(title, ("batch", "op", "what", "part", "machine", "planned", ""), rows, "lr")
