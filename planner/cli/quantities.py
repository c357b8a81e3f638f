"""``batchwright quantities``: what quantity to make a part in, and why."""

from __future__ import annotations

from typing import Annotated

import typer

from planner.answers.rows import as_row
from planner.answers.wording import pounds
from planner.capacity.months import UnknownPart
from planner.capacity.quantities import CONFIDENCES
from planner.capacity.quantities import quantities as quantities_of
from planner.capacity.quantities_told import Quantities, Quantity
from planner.cli.arguments import AsJson, ShopFolder
from planner.cli.output import plain_faults, say, say_json, show_table
from planner.cli.summary import ADVICE, show_lines
from planner.main_job import read_place


def quantities(
    shop: ShopFolder,
    part: Annotated[
        list[str] | None, typer.Option(help="A part that is made; without: all of the own products.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Batch quantities: setup share, economic batch, hours of the limiting group, minimum charges, bars, scrap."""
    with plain_faults(as_json):
        read = read_place(shop)
    try:
        found = quantities_of(read, part or ())
    except UnknownPart as unknown:
        raise typer.BadParameter(str(unknown), param_hint="--part") from unknown
    if as_json:
        say_json(as_row(found))
    else:
        show_quantities(found)


def show_quantities(found: Quantities) -> None:
    """A line for each part, then start quantities, then what was taken for granted."""
    show_table(
        "Batch quantities (start quantities, without setting pieces; money in pounds a year)",
        ("part", "what", "a year", "now", "setup share now", "a setup costs", "economic", "by hours", "charge covered from",
         "suggested", "nearly as good", "setup share then", "saved a year", "bars", "because"),
        [_line(q) for q in found.parts],
        "llrrrrrrrrrrrl",
    )  # fmt: skip
    show_table(
        "Pieces to start so that the good ones of the suggested quantity come out",
        ("part", "by yield alone", *(f"{confidence} % sure" for confidence in CONFIDENCES)),
        [(q.part, *(f"{s.pieces} ({100 * s.chance:.0f} %)" for s in q.starts)) for q in found.parts],
        "lrrrrr",
    )
    percent = "" if found.limiting_percent is None else f" ({found.limiting_percent:.0f} % over the months looked at)"
    worth = (
        "its hours hold all these setups"
        if not found.hour_pence
        else f"an hour of setting there is worth {pounds(found.hour_pence)} pounds more"
    )
    if found.hour_pence is None:
        worth = "it has no hours left for these setups"
    say(
        f"The limiting group is {found.limiting}{percent}: {found.hours_for_setups:,.0f} hours a year are left for these setups; {worth}."
    )
    show_lines("taken for granted", list(found.assumptions))
    say(ADVICE)


def _line(q: Quantity) -> tuple[object, ...]:
    covered = ", ".join(f"{c.pieces} ({c.process})" for c in q.charges if c.pieces)
    bars = "" if q.bars is None else f"{q.bars.bars} (full at {q.bars.full})"
    return (
        q.part, q.description, q.demand_a_year, q.present, f"{q.setup_share_percent} %", pounds(q.setup_pence), q.economic,
        "no hours" if q.by_hours is None else q.by_hours, covered, q.suggested, f"{q.near_from} to {q.near_to}",
        f"{q.suggested_share_percent} %", pounds(q.saved_pence), bars, q.because,
    )  # fmt: skip
