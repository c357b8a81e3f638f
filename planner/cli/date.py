"""``date``: when can they have it? And ``firm``: a kept enquiry becomes an order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date as Day
from pathlib import Path
from typing import Annotated

import typer

from planner.answers.wording import late_text
from planner.booked import with_history
from planner.cli.arguments import AsJson, PlanFile, Seed, ShopFolder, Who, day_of, one_limit, open_plan
from planner.cli.output import plain_faults, say, say_json, show_table
from planner.cli.planning import stop_on_ctrl_c
from planner.cli.summary import show_lines
from planner.counted import counted
from planner.dates import SECONDS, Dates, Enquiry, Reply, dates
from planner.dates.keeping import Cells, NewPart, keep, like, make_firm, steps_of
from planner.faults import DataFaults, QuestionFault
from planner.intake.reader import Unreadable, cells_of
from planner.main_job import ACCEPTED, Job, read_place
from planner.store import ShopPlace

ADVICE = "Likely and safe dates come from draws of what usually goes otherwise; people decide what is promised."
PLAN_AGAIN = "Plan again to give it its place: batchwright plan SHOP --keep PLAN."


def date(
    shop: ShopFolder,
    part: Annotated[str, typer.Option(help="Part number, or a new one with --like or --steps.")],
    quantity: Annotated[int, typer.Option("--qty", min=1, help="Pieces.")],
    plan_file: PlanFile = ACCEPTED,
    wanted: Annotated[Day | None, typer.Option(parser=day_of, metavar="DATE", help="The date asked for.")] = None,
    earliest: Annotated[
        Day | None, typer.Option("--from", parser=day_of, metavar="DATE", help="Material is here from that day.")
    ] = None,
    sure: Annotated[float, typer.Option(min=0.5, max=0.99, help="How sure the safe date is to be.")] = 0.9,
    as_part: Annotated[
        str | None, typer.Option("--like", metavar="PART", help="A new part, made as this one is.")
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
        str | None, typer.Option("--keep-as", metavar="ORDER", help="Write it into orders.csv under that number.")
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
    if keep_as is None and (hold_until is not None or promise is not None):
        raise typer.BadParameter("--hold-until and --promise go with --keep-as")
    if keep_as is not None and wanted is None and promise is None:
        raise typer.BadParameter("an order needs a date: give --wanted or --promise")
    with plain_faults(as_json), stop_on_ctrl_c() as stop:
        job = open_plan(shop, plan_file)
        job = replace(job, shop=with_history(shop, job.shop))
        new = _new_part(shop, job, part, as_part, steps)
        asked = Enquiry(part, quantity, wanted, earliest, class_, steps_of(shop, new) if new else (), customer=customer)
        found = dates(job, asked, seconds=seconds, trials=trials, seed=seed, sure=sure, stop=stop)
        if keep_as is not None:
            keep(shop, job.shop, asked, keep_as, promise, hold_until, new, who, found)
    if as_json:
        say_json({"good": True, **found.plain(), "kept_as": keep_as})
        return
    show_dates(found)
    if keep_as is not None:
        held = f"provisionally, until {hold_until}" if hold_until else "as a firm order"
        say(f"Written into the orders as {keep_as}, {held}. {PLAN_AGAIN}")


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
        say(f"Order {order} is firm now. {PLAN_AGAIN}")


def _new_part(shop: ShopPlace, job: Job, part: str, as_part: str | None, steps: Path | None) -> NewPart | None:
    if steps is not None:
        return NewPart(part, _rows_in(steps), "as asked")
    if as_part is None:
        return None
    if as_part not in job.shop.routings:
        raise QuestionFault([f"There is no made part '{as_part}' to copy the steps of."])
    return like(shop, as_part, part)


def _rows_in(file: Path) -> Sequence[Cells]:
    try:
        return cells_of(file.read_bytes(), file.name)
    except OSError as fault:
        raise QuestionFault([f"{file.name} cannot be read ({fault.strerror or fault})."]) from fault
    except Unreadable as unread:
        raise DataFaults(unread.faults) from unread


# --- at the terminal -----------------------------------------------------------------------------


def show_dates(found: Dates) -> None:
    """The answers one under the other, then what they rest on."""
    wanted = f", wanted {found.wanted}" if found.wanted else ""
    say(f"{found.pieces:,} of {found.part_number}{wanted}")
    rows = [_line(r) for r in found.replies]
    show_table(
        "When",
        ("way", "pieces", "planned", "likely", "safe", "against wanted", "chance of wanted", "others"),
        rows,
        "lr",
    )
    for note in found.notes:
        say(note)
    best = found.unbroken or found.behind
    if best is not None:
        if best.why is not None:
            say(f"What decides it, {best.way}: {best.why.sentence}")
            show_lines("where the time goes", [cause.text for cause in best.why.causes], most=12)
        kit = [f"{k.part} from {k.source}: {k.date}" + (" (governs)" if k.governs else "") for k in best.kit]
        show_lines("its kit, the latest first", kit, most=8)
    if found.hitting is not None:
        slips = [
            f"{m.order} ({m.customer}): {late_text(m.late_now_min)}, was {late_text(m.late_before_min)}"
            for m in found.hitting.slips
        ]
        show_lines("orders that slip for the wanted date", slips, most=20)
    show_lines("this rests on", list(found.assumptions), most=30)
    say(ADVICE)


def _line(r: Reply) -> tuple[object, ...]:
    others = (
        counted(len(r.slips), "order") + " slip" + ("s" if len(r.slips) == 1 else "")
        if r.slips
        else "no promise broken"
    )
    if not r.moved:
        others = "nothing moves"
    return (
        r.way + (" (none is earlier)" if r.proved_earliest else ""), f"{r.pieces:,}", r.ready, r.likely, f"{r.safe} ({r.sure_percent} %)",
        "" if r.late_min is None else late_text(r.late_min),
        "" if r.chance_wanted is None else f"{100 * r.chance_wanted:.0f} %", others,
    )  # fmt: skip
