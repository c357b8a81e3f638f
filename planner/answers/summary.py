"""What a plan comes to, as plain data for the terminal, the front page and JSON."""

from __future__ import annotations

from typing import Any

from planner.answers.cautions import cautions
from planner.answers.load import highest, load
from planner.answers.orders import orders
from planner.answers.rows import as_row
from planner.plan import Plan
from planner.work import Work


def summary(work: Work, plan: Plan, first_seconds: float | None = None) -> dict[str, Any]:
    """Plain data: state, cost terms, bound, orders on time and late, the limiting group, cautions."""
    rows = orders(work, plan) if plan.complete else []
    answer = load(work, plan)
    limit = highest(answer) if plan.complete else None
    return {
        "shop": work.shop,
        "state": plan.state.value,
        "batches": len(work.batches),
        "operations": len(work.operations),
        "operations_planned": len(plan.steps),
        "orders": len(work.orders),
        "orders_on_time": sum(not r.late for r in rows),
        "orders_late": sum(r.late for r in rows),
        "late_orders": [{"order": r.order, "late_min": r.late_min, "waits_for": r.waits_for, "reason": r.reason} for r in rows if r.late],
        "limiting": None if limit is None else as_row(limit),
        "cost": {
            "first": plan.cost.first, "late": plan.cost.late, "change": plan.cost.change,
            "second": plan.cost.second, "wip": plan.cost.wip, "setup": plan.cost.setup, "charges": plan.cost.charges,
        },
        "bound": {"value": plan.bound.value, "kind": plan.bound.kind},
        "seed": plan.seed,
        "trials": plan.trials,
        "seconds": round(plan.seconds, 3),
        "first_plan_seconds": None if first_seconds is None else round(first_seconds, 3),
        "cautions": cautions(work, plan, answer) if plan.complete else [],
        "assumptions": list(work.assumptions),
        "left_out": list(work.left_out),
    }  # fmt: skip
