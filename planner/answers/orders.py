"""Every order: due, expected, what it waits for at the plan start, and in short why it is late."""

from __future__ import annotations

from dataclasses import dataclass

from planner.answers.feeds import order_finish
from planner.answers.way import Ways
from planner.answers.why import late_reasons
from planner.answers.wording import DAY_MIN, day_text, moment_iso, moment_text, step_name
from planner.plan import Plan, Step
from planner.work import Begun, Kind, Order, Work

HELD = "held back"


@dataclass(frozen=True)
class OrderRow:
    """One order. ``late_min`` is expected minus due: negative is early, None is not planned."""

    order: str
    customer: str
    part: str
    pieces: int
    priority: str  # its class
    due: str
    due_at: str | None
    promise: str
    expected: str
    expected_at: str | None
    late_min: int | None
    late_days: float | None  # of 24 hours
    late: bool
    waits_for: str
    reason: str  # empty unless late
    due_min: int
    expected_min: int | None
    provisional_until: str = ""  # an enquiry that only holds its place


def orders(work: Work, plan: Plan) -> list[OrderRow]:
    """One row for each order, the latest against its due first."""
    ways = Ways(work, plan)
    reasons = late_reasons(work, plan)
    rows = [_row(work, ways, order, reasons.get(order.number, "")) for order in work.orders]
    return sorted(rows, key=lambda r: (-(r.late_min if r.late_min is not None else 1 << 50), r.due_min, r.order))


def _row(work: Work, ways: Ways, order: Order, reason: str) -> OrderRow:
    finish = order_finish(work, ways.steps, order)
    late_min = None if finish is None else finish - order.due_min
    is_late = late_min is not None and late_min > 0
    return OrderRow(
        order=order.number, customer=order.customer, part=order.part, pieces=order.pieces, priority=order.priority,
        due=moment_text(work, order.due_min), due_at=moment_iso(work, order.due_min),
        promise="" if order.promise_min is None else moment_text(work, order.promise_min),
        expected="not planned" if finish is None else moment_text(work, finish),
        expected_at=None if finish is None else moment_iso(work, finish),
        late_min=late_min, late_days=None if late_min is None else round(late_min / DAY_MIN, 1), late=is_late,
        waits_for=waits_for(work, ways, order),
        reason=reason,
        due_min=order.due_min, expected_min=finish,
        provisional_until="" if order.provisional_until is None else day_text(order.provisional_until),
    )  # fmt: skip


# --- where it is now, or what it waits for -------------------------------------------------------------------


def waits_for(work: Work, ways: Ways, order: Order) -> str:
    """What the order waits for at the plan start, in a few words."""
    batch = ways.last_batch(order)
    receipt = max((s for s in order.sources if s.batch is None), key=lambda s: s.at_min, default=None)
    if batch is None:
        if any(s.batch is not None and _to_do(work, s.batch) for s in order.sources):
            return "not planned"
        if receipt is None or receipt.at_min <= 0:
            return "not on order" if receipt is not None and receipt.receipt == "not on order" else "ready now"
        return f"waits for receipt {receipt.receipt} on {moment_text(work, receipt.at_min)}"
    if receipt is not None and receipt.at_min > ways.left(batch)[-1].end:
        return f"waits for receipt {receipt.receipt} on {moment_text(work, receipt.at_min)}"
    return batch_waits_for(work, ways, batch)


def _to_do(work: Work, batch: int) -> bool:
    return any(work.operations[i].begun is not Begun.DONE for i in work.batches[batch].operations)


def batch_waits_for(work: Work, ways: Ways, batch: int) -> str:
    """Where a batch is at the plan start, 'on L2 op 20', or else 'waits for ...': 'waits for component X (on M1 op 10)'."""
    step = ways.now(batch)
    if step is None:
        return "finished"
    op = work.operations[step.operation]
    if op.kind is Kind.OUTSIDE and op.begun is Begun.OUT:
        return f"at {_firm(work, step)} until {moment_text(work, step.run_end)}"
    if op.kind is not Kind.OUTSIDE and ways.is_on(step):
        return (
            f"on {work.machines[step.machine].name} op {op.number}"
            if step.machine is not None
            else f"in op {op.number}"
        )
    missing = ways.missing(step)
    if missing is None:
        return _waits(work, step)
    if missing.batch is None:
        return f"waits for bought {missing.part}, {missing.receipt} on {moment_text(work, missing.at_min)}"
    return f"waits for component {missing.part} ({batch_waits_for(work, ways, missing.batch)})"


def _waits(work: Work, step: Step) -> str:
    op = work.operations[step.operation]
    start = moment_text(work, step.start)
    if op.kind is Kind.OUTSIDE:
        return f"waits for the collection by {_firm(work, step)} on {moment_text(work, step.run_start)}"
    on = f" at {work.machines[step.machine].name}" if step.machine is not None else ""
    behind = "" if step.waited_on is None else f" behind {step_name(work, work.operations[step.waited_on])}"
    if step.waited_for == "machine" and step.machine is not None:
        return f"waits for {work.machines[step.machine].name}{behind}"
    if step.waited_for == "person":
        return f"waits for {_skill(work, step)}{on} op {op.number}, {start}"
    if step.waited_for == "equipment":
        return f"waits for equipment {_equipment(work, step)}{behind}"
    if step.waited_for == "release":
        return f"waits for its release to op {op.number}, {start}"
    if step.waited_for == HELD:
        return f"held back on purpose to {start}, it would only lie about"
    if step.waited_for == "not before":
        return f"held back by decision to {start}"
    return f"begins op {op.number}{on}, {start}"


def _firm(work: Work, step: Step) -> str:
    op = work.operations[step.operation]
    return work.services[op.service].supplier if op.service is not None else "the outside firm"


def _skill(work: Work, step: Step) -> str:
    skill = work.operations[step.operation].skill
    return f"a person for {work.skills[skill]}" if skill is not None else "a person"


def _equipment(work: Work, step: Step) -> str:
    return " or ".join(work.equipment[e].name for e, _ in work.operations[step.operation].equipment)
