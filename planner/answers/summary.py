"""What a plan comes to, as plain data for the terminal, the front page and JSON."""

from __future__ import annotations

from typing import Any

from planner.answers.cautions import cautions
from planner.answers.load import highest, load
from planner.answers.orders import orders
from planner.answers.proposals import proposals
from planner.answers.rows import as_row, as_rows
from planner.answers.wording import moment_text, step_name
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
        "no_time": _no_time(work, plan),
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
        "proposals": as_rows(proposals(work, plan)),
        "cautions": cautions(work, plan, answer) if plan.complete else [],
        "assumptions": list(work.assumptions),
        "left_out": list(work.left_out),
    }  # fmt: skip


def _no_time(work: Work, plan: Plan) -> list[str]:
    """For an impossible plan: what found no time, and how to mend that."""
    if not plan.no_time:
        return []
    ops = [work.operations[i] for i in plan.no_time]
    known = moment_text(work, work.known_to_min)
    hint = (
        f"The hours are known to {known} at least; work that is left then has no time. Give later dates as 'known_to' in "
        "calendars.csv, take orders out, or add machines, people or collections."
    )
    return [hint, *(f"{step_name(work, op)} {op.description}".strip() for op in ops)]
