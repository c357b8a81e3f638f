"""``batchwright load``: hours and percent, seen in one of three ways."""

from __future__ import annotations

import sys
from collections.abc import Callable, Collection, Sequence
from enum import StrEnum
from itertools import groupby
from typing import Annotated

import typer

from planner.answers.cautions import cautions
from planner.answers.load import (
    EQUIPMENT,
    FULL,
    GROUP,
    MACHINE,
    OUTSIDE,
    PERSON,
    SKILL,
    By,
    Load,
    LoadRow,
    View,
    names_of,
    only,
)
from planner.answers.load import load as load_of
from planner.answers.minding import minding
from planner.answers.rows import as_row, as_rows
from planner.answers.wording import span_text
from planner.capacity.share import Share
from planner.cli.arguments import AsJson, PlanFile, ShopFolder, open_plan
from planner.cli.output import plain_faults, say, say_json, show_table
from planner.cli.summary import show_lines
from planner.counted import listed
from planner.intake.nearest import did_you_mean
from planner.main_job import ACCEPTED


class Kind(StrEnum):
    """What may be looked at alone."""

    GROUP = GROUP
    MACHINE = MACHINE
    SKILL = SKILL
    PERSON = PERSON
    EQUIPMENT = EQUIPMENT
    OUTSIDE = OUTSIDE


TITLES = {"group": "Groups", "machine": "Machines", "skill": "Skills", "person": "People", "equipment": "Equipment"}
BY = {By.WEEK: "ISO week", By.DAY: "day"}
VIEWS = {
    View.PLANNED: "as planned",
    View.LATEST: "before levelling, each operation at its latest dates",
    View.BACKLOG: "running totals of what is to be done by the end of each period, against all hours to then",
}
PERCENT = {
    View.PLANNED: "%: what the plan sets and runs in attended time, of the counted hours.",
    View.LATEST: "%: what falls into the period at its latest dates, but for unattended running, of the counted hours.",
    View.BACKLOG: "%: all that has to be done by the end of the period, but for unattended running, of all counted hours from the "
    "plan start to then. Released %: the same of what is released already.",
}
COUNTED = "Counted hours: attended hours after the group's availability and performance, taken off once."
NAMED = 8  # batches named behind a figure

ViewOption = Annotated[
    View, typer.Option("--as", help="As planned, at the latest dates (before levelling), or as backlog.")
]
ByOption = Annotated[By, typer.Option("--by", help="By ISO week or by day.")]
KindOption = Annotated[list[Kind] | None, typer.Option(help="Only of this kind; may be given more than once.")]
NameOption = Annotated[
    list[str] | None, typer.Option(help="Only this machine, group, skill ...; may be given more than once.")
]


def load(
    shop: ShopFolder,
    plan_file: PlanFile = ACCEPTED,
    by: ByOption = By.WEEK,
    view: ViewOption = View.PLANNED,
    kind: KindOption = None,
    name: NameOption = None,
    as_json: AsJson = False,
) -> None:
    """Hours and percent per machine, group, skill, person, equipment and outside firm, by ISO week or day."""
    with plain_faults(as_json):
        job = open_plan(shop, plan_file)
    whole = load_of(job.work, job.plan, view, by)
    _check_names(whole, kind or (), name or ())
    found = only(whole, kind or (), name or ())
    planned = view is View.PLANNED
    if as_json:
        say_json({**as_row(found), **({"minding": as_rows(minding(job.work, job.plan))} if planned else {})})
        return
    show_load(found)
    if any(f.share < 1 for f in job.work.factors):
        parts = (
            f"{group.name} {factors.availability_percent:g} % available, {factors.performance_percent:g} % of the tables' speed"
            for group, factors in zip(job.work.groups, job.work.factors, strict=True)
            if factors.share < 1
        )
        say(f"Availability and performance: {'; '.join(parts)}.")
    if planned and not kind and not name:  # of the plan as a whole
        show_lines("cautions", cautions(job.work, job.plan, whole if by is By.WEEK else None), most=sys.maxsize)


def _check_names(answer: Load, kinds: Collection[str], names: Collection[str]) -> None:
    """Names of the kinds that are looked at; all that are unknown are told at once."""
    of = names_of(answer)
    known = sorted({name for kind, found in of.items() if not kinds or kind in kinds for name in found})
    some = f"there are {listed(known)}." if known else "there are none here."
    unknown = [
        f"there is no {_one_of(kinds)} '{name}'. {did_you_mean(name, known, some)}"
        for name in names
        if name not in known
    ]
    if unknown:
        raise typer.BadParameter(" ".join(unknown), param_hint="--name")


def _one_of(kinds: Collection[str]) -> str:
    words = [{OUTSIDE: "outside firm", EQUIPMENT: "piece of equipment"}.get(kind, kind) for kind in kinds]
    return " or ".join(words) if words else "machine, group, skill, person, equipment or outside firm"


def show_load(answer: Load) -> None:
    """Groups, machines, skills, people, equipment, vans; a period in which nothing is needed is left out."""
    by = BY[answer.by]
    how = "" if answer.view is View.PLANNED else f", {VIEWS[answer.view]}"
    for kind, found in groupby(answer.rows, key=lambda r: r.kind):
        rows = [r for r in found if r.needed_min]
        if rows:
            _show_kind(answer, kind, rows, f"{TITLES[kind]}: hours and percent by {by}{how}")
    vans = [v for v in answer.vans if v.pieces]
    if vans:
        show_table(
            f"Outside firms: pieces by {by}{how}",
            ("firm", answer.by, "collections", "pieces", "room", "%", "fullest %"),
            [
                (v.supplier, v.week, v.collections, v.pieces, "no limit" if v.room is None else v.room, _percent(v.percent),
                 _percent(v.fullest_percent))
                for v in vans
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
    waiting = "Waiting: held, neither set nor running. " if answer.view is View.PLANNED else ""
    say(
        f"{PERCENT[answer.view]} {COUNTED} Above 100 is shown as it is. Setup and run are of all work, 'of it released' of batches "
        f"released already. {waiting}{by[0].upper()}{by[1:]}s in which nothing is needed are left out."
    )


def _show_kind(answer: Load, kind: str, rows: Sequence[LoadRow], title: str) -> None:
    """Columns that would be empty are left out."""
    columns: list[tuple[str, list[int]]] = [
        ("setup", [r.setup_min for r in rows]),
        ("run", [sum(r.run_min.values()) for r in rows]),
        ("first-off", [r.check_min for r in rows]),
        ("unattended run", [r.unattended_run_min for r in rows]),
        ("waiting", [r.waiting_min for r in rows]),
        ("of it released", [r.released_min for r in rows]),
        ("own product", [r.own_min for r in rows]),
        ("attended", [r.attended_min for r in rows]),
        ("counted", [r.effective_min for r in rows] if any(r.effective_min != r.attended_min for r in rows) else []),
    ]
    always = ("setup", "run", "of it released", "attended")
    shown = [(title, minutes) for title, minutes in columns if title in always or any(minutes)]
    backlog = answer.view is View.BACKLOG
    lines = [
        (r.name, r.week, _percent(r.percent) + _over(r.percent), *([_percent(r.released_percent)] if backlog else []),
         *(span_text(minutes[i]) for _, minutes in shown), _classes(r))
        for i, r in enumerate(rows)
    ]  # fmt: skip
    heads = (kind, answer.by, "%", *(["released %"] if backlog else []), *(head for head, _ in shown), "run by class")
    show_table(title, heads, lines, "ll" + "r" * (len(heads) - 3) + "l")


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


def _classes(r: LoadRow) -> str:
    return ", ".join(f"{name} {span_text(minutes)}" for name, minutes in r.run_min.items())


def _over(percent: float | None) -> str:
    return " over" if percent is not None and percent > FULL else ""


def _percent(value: float | None) -> str:
    return "" if value is None else f"{value:.1f}"
