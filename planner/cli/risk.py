"""The command that says how sure a plan is."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import replace
from typing import Annotated

import typer

from planner.answers.risk import DRAW, SURE_PERCENT, KitRisk, OrderRisk, Risk
from planner.answers.risk import risk as risk_of
from planner.answers.rows import as_row
from planner.booked import DateGiven, dates_given, record_of, with_history
from planner.cli.arguments import AsJson, PlanFile, Seed, ShopFolder, open_plan, percent_of
from planner.cli.output import plain_faults, say, say_json, show_table
from planner.cli.summary import show_lines
from planner.counted import counted
from planner.main_job import ACCEPTED

MOST_DRAWS = 20_000


def risk(
    shop: ShopFolder,
    plan_file: PlanFile = ACCEPTED,
    draws: Annotated[int, typer.Option(min=1, max=MOST_DRAWS, help="How often the plan is timed again.")] = 1000,
    seed: Seed = 1,
    sure: Annotated[
        int,
        typer.Option(parser=percent_of, metavar="PERCENT", help="The safe day is kept with this chance: 90 or 0.9."),
    ] = SURE_PERCENT,
    record: Annotated[
        bool, typer.Option("--record", help="Of a store: dates given with a chance, and what became of each.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """How sure each order and each kit is when times, scrap, vans, machines and people turn out otherwise.

    What was booked in a store, or stands in booked_times.csv and booked_turns.csv, is learned from.
    """
    if record:
        with plain_faults(as_json):
            given = dates_given(shop)
        if as_json:
            say_json({"good": True, "dates": [g.row for g in given], "record": list(record_of(given))})
        else:
            show_record(given)
        return
    with plain_faults(as_json):
        job = open_plan(shop, plan_file)
        known = with_history(shop, job.shop)
        found = risk_of(known, job.work, job.plan, draws=draws, seed=seed, sure_percent=sure)
        found = replace(found, record=record_of(dates_given(shop)))
    if as_json:
        say_json(as_row(found))
    else:
        show_risk(found)


def show_record(given: Sequence[DateGiven]) -> None:
    """Each date that was given with a chance, then how many were kept."""
    if not given:
        say(
            "No date was given with a chance yet: an enquiry that is kept in a store as an order with a promise has one."
        )
        return
    rows = [
        (
            g.order, f"{g.given}", f"{g.promise}", f"{100 * g.chance:.0f} %", f"{g.ready:%Y-%m-%d %H:%M}" if g.ready else "",
            "still to come" if g.kept is None else "kept" if g.kept else "not kept",
        )
        for g in given
    ]  # fmt: skip
    show_table("Dates given", ("order", "given", "promised", "chance said", "ready", ""), rows, "lllrll")
    for line in record_of(given):
        say(line)


def show_risk(found: Risk) -> None:
    """Orders with the most to lose first, then kits, then what was taken for granted."""
    say(DRAW)
    show_table(
        f"Orders in {counted(found.draws, 'draw')}, those with the most to lose first",
        ("order", "customer", "part", "class", "due", "planned", "in time", "likely", f"{found.sure_percent} % sure", "late on average"),
        [_order_line(r) for r in found.orders],
        "llllllrllr",
    )  # fmt: skip
    say(
        f"Weighted lateness in all: {found.weighted_late_min:,.0f} on average over the draws, {found.planned_weighted_late_min:,} as planned "
        "(minutes late times the weight of the order's class)."
    )
    show_lines(
        "steps where most is lost, in weighted minutes of delay on average over the draws",
        [w.text for w in found.worst],
        most=sys.maxsize,
    )
    show_lines("what makes orders late", [_why(r) for r in found.orders if r.governs], most=20)
    show_table(
        "Kits: are all components there at the planned start?",
        (
            "batch",
            "part",
            "orders",
            "planned start",
            "all there",
            f"{found.sure_percent} % sure by",
            "who comes last when not",
        ),
        [_kit_line(k) for k in found.kits],
        "llllrll",
    )
    show_lines("taken for granted", list(found.assumptions), most=sys.maxsize)
    show_lines("dates given", list(found.record), most=sys.maxsize)
    say("Likely: half of the draws are ready by then. Sure: the day by whose dispatch cut-off so many are.")


def _order_line(r: OrderRisk) -> tuple[object, ...]:
    late = f"{r.expected_late_days:.1f} days" if r.expected_late_days >= 0.05 else ""
    return r.order, r.customer, r.part, r.priority, r.due, r.planned, r.chance, r.likely, r.safe, late


def _why(r: OrderRisk) -> str:
    return f"{r.order} ({r.chance} in time): " + "; ".join(g.text for g in r.governs)


def _kit_line(k: KitRisk) -> tuple[object, ...]:
    last = ", ".join(f"{w.component} ({w.source}) {w.percent} %" for w in k.waits_for)
    short = f"not on order: {', '.join(k.shortages)}" if k.shortages else ""
    return k.batch, k.part, ", ".join(k.orders), k.start, k.chance, k.safe, "; ".join(t for t in (last, short) if t)
