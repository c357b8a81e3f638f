"""Shop-like instances with weekly hours, and the project's own sample shop."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any

from engine_suites.case import Case
from engine_suites.targets import SHOPS
from planner.main_job import read_work
from planner.work import Alternative, Batch, Group, Hours, Kind, Machine, Operation, Order, Prices, Source, Span, Work

WEEK_MIN = 7 * 1440
WEEKS = 80
QUICK = ("shop-100-1", "shop-100-2", "shop-300-1", "shop-300-2", "shop-1000-1")
SAMPLE = Path(__file__).resolve().parent.parent.parent / "sample_shop"


def windows(pattern: dict[str, list[list[int]]]) -> tuple[Span, ...]:
    """A weekly pattern laid out over the weeks of the bench."""
    day = [(int(d) * 1440 + a, int(d) * 1440 + b) for d, spans in pattern.items() for a, b in spans]
    return tuple(sorted((w * WEEK_MIN + a, w * WEEK_MIN + b) for w in range(WEEKS) for a, b in day))


def as_work(instance: dict[str, Any]) -> Work:
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


def shop_case(instance: dict[str, Any]) -> Case:
    """Nothing short of a proof ends it early: the targets are aims, and proofs are looked for."""
    name = instance["name"]
    size = sum(len(order["ops"]) for order in instance["orders"])
    target = SHOPS.get(name)
    return Case(
        "shops", name, name, "shops", size,
        partial(as_work, instance), 20.0 if size < 300 else 120.0, best=target.cost if target else None,
    )  # fmt: skip


def sample_case() -> Case:
    """The sample shop as it lies in the project, without batch proposals."""
    return Case("sample", "sample shop", "sample shop", "sample", len(sample_work().operations), sample_work, 60.0)


def sample_work() -> Work:
    return read_work(SAMPLE)[1]
