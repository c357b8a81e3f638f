"""Answers as tables in the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from planner.answers.kits import Kit
from planner.answers.lists import MachineTask, PersonTask
from planner.answers.orders import OrderRow
from planner.answers.proposals import LEFT_ALONE_FILE, ProposalRow, switched_off_by
from planner.answers.vans import Collection, Vans
from planner.answers.wording import elapsed_text, late_text, pounds, span_text
from planner.cli.output import say, show_table
from planner.counted import counted


def show_orders(rows: Sequence[OrderRow]) -> None:
    """The latest first."""
    show_table(
        "Orders",
        ("order", "customer", "part", "pieces", "class", "due", "expected", "early or late", "now", "why late"),
        [
            (r.order + (" (provisional)" if r.provisional_until else ""), r.customer, r.part, r.pieces, r.priority, r.due, r.expected,
             "" if r.late_min is None else ("! " if r.late else "") + late_text(r.late_min), r.waits_for, r.reason)
            for r in rows
        ],
        "lllr",
    )  # fmt: skip
    say(f"{sum(r.late for r in rows)} of {len(rows)} late (marked !).")


def show_machine_lists(tasks: Sequence[MachineTask]) -> None:
    """A table for each machine."""
    for machine, found in groupby(tasks, key=lambda t: t.machine):
        show_table(
            machine,
            ("", "no need before", "start", "at the latest", "batch op", "what", "part", "pieces", "setup", "family", "first-off", "equipment", "run",
             "run end", "next", "due"),
            [_machine_line(t) for t in found],
            "rllllllr",
        )  # fmt: skip
    if not tasks:
        say("Nothing on the list.")


def _machine_line(t: MachineTask) -> tuple[object, ...]:
    setup = f"{span_text(t.setup_min)} {', '.join(t.setup_by)}".strip() if t.setup_min else ""
    changeover = f" (+{t.changeover_min} changeover)" if t.changeover_min else ""
    return (
        t.place, t.no_need_before, t.start, t.at_the_latest, f"{t.batch} op {t.operation}", t.description, t.part, t.pieces, setup or ", ".join(t.people),
        t.family + changeover, t.first_off, ", ".join(t.equipment), t.run_start, t.run_end, t.next_step, t.due,
    )  # fmt: skip


def show_person_lists(tasks: Sequence[PersonTask]) -> None:
    """A table for each person."""
    for person, found in groupby(tasks, key=lambda t: t.person):
        show_table(
            person,
            ("start", "end", "task", "machine", "batch op", "what", "part", "pieces"),
            [(t.start, t.end, t.task, t.machine, f"{t.batch} op {t.operation}", t.description, t.part, t.pieces) for t in found],
            "lllllllr",
        )  # fmt: skip
    if not tasks:
        say("Nothing on the list.")


def show_kits(found: Sequence[Kit]) -> None:
    """A table for each batch that needs components."""
    for kit in found:
        waits = f", waits for {kit.waits_for}" if kit.waits_for else ""
        short = f", SHORT: {'; '.join(kit.shortages)}" if kit.shortages else ""
        show_table(
            f"{kit.batch}, {kit.part}, {counted(kit.pieces, 'piece')}: kit {kit.kit_date}, start {kit.start}{waits}{short}",
            ("component", "pieces", "for op", "from", "date", "slack"),
            [
                (c.part, c.pieces, c.operation, c.source, c.date,
                 "" if c.slack_min is None else elapsed_text(c.slack_min))
                for c in kit.components
            ],
            "lrrllr",
        )  # fmt: skip
    if not found:
        say("No batch needs components.")


def show_vans(answer: Vans) -> None:
    """Collections with their charges, then deliveries."""
    for van in answer.collections:
        show_table(
            _van_title(van),
            ("batch op", "part", "pieces", "process", "key", "back"),
            [(f"{p.batch} op {p.operation}", p.part, p.pieces, p.process, p.charge_key, p.back) for p in van.parcels],
            "llr",
        )
        for c in van.charges:
            why = "minimum" if c.minimum else "pieces"
            say(f"  {c.process} {c.charge_key}: {pounds(c.pence)} ({why}, fees {pounds(c.fees_pence)})")
    show_table(
        "Coming back",
        ("when", "firm", "batch op", "part", "pieces", "collected"),
        [(d.back, d.supplier, f"{p.batch} op {p.operation}", p.part, p.pieces, p.collected)
         for d in answer.deliveries for p in d.parcels],
        "llllr",
    )  # fmt: skip
    say(f"Charges in all: {pounds(answer.pence)} pounds.")


def _van_title(van: Collection) -> str:
    room = "no limit" if van.room is None else f"room {van.room}"
    return f"{van.collect}: {van.supplier}, {counted(van.pieces, 'piece')} ({room}), {pounds(van.pence)} pounds"


def show_proposals(rows: Sequence[ProposalRow], in_store: bool) -> None:
    """Two lines for each, those that saved most first: what it is, and how to be without it."""
    for row in rows:
        say(f"- {row.text} {row.caution}".strip())
        say(f"  {switched_off_by(row.name, in_store)}")
    if not rows:
        say("No batch is split or run as one with another.")
        return
    say("What each saved is as found when it was made.")
    if not in_store:
        say(LEFT_ALONE_FILE)
