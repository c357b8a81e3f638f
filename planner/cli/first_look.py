"""A first look at the sample shop: check, plan, verify, sum up, serve. What ``scripts/start.py`` runs."""

from __future__ import annotations

from pathlib import Path

from planner.answers.summary import summary
from planner.cli.output import plain_faults, say
from planner.cli.planning import plan_with_progress
from planner.cli.serving import HOST, serve_job
from planner.cli.summary import show_lines, show_summary, there_is
from planner.main_job import read_work


def first_look(folder: Path, seconds: float, port: int, serve: bool) -> None:
    """Plan a shop folder and show it.

    Parameters
    ----------
    folder
        A shop's tables.
    seconds
        How long to search.
    port
        Where to serve the pages on this machine; 0 takes any free port.
    serve
        False ends after the summary.

    Raises
    ------
    typer.Exit
        With code 1 when the tables have faults or the plan breaks a rule; all are listed first.
    """
    say(f"Checking {folder.name} ...")
    with plain_faults(False):
        _, work = read_work(folder)
        say(f"No faults: {', '.join(there_is(work))}.")
        job, watch = plan_with_progress(folder, seconds=seconds, trials=None, seed=1)
    say("Verified: every timing rule and cost term was worked out again and agrees.")
    data = summary(job.work, job.plan, watch.first_seconds)
    show_summary(data)
    late = [f"{row['order']}: {row['reason']}" for row in data["late_orders"]]
    show_lines("late orders", late, most=len(late))
    if serve:
        serve_job(job, folder, HOST, port)
