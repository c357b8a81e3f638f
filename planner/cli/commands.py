"""The commands. Each reads the shop anew, verifies the plan it is given, and shows one answer."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from functools import partial
from pathlib import Path
from typing import Annotated, Any

import typer

from planner import __version__
from planner.answers.cautions import cautions
from planner.answers.kits import kits as kits_of
from planner.answers.lists import machine_csv, machine_lists, person_csv, person_lists
from planner.answers.orders import orders as orders_of
from planner.answers.proposals import proposals as proposals_of
from planner.answers.summary import summary
from planner.answers.vans import vans as vans_of
from planner.cli import show
from planner.cli.arguments import (
    AsJson,
    PlanFile,
    Seconds,
    Seed,
    ShopFolder,
    answer,
    day_of,
    one_limit,
    only_accepted,
    open_plan,
)
from planner.cli.book import book, undo
from planner.cli.date import date as date_command
from planner.cli.date import firm
from planner.cli.decide import decide
from planner.cli.event import event
from planner.cli.limits import limits
from planner.cli.load import load
from planner.cli.months import months
from planner.cli.output import FAULTS_FOUND, plain_faults, say, say_json
from planner.cli.planning import plan_with_progress
from planner.cli.quantities import quantities
from planner.cli.replan import accept, changes, plans, refuse, replan, unaccept
from planner.cli.risk import risk
from planner.cli.rows import change, history, rows
from planner.cli.serving import HOST, PORT, serve_faults, serve_job, serve_store, tell_followed
from planner.cli.sooner import sooner
from planner.cli.store import store, unload
from planner.cli.summary import show_lines, show_summary, there_is
from planner.cli.today import today
from planner.cli.whatif import EPILOG, SETTINGS, whatif
from planner.cli.why import why
from planner.counted import counted
from planner.explode.left_alone import UnknownBatch
from planner.faults import DataFaults
from planner.main_job import ACCEPTED, Job, load_plan, read_work, save
from planner.store import ShopPlace, is_store

app = typer.Typer(
    help="Plans a machine shop's batches to the minute, checks the plan with other code, and answers from it.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


@app.callback(invoke_without_command=True)
def top(version: Annotated[bool, typer.Option("--version", help="Show the version and end.")] = False) -> None:
    """Plans a machine shop's batches to the minute, checks the plan with other code, and answers from it."""
    if version:
        say(f"batchwright {__version__}")
        raise typer.Exit


@app.command()
def check(shop: ShopFolder, as_json: AsJson = False) -> None:
    """Read the tables and list every fault, or what there is to plan."""
    with plain_faults(as_json):
        _, work = read_work(shop)
    counts = {
        "machines": len(work.machines), "people": len(work.people), "orders": len(work.orders),
        "batches": len(work.batches), "operations": len(work.operations),
    }  # fmt: skip
    if as_json:
        lines = {"assumptions": list(work.assumptions), "left_out": list(work.left_out)}
        say_json({"good": True, "shop": work.shop, **counts, **lines, "faults": []})
        return
    say(f"{work.shop}: no faults. " + ", ".join(there_is(work)) + ".")
    show_lines("assumptions", list(work.assumptions), most=sys.maxsize)
    show_lines("left out", list(work.left_out), most=sys.maxsize)


@app.command()
def plan(
    shop: ShopFolder,
    seconds: Seconds = None,
    trials: Annotated[int | None, typer.Option(min=1, help="Search for so many trials instead.")] = None,
    seed: Seed = 1,
    keep: Annotated[
        Path | None, typer.Option(metavar="PLAN", exists=True, dir_okay=False, help="Stay close to this plan.")
    ] = None,
    batch_proposals: Annotated[
        bool, typer.Option("--proposals/--no-proposals", help="Split and combine batches where their part allows it.")
    ] = True,
    left_alone: Annotated[
        list[str] | None,
        typer.Option(
            "--leave-alone",
            metavar="BATCH",
            help="Neither split this batch nor run it as one with others, as 'proposals' names it; again for each one more.",
        ),
    ] = None,
    out: Annotated[Path, typer.Option(metavar="FILE", dir_okay=False, help="Write the plan there.")] = Path(
        "plan.json"
    ),
    as_json: AsJson = False,
) -> None:
    """Make a plan, verify it and write it; Ctrl-C stops and keeps the best so far."""
    one_limit(seconds, trials)
    if not out.absolute().parent.is_dir():
        raise typer.BadParameter(f"there is no folder {out.absolute().parent}", param_hint="--out")
    with plain_faults(as_json), _known_batches():
        job, watch = plan_with_progress(
            shop, seconds=seconds, trials=trials, seed=seed, keep=keep, proposals=batch_proposals,
            left_alone=left_alone or (), quiet=as_json,
        )  # fmt: skip
        if job.plan.complete:
            save(job, out)
    _tell(job, summary(job.work, job.plan, watch.first_seconds), as_json, str(out), is_store(shop))


@contextmanager
def _known_batches() -> Iterator[None]:
    """A wrong use where what is to be left alone is no batch."""
    try:
        yield
    except UnknownBatch as unknown:
        raise typer.BadParameter(str(unknown), param_hint="--leave-alone") from unknown


def _tell(job: Job, data: dict[str, Any], as_json: bool, out: str, in_store: bool) -> None:
    """Say how the search ended; exit code 1 when there is no plan to write."""
    if as_json:
        say_json({"good": job.plan.complete, **data, "written": out if job.plan.complete else None})
    else:
        show_summary(data, in_store)
        say(
            f"Verified and written to {out}."
            if job.plan.complete
            else f"No plan ({job.plan.state}): nothing was written."
        )
    if not job.plan.complete:
        raise typer.Exit(FAULTS_FOUND)


@app.command()
def verify(shop: ShopFolder, plan_file: PlanFile = ACCEPTED, as_json: AsJson = False) -> None:
    """Check a plan against every timing rule and cost term."""
    with plain_faults(as_json):
        job = open_plan(shop, plan_file)
    data = summary(job.work, job.plan)
    if as_json:
        say_json({"good": True, **data, "breaches": []})
    else:
        say(
            f"Every rule holds: {counted(data['operations_planned'], 'operation')}, {counted(data['orders'], 'order')}, cost terms right."
        )


app.command()(load)
app.command()(limits)
app.command()(months)
app.command()(quantities)


@app.command()
def orders(shop: ShopFolder, plan_file: PlanFile = ACCEPTED, as_json: AsJson = False) -> None:
    """Each order: due, expected, early or late, where it is now or what it waits for, why it is late."""
    answer(shop, plan_file, as_json, lambda job: orders_of(job.work, job.plan), show.show_orders)


@app.command()
def lists(
    shop: ShopFolder,
    plan_file: PlanFile = ACCEPTED,
    machine: Annotated[str | None, typer.Option(help="Only this machine.")] = None,
    person: Annotated[str | None, typer.Option(help="This person's list.")] = None,
    people: Annotated[bool, typer.Option("--people", help="Everybody's lists in place of the machines'.")] = False,
    day: Annotated[
        date | None, typer.Option(parser=day_of, metavar="DATE", help="Only this local day, 2027-07-06.")
    ] = None,
    csv: Annotated[bool, typer.Option("--csv", help="CSV in place of tables.")] = False,
    as_json: AsJson = False,
) -> None:
    """Each machine's (or person's) list in running order, with setup, quantity, equipment and next step."""
    only_accepted(shop, plan_file)
    if machine is not None and (person is not None or people):
        raise typer.BadParameter("give --machine, or --person or --people, not both")
    if csv and as_json:
        raise typer.BadParameter("give --csv or --json, not both")
    by_person = people or person is not None

    def find(job: Job) -> list[Any]:
        try:
            if by_person:
                return list(person_lists(job.work, job.plan, person, day))
            return list(machine_lists(job.work, job.plan, machine, day))
        except KeyError as unknown:
            raise typer.BadParameter(f"the shop has no {'person' if by_person else 'machine'} {unknown}") from unknown

    def view(found: list[Any]) -> None:
        if csv:
            sys.stdout.write((person_csv if by_person else machine_csv)(found).replace("\r\n", "\n"))
        else:
            (show.show_person_lists if by_person else show.show_machine_lists)(found)

    job = answer(shop, plan_file, as_json, find, view)
    if not csv and not as_json:
        show_lines("cautions", cautions(job.work, job.plan))


@app.command()
def kits(shop: ShopFolder, plan_file: PlanFile = ACCEPTED, as_json: AsJson = False) -> None:
    """Each batch that needs components: dates, shortages, the one it waits for."""
    only_accepted(shop, plan_file)
    answer(shop, plan_file, as_json, lambda job: kits_of(job.work, job.plan), show.show_kits)


@app.command()
def vans(shop: ShopFolder, plan_file: PlanFile = ACCEPTED, as_json: AsJson = False) -> None:
    """What goes on and comes back with which collection, and the charges."""
    only_accepted(shop, plan_file)
    answer(shop, plan_file, as_json, lambda job: vans_of(job.work, job.plan), show.show_vans)


@app.command()
def proposals(shop: ShopFolder, plan_file: PlanFile = ACCEPTED, as_json: AsJson = False) -> None:
    """Batches that the plan splits or runs as one, what each saved, what to mind, and how to switch one off."""
    view = partial(show.show_proposals, in_store=is_store(shop))
    answer(shop, plan_file, as_json, lambda job: proposals_of(job.work, job.plan), view)


app.command(context_settings=SETTINGS, epilog=EPILOG)(whatif)
app.command(context_settings=SETTINGS)(sooner)
app.command()(why)


@app.command()
def serve(
    shop: ShopFolder,
    plan_file: Annotated[
        Path | None, typer.Option("--plan", metavar="PLAN", exists=True, dir_okay=False, help="Show this plan.")
    ] = None,
    seconds: Annotated[float, typer.Option(min=0.1, help="A folder without --plan: plan for so long first.")] = 10.0,
    port: Annotated[int, typer.Option(min=0, max=65535, help="0 takes any free port.")] = PORT,
    host: Annotated[str, typer.Option(help="Other machines can look only when this is changed.")] = HOST,
    as_json: Annotated[bool, typer.Option("--json", help="The summary as JSON before serving.")] = False,
) -> None:
    """Serve the pages on this machine, for a plan file, a store's accepted plan, or a plan made now."""
    only_accepted(shop, plan_file)
    if is_store(shop):
        with plain_faults(as_json):
            tell_followed(shop, as_json)
            serve_store(shop, host, port)
        return
    with plain_faults(as_json):
        try:
            job, data = _job_to_serve(shop, plan_file, seconds, as_json)
        except DataFaults as found:
            many = len(found.faults)
            lists = "the page lists it" if many == 1 else "the page lists them"
            say(f"{counted(many, 'fault')} in the tables: {lists}.", stderr=True)
            serve_faults(found, host, port)
            raise typer.Exit(FAULTS_FOUND) from found
    if as_json:
        say_json({"good": job.plan.complete, **data})
    else:
        show_summary(data)
    serve_job(job, shop, host, port)


def _job_to_serve(shop: ShopPlace, plan_file: Path | None, seconds: float, quiet: bool) -> tuple[Job, dict[str, Any]]:
    if plan_file is not None:
        job = load_plan(shop, plan_file)
        return job, summary(job.work, job.plan)
    job, watch = plan_with_progress(shop, seconds=seconds, trials=None, seed=1, quiet=quiet)
    return job, summary(job.work, job.plan, watch.first_seconds)


for command in (
    store,
    unload,
    rows,
    change,
    history,
    book,
    undo,
    replan,
    changes,
    accept,
    refuse,
    unaccept,
    plans,
    event,
    decide,
    today,
):
    app.command()(command)
app.command()(firm)
app.command()(risk)
app.command("date")(date_command)
