"""``batchwright load``: hours and percent, seen in one of three ways."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from itertools import groupby
from typing import Annotated

import typer

from planner.answers.cautions import cautions
from planner.answers.load import FULL, By, Load, LoadRow, View
from planner.answers.load import load as load_of
from planner.answers.minding import minding
from planner.answers.rows import as_row, as_rows
from planner.answers.wording import span_text
from planner.capacity.share import Share
from planner.cli.arguments import AsJson, PlanFile, ShopFolder, open_plan
from planner.cli.output import plain_faults, say, say_json, show_table
from planner.cli.summary import show_lines
from planner.main_job import ACCEPTED

TITLES = {"group": "Groups", "machine": "Machines", "skill": "Skills", "person": "People", "equipment": "Equipment"}
BY = {By.WEEK: "ISO week", By.DAY: "day"}
VIEWS = {
    View.PLANNED: "as planned",
    View.LATEST: "before levelling, each operation at its latest dates",
    View.BACKLOG: "running totals of what is to be done by the end of each period, against all hours to then",
}
NAMED = 8  # batches named behind a figure

ViewOption = Annotated[
    View, typer.Option("--as", help="As planned, at the latest dates (before levelling), or as backlog.")
]
ByOption = Annotated[By, typer.Option("--by", help="By ISO week or by day.")]


def load(
    shop: ShopFolder,
    plan_file: PlanFile = ACCEPTED,
    by: ByOption = By.WEEK,
    view: ViewOption = View.PLANNED,
    as_json: AsJson = False,
) -> None:
    """Hours and percent per machine, group, skill, person, equipment and outside firm, by ISO week or day."""
    with plain_faults(as_json):
        job = open_plan(shop, plan_file)
    found = load_of(job.work, job.plan, view, by)
    if as_json:
        say_json({**as_row(found), "minding": as_rows(minding(job.work, job.plan))})
        return
    show_load(found)
    if any(f.share < 1 for f in job.work.factors):
        parts = (
            f"{group.name} {factors.availability_percent:g} % available, {factors.performance_percent:g} % of the tables' speed"
            for group, factors in zip(job.work.groups, job.work.factors, strict=True)
            if factors.share < 1
        )
        say(f"Hours counted after availability and performance, once: {'; '.join(parts)}.")
    as_planned = found if (view, by) == (View.PLANNED, By.WEEK) else None
    show_lines("cautions", cautions(job.work, job.plan, as_planned), most=sys.maxsize)


def show_load(answer: Load) -> None:
    """Groups, machines, skills, people, equipment, vans; a period in which nothing is needed is left out."""
    by = BY[answer.by]
    how = "" if answer.view is View.PLANNED else f", {VIEWS[answer.view]}"
    for kind, rows in groupby(answer.rows, key=lambda r: r.kind):
        show_table(
            f"{TITLES[kind]}: hours and percent by {by}{how}",
            (kind, answer.by, "%", "setup", "run", "first-off", "unattended run", "waiting", "attended", "own product", "run by class"),
            [_load_line(r) for r in rows if r.needed_min],
            "llrrrrrrrrl",
        )  # fmt: skip
    show_table(
        f"Outside firms: pieces by {by}{how}",
        ("firm", answer.by, "collections", "pieces", "room", "%", "fullest %"),
        [
            (v.supplier, v.week, v.collections, v.pieces, "no limit" if v.room is None else v.room, _percent(v.percent),
             _percent(v.fullest_percent))
            for v in answer.vans if v.pieces
        ],
        "llrrrrr",
    )  # fmt: skip
    if answer.use:
        show_table(
            "Use of machines and groups: planned values, per cent, terms of ISO 22400-2",
            ("", "", "allocation efficiency", "utilisation efficiency", "setup ratio"),
            [(u.kind, u.name, *(_percent(x) for x in (u.allocation_efficiency, u.utilisation_efficiency, u.setup_ratio))) for u in answer.use],
            "llrrr",
        )  # fmt: skip
    _show_over(answer)
    say(
        "Percent: worked in attended time against attended time; above 100 is shown as it is. "
        f"Waiting: held, neither set nor running. {by.capitalize().replace('Iso', 'ISO')}s in which nothing is needed are left out."
    )


def _show_over(answer: Load) -> None:
    """The batches behind every figure over 100 per cent."""
    rows = [
        (r.name, r.week, _percent(r.percent), _named(r.batches, span_text))
        for r in answer.rows
        if (r.percent or 0) > FULL
    ]
    rows += [
        (v.supplier, v.week, _percent(v.percent), _named(v.batches, str))
        for v in answer.vans
        if (v.percent or 0) > FULL
    ]
    if rows:
        show_table("Over 100 %: what asks for it", ("", answer.by, "%", "batches"), rows, "llr")


def _named(batches: Sequence[Share], text: Callable[[int], str]) -> str:
    words = [f"{s.batch} {text(s.amount)}" for s in batches[:NAMED]]
    return ", ".join(words) + (f" and {len(batches) - NAMED} more" if len(batches) > NAMED else "")


def _load_line(r: LoadRow) -> tuple[object, ...]:
    over = " over" if r.percent is not None and r.percent > FULL else ""
    classes = ", ".join(f"{name} {span_text(minutes)}" for name, minutes in r.run_min.items())
    minutes = (
        r.setup_min, sum(r.run_min.values()), r.check_min, r.unattended_run_min, r.waiting_min, r.attended_min, r.own_min
    )  # fmt: skip
    return r.name, r.week, _percent(r.percent) + over, *(span_text(m) for m in minutes), classes


def _percent(value: float | None) -> str:
    return "" if value is None else f"{value:.1f}"
