"""``batchwright months``: rough load over the months ahead, and how many of a product fit in beside other work."""

from __future__ import annotations

from typing import Annotated

import typer

from planner.answers.caution_words import EXTRA_HOURS, SENT_OUT
from planner.answers.rows import as_row
from planner.answers.wording import pounds, span_text
from planner.capacity.months import LEAST_MONTHS, MONTHS, MOST_MONTHS, UnknownPart, long_view
from planner.capacity.months_told import Extra, LongView, Worth
from planner.cli.arguments import AsJson, ShopFolder
from planner.cli.output import plain_faults, say, say_json, show_table
from planner.cli.summary import ADVICE, show_lines
from planner.main_job import read_place


def months(
    shop: ShopFolder,
    part: Annotated[
        list[str] | None,
        typer.Option(help="The product to fit in; more than once: in their mix. Without: the own products."),
    ] = None,
    count: Annotated[
        int | None,
        typer.Option(
            "--months",
            min=1,
            max=MOST_MONTHS,
            help=f"How many; without: to the last forecast, {LEAST_MONTHS} to {MOST_MONTHS} of them; {MONTHS} without one.",
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Rough load of groups and skills by month from orders and forecast, and how many of a product fit in."""
    with plain_faults(as_json):
        read = read_place(shop)
        try:
            found = long_view(read, part or (), count)
        except UnknownPart as unknown:
            raise typer.BadParameter(str(unknown), param_hint="--part") from unknown
    if as_json:
        say_json(as_row(found))
    else:
        show_months(found)


def show_months(found: LongView) -> None:
    """Percent by month, then what fits in."""
    for kind, title in (("group", "Groups"), ("skill", "Skills")):
        rows: dict[str, list[str]] = {}
        for load in (x for x in found.loads if x.kind == kind):
            text = "shut" if load.percent is None else f"{load.percent:.0f}" + (" over" if load.percent > 100 else "")
            rows.setdefault(load.name, []).append(text)
        show_table(
            f"{title}: per cent of the hours there are, by month",
            (kind, *found.months), [(name, *cells) for name, cells in rows.items()], "l" + "r" * len(found.months),
        )  # fmt: skip
    if found.products:
        _show_made(found)
    show_lines("taken for granted", list(found.assumptions))
    if any(m.overtime for m in found.made):
        say(EXTRA_HOURS)
    if any(m.outside for m in found.made):
        say(SENT_OUT)
    say(ADVICE)


def _show_made(found: LongView) -> None:
    mix = ", ".join(f"{100 * p.share:.0f} % {p.part} {p.description}".rstrip() for p in found.products)
    show_table(
        f"How many fit in beside other work: {mix}",
        ("month", "wanted", "in own hours", "limited by", "with more", "overtime", "sent out", "cost, pounds",
         f"an hour more is worth, {'pounds' if found.worth_in == 'pence' else 'pieces'}"),
        [
            (m.month, m.wanted, f"{m.in_own_hours:.0f}", ", ".join(w.group for w in m.limited_by), f"{m.with_more:.0f}",
             _extras(m.overtime), _extras(m.outside), pounds(m.cost_pence), _worths(m.worth, found.worth_in))
            for m in found.made
        ],
        "lrrlrllr",
    )  # fmt: skip
    for m in found.made:
        if m.short:
            say(f"In {m.month} the other work alone lacks {_extras(m.short)}, overtime and work sent out counted.")
    say(
        f"The same every month, what is made before being kept for later: {found.steady_in_own_hours:.0f} in own hours, "
        f"{found.steady_with_more:.0f} with overtime and work sent out."
    )


def _extras(extras: tuple[Extra, ...]) -> str:
    return ", ".join(f"{e.group} {span_text(e.minutes)}" for e in extras)


def _worths(worths: tuple[Worth, ...], unit: str) -> str:
    if unit == "pence":
        return ", ".join(f"{w.group} {pounds(round(w.an_hour))}" for w in worths)
    return ", ".join(f"{w.group} {w.an_hour:.2f}" for w in worths)
