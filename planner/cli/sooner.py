"""``sooner``: ways to have an order by a wanted day."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from datetime import date, datetime
from typing import Annotated

import typer

from planner.alter.base import Alteration, phrases
from planner.alter.named import row_of
from planner.alter.records import Side
from planner.answers.feeds import ready_times
from planner.answers.rows import as_row
from planner.answers.wording import capital, elapsed_text, late_text, moment_text, pounds, span_text
from planner.cli.arguments import AsJson, PlanFile, Seed, ShopFolder, one_limit, open_plan
from planner.cli.output import plain_faults, say, say_json, show_table
from planner.cli.summary import ADVICE, show_lines
from planner.cli.whatif import changes_said, planning_again
from planner.counted import counted
from planner.explode.clock import clock_of
from planner.intake.convert import Unfit, due
from planner.levers import Lever, Ways, weighing
from planner.levers import sooner as find_ways
from planner.levers.lever import Hurt, gaining_nothing, hurt_by_changes, noise_text
from planner.levers.sooner import SECONDS, with_changes
from planner.main_job import Job

CHANGES_SHARE = 0.25  # of the seconds: for planning the changes that are said


def _when(text: str) -> date | datetime:
    try:
        return due(text)
    except Unfit as fault:
        raise typer.BadParameter(f"'{text}': expected {fault.expected}. {fault.mend}") from fault


def sooner(
    context: typer.Context,
    shop: ShopFolder,
    plan_file: PlanFile,
    order: Annotated[str, typer.Argument(metavar="ORDER", help="Number of the order.")],
    by: Annotated[
        date,
        typer.Option(
            "--by",
            parser=_when,
            metavar="DATE",
            help="When it is wanted: 2027-07-20 (by the dispatch cut-off), or '2027-07-20 12:00'.",
        ),
    ],
    seconds: Annotated[
        float | None, typer.Option("--seconds", min=0.1, help=f"For all together [{SECONDS:.0f} unless told].")
    ] = None,
    trials: Annotated[
        int | None, typer.Option("--trials", min=1, help="Of each search instead: a repeatable answer.")
    ] = None,
    seed: Seed = 1,
    as_json: AsJson = False,
) -> None:
    """Ways to have an order by a wanted day, each really planned: what it takes, what it gives, whom it hurts.

    For an enquiry add it first, as in whatif: --order "E-1 for 50 of C-401 by 2027-08-01 class standard".
    """
    one_limit(seconds, trials)
    if trials is None:
        seconds = seconds or SECONDS
    with plain_faults(as_json):
        changes = changes_said(context.args, ())
        job = open_plan(shop, plan_file)
        by_min = clock_of(job.shop).due(by)
        as_it_is, hurt = job, tuple[Hurt, ...]()
        with planning_again(as_json) as (progress, stop):
            if changes:
                progress("planning the changes first", 0.0)
                first = None if seconds is None else CHANGES_SHARE * seconds
                job = with_changes(job, changes, order, by_min, seconds=first, trials=trials, seed=seed, stop=stop)
                hurt = hurt_by_changes(Side(as_it_is.work, as_it_is.plan), Side(job.work, job.plan), order)
                if seconds is not None:
                    seconds *= 1 - CHANGES_SHARE
            ways = find_ways(
                job, order, by_min, seconds=seconds, trials=trials, seed=seed, progress=progress, stop=stop
            )
    if as_json:
        ready = ready_times(job.work, job.plan)[order]
        say_json({
            "good": True, "order": order, "wanted": moment_text(job.work, by_min), "wanted_min": by_min, "planned_min": ready,
            "planned": moment_text(job.work, ready), "weighing": weighing(job.shop.settings),
            "changes": [row_of(c) for c in changes], "changes_hurt": [as_row(h) for h in hurt], "already": ways.already, "noise_min": ways.noise_min, "short": ways.short,
            "ways": [w.row for w in ways.levers],
        })  # fmt: skip
        return
    show_ways(job, order, by_min, ways, changes, hurt)


def show_ways(
    job: Job, number: str, by_min: int, ways: Ways, changes: Sequence[Alteration], hurt: Sequence[Hurt] = ()
) -> None:
    """What is wanted and planned, then the ways; ``changes`` were planned before them, and ``hurt`` others."""
    order = next(o for o in job.work.orders if o.number == number)
    ready = ready_times(job.work, job.plan)[number]
    say(
        f"Order {number}, {order.customer}: {counted(order.pieces, 'piece')} of {order.part}, due {moment_text(job.work, order.due_min)}."
    )
    say(
        f"Planned ready {moment_text(job.work, ready)} ({late_text(ready - order.due_min)}); wanted by {moment_text(job.work, by_min)}."
    )
    show_lines(
        "planned with what was said, before any of the ways, these get later", [h.text for h in hurt], most=sys.maxsize
    )
    if ways.already:
        say("It is planned in time already: nothing has to be done for it, and nothing was planned.")
        return
    levers = ways.levers
    gaining = [w for w in levers if not w.nothing]
    show_table(
        "Ways to have it sooner",
        ("", "what", "ready", "sooner than planned", "extra hours", "charges, pounds", "weighs, pounds", "hurts"),
        [_line(w) for w in gaining],
        "lllrrrrl",
    )
    if not any(w.reaches for w in levers):
        say("No way that was tried reaches the wanted time.")
    say(noise_text(ways.noise_min, ways.short))
    for reason, idle in gaining_nothing(levers).items():
        show_lines(capital(reason), [" ".join(w.texts) for w in idle], most=sys.maxsize)
    show_lines(
        "to ask it as what if",
        [phrases([*changes, *w.alterations]) for w in gaining if w.alterations],
        most=sys.maxsize,
    )
    show_lines("cautions", list(dict.fromkeys(c for w in gaining for c in w.cautions)), most=sys.maxsize)
    say(weighing(job.shop.settings))
    say(ADVICE)


def _line(w: Lever) -> tuple[object, ...]:
    hurts = "; ".join(h.text for h in w.hurt) or (
        "nobody" + (f" ({w.moved} others move, none past its promise)" if w.moved else "")
    )
    gained = elapsed_text(w.gained_min) if w.gained_min >= 0 else f"{elapsed_text(-w.gained_min)} later"
    return (
        "in time" if w.reaches else "", " ".join(w.texts), w.ready, gained, span_text(w.hours_min) if w.hours_min else "",
        pounds(w.pence) if w.pence else "", pounds(w.cost_pence) if w.cost_pence else "", hurts,
    )  # fmt: skip
