"""``batchwright limits``: what limits the shop, by load, by busy stretches, and by what more of it would save."""

from __future__ import annotations

from itertools import groupby
from typing import Annotated

import typer
from rich.progress import BarColumn, Progress, TextColumn

from planner.answers.rows import as_row
from planner.answers.wording import capital, elapsed_text, span_text
from planner.capacity.limits import MOST, Limits, with_savings, worst_of
from planner.capacity.limits import limits as limits_of
from planner.capacity.waiting import PRESENT_WEEKS
from planner.capacity.worth import Saving, Savings
from planner.cli.arguments import AsJson, PlanFile, ShopFolder, one_limit, open_plan
from planner.cli.output import console, plain_faults, say, say_json, show_table
from planner.cli.planning import stop_on_ctrl_c
from planner.cli.summary import ADVICE
from planner.counted import counted
from planner.main_job import ACCEPTED, Job

SECONDS = 60.0
SHOWN = 4  # resources a week
NAMED = 6  # orders


def limits(
    shop: ShopFolder,
    plan_file: PlanFile = ACCEPTED,
    seconds: Annotated[
        float | None, typer.Option(min=0.1, help=f"For all planning again together [{SECONDS:.0f} unless told].")
    ] = None,
    trials: Annotated[int | None, typer.Option(min=1, help="So many trials in all instead: repeatable.")] = None,
    most: Annotated[
        int, typer.Option(min=0, help="Plan again with more of so many; 0: read off the plan only.")
    ] = MOST,
    as_json: AsJson = False,
) -> None:
    """What limits the shop, week by week; what a tenth more of it would save; who pays; waits by load."""
    one_limit(seconds, trials)
    with plain_faults(as_json):
        job = open_plan(shop, plan_file)
    found = limits_of(job.work, job.plan)
    if most:
        found = _planned_again(
            job, found, SECONDS if seconds is None and trials is None else seconds, trials, most, as_json
        )
    if as_json:
        say_json(as_row(found))
    else:
        show_limits(found)


def _planned_again(
    job: Job, found: Limits, seconds: float | None, trials: int | None, most: int, quiet: bool
) -> Limits:
    columns = (TextColumn("planning again"), BarColumn(), TextColumn("{task.fields[words]}", markup=False))
    with Progress(*columns, console=console(stderr=True), disable=quiet) as bar, stop_on_ctrl_c() as stop:
        task = bar.add_task("plans", total=1.0, words="getting ready")

        def tell(words: str, share: float) -> None:
            bar.update(task, completed=share, words=words)

        return with_savings(
            found, job.work, job.plan, most=most, seconds=seconds, trials=trials, tell=tell, stop=stop
        )  # fmt: skip


def show_limits(found: Limits) -> None:
    """Weeks, savings, what comes next, who pays, waits by load."""
    lines = [
        (r.week, f"{r.kind} {r.name}", "" if r.percent is None else f"{r.percent:.1f}",
         span_text(r.busy_min) if r.busy_min else "", r.busy_from if r.busy_min else "", r.busy_to if r.busy_min else "",
         span_text(r.waiting_min) if r.waiting_min else "")
        for _, rows in groupby(found.weeks, key=lambda r: r.week)
        for r in worst_of(list(rows), SHOWN)
    ]  # fmt: skip
    show_table(
        f"What limits, week by week: the {SHOWN} fullest, and what is busy longest",
        ("week", "", "load %", "busy without a break", "from", "to", "work waiting"),
        lines, "llrrllr",
    )  # fmt: skip
    if found.savings is not None:
        _show_savings(found, found.savings)
    elif not found.late:
        say("No order is late: more of anything would save no lateness.")
    _show_next(found)
    for paid in found.paid:
        who = ", ".join(
            f"{p.order} ({elapsed_text(p.late_min)} late, waits {elapsed_text(p.waited_min)})" for p in paid.orders[:NAMED]
        )  # fmt: skip
        more = f" and {len(paid.orders) - NAMED} more" if len(paid.orders) > NAMED else ""
        say(f"Late orders that wait for {paid.kind} {paid.name}: {who}{more}.")
    _show_waiting(found)
    say(ADVICE)


def _saved(saving: Saving, savings: Savings) -> str:
    unsure = "too short to tell" if savings.short else "within noise"
    return f"{saving.saved:,}" if saving.sure else unsure


def _show_savings(found: Limits, savings: Savings) -> None:
    """What more of each would save, and the noise."""
    each = (
        f"{savings.seconds_each:.1f} s"
        if savings.seconds_each is not None
        else counted(savings.trials_each or 0, "trial")
    )
    show_table(
        f"What a tenth more saves over the whole plan, planned again; as it is now: {found.late:,} weighted minutes late",
        ("", "changed", "weighted minutes late then", "weighted minutes late saved", "orders that gain"),
        [
            (f"{s.kind} {s.name}", s.more, f"{s.late:,}", _saved(s, savings),
             ", ".join(f"{o.order} {elapsed_text(o.minutes)}" for o in s.orders[:NAMED] if o.minutes > 0) if s.sure else "")
            for s in savings.found
        ],
        "llrrl",
    )  # fmt: skip
    claimed = (
        f"{capital(savings.short)}. No saving is claimed."
        if savings.short
        else f"Differences up to {savings.noise:,}, the most by which the search itself came out worse, are not claimed."
    )
    say(
        f"The shop as it is, planned twice with the same effort ({each} each): {savings.base:,} and {savings.base_again:,} "
        f"weighted minutes late (minutes times the weight of the order's class). {claimed}"
    )
    for name in savings.left_out:
        say(f"Not looked at, stopped before: {name}.")


def _show_next(found: Limits) -> None:
    if found.next is not None:
        n = found.next
        saving = f"by saving {n.by_saving}" if n.by_saving else "by saving none beyond the noise"
        say(
            f"With a tenth more of {n.eased} the next limit is: by load {n.by_load} ({n.percent} %), by the longest busy "
            f"stretch {n.by_stretch} ({span_text(n.busy_min)}), {saving}."
        )


def _show_waiting(found: Limits) -> None:
    if not found.waiting:
        return
    more = [a.more_percent for a in found.waiting[0].at]
    show_table(
        f"Waiting before each group at the load of the plan's first {PRESENT_WEEKS} weeks: an estimate for the long run beside the plan "
        "(open hours; queueing formulas)",
        ("group", "machines", "a batch takes", "planned wait", f"load %, first {PRESENT_WEEKS} weeks", "chance to wait", "batches waiting",
         *("wait now" if not m else f"wait at {m} % more" for m in more)),
        [
            (w.group, w.machines, span_text(round(w.job_min)), span_text(round(w.planned_wait_min)), w.at[0].load_percent,
             f"{100 * w.at[0].wait_chance:.0f} %", "no end" if w.at[0].queue is None else f"{w.at[0].queue:.1f}", *("no end" if a.wait_min is None else span_text(a.wait_min) for a in w.at))
            for w in found.waiting
        ],
        "lrrrrrrrrrr",
    )  # fmt: skip
