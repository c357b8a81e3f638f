"""``date``: when can they have it? And ``firm``: a kept enquiry becomes an order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date as Day
from enum import StrEnum
from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from planner.answers.risk import SURE_PERCENT
from planner.booked import with_past
from planner.cli.arguments import AsJson, PlanFile, Seed, ShopFolder, Who, day_of, one_limit, open_plan, percent_of
from planner.cli.dates_view import show_dates, tell_answer
from planner.cli.output import plain_faults, say, say_json
from planner.cli.planning import stop_on_ctrl_c
from planner.dates import SECONDS, Dates, Enquiry, Reply, dates
from planner.dates.enquiry import NUMBER
from planner.dates.keeping import NewPart, answer_job, keep, like, make_firm, steps_of, write_answer
from planner.faults import DataFaults, QuestionFault
from planner.intake.adding import Named
from planner.intake.reader import TextRow, Unreadable, rows_of_file, trimmed
from planner.intake.tables import table_named
from planner.main_job import ACCEPTED, Job, read_place, stored_job
from planner.store import ShopPlace, Store, StoredPlan, is_store


class Answer(StrEnum):
    """Which of the answers."""

    BEHIND = "behind"
    UNBROKEN = "unbroken"
    HITTING = "hitting"
    PART = "part"


def date(
    shop: ShopFolder,
    part: Annotated[
        str, typer.Option(parser=trimmed, metavar="PART", help="Part number, or a new one with --like or --steps.")
    ],
    quantity: Annotated[int, typer.Option("--qty", min=1, help="Pieces.")],
    plan_file: PlanFile = ACCEPTED,
    wanted: Annotated[Day | None, typer.Option(parser=day_of, metavar="DATE", help="The date asked for.")] = None,
    earliest: Annotated[
        Day | None, typer.Option("--from", parser=day_of, metavar="DATE", help="Material is here from that day.")
    ] = None,
    sure: Annotated[
        int,
        typer.Option(parser=percent_of, metavar="PERCENT", help="How sure the safe date is to be: 90 or 0.9."),
    ] = SURE_PERCENT,
    as_part: Annotated[
        str | None, typer.Option("--like", parser=trimmed, metavar="PART", help="A new part, made as this one is.")
    ] = None,
    steps: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            exists=True,
            dir_okay=False,
            help="A new part, with these steps: CSV, columns as in routings.csv.",
        ),
    ] = None,
    class_: Annotated[str, typer.Option("--class", help="Class, for where others have to yield.")] = "",
    customer: Annotated[str, typer.Option(help="Who asks.")] = "",
    keep_as: Annotated[
        str | None,
        typer.Option(
            "--keep-as",
            parser=trimmed,
            metavar="ORDER",
            help="Write it into the orders under that number; --wanted or --promise must say for when.",
        ),
    ] = None,
    taken: Annotated[
        Answer, typer.Option("--answer", help="With --keep-as: the answer that was told, whose plan is kept with it.")
    ] = Answer.BEHIND,
    out: Annotated[
        Path | None,
        typer.Option(
            dir_okay=False,
            metavar="FILE",
            help="With --keep-as: the plan of that answer, with the order in it (in a store it waits to be accepted).",
        ),
    ] = None,
    hold_until: Annotated[
        Day | None,
        typer.Option(
            parser=day_of, metavar="DATE", help="With --keep-as: provisional, it holds its place up to that day."
        ),
    ] = None,
    promise: Annotated[
        Day | None,
        typer.Option(
            parser=day_of,
            metavar="DATE",
            help="With --keep-as: the day given to the customer; a store keeps how sure it was.",
        ),
    ] = None,
    seconds: Annotated[
        float | None, typer.Option(min=0.5, help=f"For all answers together [{SECONDS:.0f} unless told].")
    ] = None,
    trials: Annotated[int | None, typer.Option(min=1, help="So many trials for each answer instead.")] = None,
    seed: Seed = 1,
    who: Who = "",
    as_json: AsJson = False,
) -> None:
    """When can they have it? Behind everything, without breaking a promise, by the wanted date, and in part."""
    one_limit(seconds, trials)
    if as_part is not None and steps is not None:
        raise typer.BadParameter("give --like or --steps, not both")
    if keep_as is None and (hold_until, promise, out, taken) != (None, None, None, Answer.BEHIND):
        raise typer.BadParameter("--hold-until, --promise, --answer and --out go with --keep-as")
    if keep_as is not None and wanted is None and promise is None:
        raise typer.BadParameter("an order needs a date: give --wanted or --promise")
    with plain_faults(as_json), stop_on_ctrl_c() as stop:
        job = open_plan(shop, plan_file)
        new = _new_part(shop, job, part, as_part, steps)
        asked = Enquiry(
            part, quantity, wanted, earliest, class_, steps_of(shop, new) if new else (), keep_as or NUMBER, customer
        )
        tell, learn = None if as_json else tell_answer, partial(with_past, shop)
        found = dates(
            job, asked, seconds=seconds, trials=trials, seed=seed, sure=sure / 100, learn=learn, tell=tell, stop=stop
        )
        kept, with_it, where = None, None, ""
        if keep_as is not None:
            told = _answer_told(found, taken)
            asked = replace(asked, pieces=told.pieces)
            kept = keep(shop, job.shop, asked, keep_as, promise, hold_until, new, who, told)
            with_it = answer_job(job, asked, kept, told.plan) if told.plan is not None else None
            where = write_answer(shop, with_it, kept, out, who) if with_it is not None else ""
    if as_json:
        say_json({"good": True, **found.plain(), "kept_as": keep_as, "where": where or None})
        return
    show_dates(found)
    if kept is not None:
        held = f"provisionally, until {hold_until}" if hold_until else "as a firm order"
        say(f"Written into the orders as {keep_as}, {held}. {_next_step(shop, where, out, with_it is not None)}")


def _answer_told(found: Dates, taken: Answer) -> Reply:
    """The answer that is to be kept; where none was given by that name, which there are."""
    told: Reply | None = getattr(found, taken.value)
    if told is None:
        there = [name.value for name in Answer if getattr(found, name.value) is not None]
        raise QuestionFault(
            [
                f"There is no answer '{taken.value}' to keep: nothing was written. There are: {', '.join(there) or 'none'}."
            ]
        )
    return told


def _again(shop: ShopPlace) -> str:
    """How to plan again with what was written."""
    how = "from now on: batchwright replan DB" if is_store(shop) else "again: batchwright plan SHOP --keep PLAN"
    return f"To give it its place, plan {how}."


def _next_step(shop: ShopPlace, where: str, out: Path | None, made: bool) -> str:
    if where:
        return f"{where}: every date is as it was told here." + ("" if out else f" batchwright accept {shop}")
    if made:
        return f"--out FILE would have written the plan of that answer. {_again(shop)}"
    return f"The tables are not those of this plan any more, or its times cannot be kept. {_again(shop)}"


def firm(
    shop: ShopFolder,
    order: Annotated[str, typer.Argument(metavar="ORDER", help="The number of a provisional order.")],
    promise: Annotated[
        Day | None, typer.Option(parser=day_of, metavar="DATE", help="The day given to the customer.")
    ] = None,
    who: Who = "",
    as_json: AsJson = False,
) -> None:
    """Make a provisional order a firm one."""
    with plain_faults(as_json):
        found = read_place(shop)
        make_firm(shop, found, order, promise, who)
    if as_json:
        say_json({"good": True, "order": order})
    else:
        say(f"Order {order} is firm now. {_its_place(shop, order)}")


def _its_place(shop: ShopPlace, order: str) -> str:
    """Which plan of a store has the order in its place already, or how to give it one."""
    if is_store(shop):
        with Store(shop) as store:
            accepted, waiting = store.accepted(), store.waiting()
            if accepted is not None and _is_in(store, accepted, order):
                return f"It keeps its place in plan {accepted.id}, the accepted one."
            if waiting is not None and _is_in(store, waiting, order):
                return f"Plan {waiting.id}, which waits to be accepted, has it in its place: batchwright accept {shop}"
    return _again(shop)


def _is_in(store: Store, plan: StoredPlan, order: str) -> bool:
    return any(planned.number == order for planned in stored_job(store, plan).work.orders)


def _new_part(shop: ShopPlace, job: Job, part: str, as_part: str | None, steps: Path | None) -> NewPart | None:
    if steps is not None:
        rows = _rows_in(steps)
        called = Named(steps.name, [row.number for row in rows])
        return NewPart(part, [row.cells for row in rows], "as asked", steps_from=called)
    if as_part is None:
        return None
    if as_part not in job.shop.routings:
        raise QuestionFault([f"There is no made part '{as_part}' to copy the steps of."])
    return like(shop, as_part, part)


def _rows_in(file: Path) -> Sequence[TextRow]:
    routings = table_named("routings")
    steps = replace(routings, columns=tuple(column for column in routings.columns if column.name != "part"))
    try:
        return rows_of_file(file.read_bytes(), file.name, steps)
    except OSError as fault:
        raise QuestionFault([f"{file.name} cannot be read ({fault.strerror or fault})."]) from fault
    except Unreadable as unread:
        raise DataFaults(unread.faults) from unread
