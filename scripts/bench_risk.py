"""How quickly a plan is timed in many draws.

Usage: python scripts/bench_risk.py [--shop FOLDER] [--draws N] [--grow N]

Draws from a quick plan of the shop (the sample shop unless told), with the shop's own spreads. ``--grow 1000`` takes orders
again, due later, until the plan has about so many operations. Says the seconds by the clock and those
of the processor (two threads: about twice the clock's where nothing else runs).
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace
from datetime import datetime
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
    """The shop with its orders again under other numbers until there are at least so many operations.

    Each round of them is due later by as long as the orders span, and the weekly hours go on as long: more work in all, no
    more of it at a time.
    """
    own, taken = list(shop.orders.values()), 0
    days = [order.due.date() if isinstance(order.due, datetime) else order.due for order in own]
    span = max(days) - min(days)
    while (have := len(explode(shop).operations)) < operations:
        # as many as are missing at the operations an order that there are so far: a few looks instead of one an order
        more = max(1, (operations - have) * len(shop.orders) // have)
        orders = dict(shop.orders)
        for place in range(taken, taken + more):
            rounds, order = place // len(own) + 1, own[place % len(own)]
            number, due = f"{order.number}/{rounds}", order.due + rounds * span
            material = order.material_date and order.material_date + rounds * span
            orders[number] = replace(order, number=number, due=due, material_date=material, promise=None)
        longer = ((taken + more - 1) // len(own) - (taken - 1) // len(own)) * span
        calendars = {name: replace(c, known_to=c.known_to + longer) for name, c in shop.calendars.items()}
        shop, taken = replace(shop, orders=orders, calendars=calendars), taken + more
    return shop


if __name__ == "__main__":
    main()
