"""A simulated shop promises dates with the planner for many years: do the dates that are called 90 % sure hold nine times in ten?

Usage: python scripts/replay_shop.py [--levels 80 90 95] [--years 20] [--seed 1] [--out FILE] [--json FILE] [options]

Orders arrive at random, are quoted with what is then known, promised at the safe date, taken whatever the date, planned by the
product's own way, disturbed by a truth that the planner never sees, and planned again every morning. What the planner learns
it learns from bookings. The first 32 weeks are dropped; after the last year the shop runs on until every order of it is ready.

With --out every finished year is kept at once, and a run that was broken off goes on from its last finished year. --quick
is two years. --way: ``safe`` (unless told), ``constant:DAYS`` (planned finish and so many working days) or
``fixed:ROUTE=DAYS;...`` (by class of routing), so that another way of promising can be lived with and not only be reckoned in hindsight.
"""

from __future__ import annotations

import argparse
import json
import sys
from functools import partial
from pathlib import Path
from typing import Any

from replay.keeping import replay_years
from replay.promising import Constant, Fixed, Safe, Way
from replay.report import report, table
from replay.run import Effort, Replay
from replay.stream import Demand
from replay.truth import Truth
from replay.world import large_world

WORLD_SEED = 1


def options(words: list[str] | None = None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="Promise dates in a simulated shop and see how many are kept.")
    parser.add_argument("--levels", type=int, nargs="+", default=[80, 90, 95], help="chances in percent to promise at")
    parser.add_argument("--years", type=int, default=20, help="simulated years after the warm-up (20 unless told)")
    parser.add_argument("--quick", action="store_true", help="two years")
    parser.add_argument(
        "--seed", type=int, default=1, help="of customers and of what happens; tune with others than you test"
    )
    parser.add_argument("--plan-trials", type=int, default=Effort().trials, help="lists timed for each plan")
    parser.add_argument("--draws", type=int, default=Effort().draws, help="draws for each quote")
    parser.add_argument("--a-day", type=float, default=Demand.a_day, help="enquiries a working day, on average")
    parser.add_argument("--way", default="safe", help="safe, constant:DAYS or fixed:ROUTE=DAYS;...")
    parser.add_argument("--out", type=Path, help="keep finished years here, and go on from there")
    parser.add_argument("--json", type=Path, help="write the figures here")
    chosen = parser.parse_args(words)
    if chosen.quick:
        chosen.years = 2
    if chosen.years < 1 or not all(1 <= level <= 99 for level in chosen.levels):
        parser.error("--years must be 1 or more and --levels from 1 to 99")
    if chosen.json is not None and chosen.out is not None and chosen.json.resolve() == chosen.out.resolve():
        parser.error("--json and --out name the same file: the figures would be written over the finished years")
    try:
        way_of(chosen.way, 90)
    except ValueError:
        parser.error(f"--way is '{chosen.way}': expected safe, constant:3 or fixed:turned=12;milled=15 (every class)")
    return chosen


def way_of(text: str, level: int) -> Way:
    """Raises ValueError for a text that names no way of promising."""
    name, _, rest = text.partition(":")
    if name == "safe" and not rest:
        return Safe(level)
    if name == "constant":
        return Constant(int(rest))
    if name == "fixed":
        days = {route: int(number) for route, _, number in (part.partition("=") for part in rest.split(";"))}
        routes = {item.route for item in large_world(WORLD_SEED).items}
        if routes <= set(days):
            return Fixed(days)
    raise ValueError(text)


def make(chosen: argparse.Namespace, level: int) -> Replay:
    return Replay(
        large_world(WORLD_SEED), Demand(chosen.a_day), Truth(chosen.seed), way_of(chosen.way, level),
        Effort(chosen.plan_trials, chosen.draws), chosen.seed,
    )  # fmt: skip


def settings(chosen: argparse.Namespace, level: int) -> dict[str, Any]:
    names = ("way", "seed", "plan_trials", "draws", "a_day")
    return {"level": level, **{name: getattr(chosen, name) for name in names}}


def main(words: list[str] | None = None) -> int:
    chosen = options(words)
    made = []
    for level in chosen.levels:
        lines = replay_years(
            partial(make, chosen, level), chosen.years, settings(chosen, level), chosen.out,
            lambda text: print(text, file=sys.stderr, flush=True),
        )  # fmt: skip
        made.append(report(level, lines))
        print(table(made[-1]), end="\n\n", flush=True)
    if chosen.json:
        chosen.json.write_text(json.dumps(made, indent=1), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
