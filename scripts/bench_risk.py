"""How quickly a plan is timed in many draws.

Usage: python scripts/bench_risk.py [--shop FOLDER] [--draws N] [--grow N]

Draws from a quick plan of the shop (the sample shop unless told), with the shop's own spreads. ``--grow 1000`` takes orders
twice over until the plan has about so many operations. Says the seconds by the clock and those
of the processor (two threads: about twice the clock's where nothing else runs).
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace
from pathlib import Path

from planner.explode import explode
from planner.intake import read_shop
from planner.risk import draw, spreads_of
from planner.search import get_ready, search
from planner.shop import Shop

SAMPLE = Path(__file__).resolve().parent.parent / "sample_shop"


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--shop", type=Path, default=SAMPLE)
    ask.add_argument("--draws", type=int, default=1000)
    ask.add_argument("--grow", type=int, default=1000, help="operations, about")
    given = ask.parse_args()
    get_ready()
    shop = grown(read_shop(given.shop), given.grow)
    work = explode(shop)
    plan = search(work, trials=20, seed=1)
    spreads = spreads_of(shop, work)
    draw(work, plan, spreads, 2)  # machine code
    for name, chosen in (
        ("shop's own spreads", spreads),
        ("times only", replace(type(spreads)(), times=spreads.times)),
    ):
        began, used = time.perf_counter(), time.process_time()
        draw(work, plan, chosen, given.draws)
        clock, processor = time.perf_counter() - began, time.process_time() - used
        print(
            f"{name:20} {given.draws:,} draws of {len(plan.steps):,} operations: {clock:.2f} s, processor {processor:.2f} s"
        )


def grown(shop: Shop, operations: int) -> Shop:
    """The shop with its orders again under other numbers, until there are about so many operations."""
    orders, again = dict(shop.orders), 0
    while len(explode(replace(shop, orders=orders)).operations) < operations:
        for number, order in list(shop.orders.items())[5 * again : 5 * again + 5]:
            orders[f"{number}/again"] = replace(order, number=f"{number}/again", promise=None)
        again += 1
    return replace(shop, orders=orders)


if __name__ == "__main__":
    main()
