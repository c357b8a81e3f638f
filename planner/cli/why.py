"""The command that says why an order is ready when it is."""

from __future__ import annotations

from typing import Annotated

import typer

from planner.answers.leeway import Rooms
from planner.answers.why import Unknown, Why, why_batch, why_late
from planner.answers.why import why as why_order
from planner.answers.why.records import Leg, Line, Stage
from planner.answers.wording import elapsed_text, span_text
from planner.cli.arguments import AsJson, PlanFile, ShopFolder, answer, open_plan
from planner.cli.output import plain_faults, say, say_json, show_table
from planner.counted import counted
from planner.main_job import Job


def why(
    shop: ShopFolder,
    plan_file: PlanFile,
    order: Annotated[
        str | None, typer.Argument(metavar="ORDER", help="Its number. Without one: a sentence for each late order.")
    ] = None,
    batch: Annotated[str | None, typer.Option(help="A batch in place of an order.")] = None,
    as_json: AsJson = False,
) -> None:
    """Why an order is ready when it is: what each minute from the plan start to its finish goes into."""
    if order is not None and batch is not None:
        raise typer.BadParameter("give an ORDER or --batch, not both")

    def find(job: Job) -> Why:
        try:
            rooms = Rooms(job.work, job.plan)
            if batch is not None:
                return why_batch(job.work, job.plan, batch, rooms)
            return why_order(job.work, job.plan, order or "", rooms)
        except Unknown as unknown:
            raise typer.BadParameter(str(unknown)) from unknown

    if order is None and batch is None:
        _late(shop, plan_file, as_json)
    else:
        answer(shop, plan_file, as_json, find, show_why)


def _late(shop: ShopFolder, plan_file: PlanFile, as_json: bool) -> None:
    with plain_faults(as_json):
        job = open_plan(shop, plan_file)
        late = why_late(job.work, job.plan)
    if as_json:
        say_json([{"order": number, "sentence": text} for number, text in late])
        return
    for _, text in late:
        say(text)
    if not late:
        say("No order is late.")


def show_why(found: Why) -> None:
    """The sentence, what follows from it, and the table of all minutes."""
    say(found.sentence)
    for note in found.notes:
        say(f"- {note}")
    if not found.legs:
        return
    show_table(
        f"{elapsed_text(found.lead_min)} by cause",
        ("minutes", "time", "cause"),
        [(f"{c.minutes:,}", span_text(c.minutes), c.text) for c in found.causes],
        "rr",
    )
    show_table(
        "Step by step",
        ("step", "from", "what", "minutes", "time", "behind", "can start later by"),
        [row for leg in found.legs for row in _leg_rows(leg)],
        "lllrr",
    )
    say(
        f"{found.lead_min:,} minutes in all, {elapsed_text(found.lead_min)}, from {found.origin}. Checked: they add up."
    )


def _leg_rows(leg: Leg) -> list[tuple[object, ...]]:
    name = f"{'component ' if leg.component else ''}{leg.batch}, {leg.description or leg.part}".rstrip(", ")
    rows: list[tuple[object, ...]] = [(name, leg.start, "", f"{leg.minutes:,}", span_text(leg.minutes), "", "")]
    for stage in leg.stages:
        rows += [_row(stage, line, i) for i, line in enumerate(stage.lines)]
    return rows


def _row(stage: Stage, line: Line, place: int) -> tuple[object, ...]:
    name = "" if stage.operation is None else f"  op {stage.operation} {stage.what}".rstrip()
    can_wait = "" if stage.can_wait_min is None else span_text(stage.can_wait_min)
    return (
        name + (f", {stage.where}" if stage.where else "") if place == 0 else "", line.start, line.text,
        f"{line.minutes:,}", span_text(line.minutes), _behind(line), can_wait if place == 0 else "",
    )  # fmt: skip


def _behind(line: Line) -> str:
    shown = "; ".join(f"{b.what} {span_text(b.minutes)}" for b in line.behind[:4])
    over = len(line.behind) - 4
    return shown + (f"; and {counted(over, 'other')}" if over > 0 else "")
