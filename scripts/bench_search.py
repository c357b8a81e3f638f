"""How good plans get, and how soon: first plans by rule, then the search, on shop-like instances.

Usage: python scripts/bench_search.py --data DIR [--seconds S] [--seed K] [NAME ...]

DIR holds ``shops.json``: one instance to a line, orders of operations on machines with weekly hours, some outside,
judged by weighted minutes late. Without it nothing is run.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from planner.search import Progress, search
from planner.verify import verify
from planner.work import Alternative, Batch, Group, Hours, Kind, Machine, Operation, Order, Prices, Source, Span, Work

WEEK_MIN = 7 * 1440
WEEKS = 80


def instances(folder: Path) -> Iterator[dict]:
    """Instances of ``shops.json``, smallest first as the file has them."""
    text = (folder / "shops.json").read_text(encoding="utf-8")
    try:
        found = json.loads(text)
    except json.JSONDecodeError:
        found = [json.loads(line) for line in text.splitlines() if line.startswith('{"name"')]
    yield from found["instances"] if isinstance(found, dict) else found


def windows(pattern: dict[str, list[list[int]]]) -> tuple[Span, ...]:
    """A weekly pattern laid out over the weeks of the bench."""
    day = [(int(d) * 1440 + a, int(d) * 1440 + b) for d, spans in pattern.items() for a, b in spans]
    return tuple(sorted((w * WEEK_MIN + a, w * WEEK_MIN + b) for w in range(WEEKS) for a, b in day))


def as_work(instance: dict) -> Work:
    """The instance as work to plan: an order is a batch of one piece, an outside step elapsed waiting."""
    names = sorted(instance["machines"])
    hours = {p: Hours(windows(days)) for p, days in instance["week_pattern"].items()}
    operations: list[Operation] = []
    batches, orders = [], []
    for i, order in enumerate(instance["orders"]):
        first = len(operations)
        for k, step in enumerate(order["ops"]):
            alternatives = tuple(
                Alternative(names.index(m), 0, 60 * minutes) for m, minutes in sorted(step.get("machines", {}).items())
            )
            kind = Kind.MACHINE if alternatives else Kind.WAIT
            operations.append(
                Operation(first + k, i, 10 * (k + 1), "", kind, 1, 1, alternatives=alternatives,
                          wait_min=step.get("outside", 0))
            )  # fmt: skip
        own = tuple(range(first, len(operations)))
        batches.append(Batch(i, f"B{i}", f"P{i}", "", "", 1, 0, 1, order["release"], own, order["due"]))
        orders.append(Order(i, f"O{i}", "", f"P{i}", 1, order["due"], order["weight"], "", (Source(1, batch=i),)))
    return Work(
        shop=instance["name"], zone="UTC", plan_start=datetime(2027, 1, 4, tzinfo=UTC),
        machines=tuple(Machine(n, 0, hours[instance["machines"][n]]) for n in names),
        groups=(Group("all", tuple(range(len(names)))),), skills=(), people=(), equipment=(), changeovers={},
        batches=tuple(batches), operations=tuple(operations), needs=(), orders=tuple(orders),
        prices=Prices(wip_weight=0, setup_weight=0, charge_weight=0),
    )  # fmt: skip


def run(instance: dict, seconds: float, seed: int) -> None:
    work = as_work(instance)
    first: list[Progress] = []
    began = time.monotonic()
    plan = search(work, seconds=seconds, seed=seed, progress=lambda p: first.append(p) if not first else None)
    faults = verify(work, plan)
    gain = 100 * (1 - plan.cost.first / first[0].cost.first) if first[0].cost.first else 0
    print(
        f"{instance['name']:14} {len(work.operations):6} operations, first plan {first[0].cost.first:10,} after "
        f"{first[0].seconds:5.1f} s, after {time.monotonic() - began:5.1f} s {plan.cost.first:10,} ({gain:4.1f} % less), "
        f"bound {plan.bound.value:9,}, {plan.trials:9,} trials, {plan.state.value}, {len(faults)} breaches",
        flush=True,
    )


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--data", type=Path, help="folder with shops.json")
    ask.add_argument("--seconds", type=float, default=40.0)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("names", nargs="*", help="instances; all of up to 1,100 operations when none is named")
    given = ask.parse_args()
    if given.data is None or not (given.data / "shops.json").is_file():
        print("Skipped: no folder with shops.json was given (--data DIR).")
        return
    for instance in instances(given.data):
        size = sum(len(o["ops"]) for o in instance["orders"])
        if instance["name"] in given.names or (not given.names and size <= 1100):
            run(instance, given.seconds, given.seed)


if __name__ == "__main__":
    main()
