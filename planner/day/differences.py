"""What a new plan changes against the accepted one, in the shop's words: few lines, each with its reason."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from planner.answers.feeds import ready_times
from planner.answers.orders import orders as orders_of
from planner.answers.wording import elapsed_text, local_text, step_name
from planner.counted import counted
from planner.day.reasons import Reasons
from planner.main_job import Job, stored_job
from planner.plan import Step
from planner.store import Store
from planner.verify.context import Context
from planner.work import Kept, Work

NEWLY_LATE, SAVED, LATER, EARLIER = "newly late", "saved", "later", "earlier"
NEW, GONE = "new", "gone"
RANK = {what: n for n, what in enumerate((NEWLY_LATE, LATER, SAVED, EARLIER, NEW, GONE))}
LEAST_MIN = 60  # an order that is ready less than an hour earlier or later is not told


@dataclass(frozen=True)
class OrderDifference:
    """``later_min``: negative is earlier; None where the order is in one of the plans only."""

    order: str
    customer: str
    part: str
    what: str
    due: str
    was: str
    now: str
    later_min: int | None
    why: str


@dataclass(frozen=True)
class StepDifference:
    """A step planned in the days in which change has a price, on another machine or at another place than it was."""

    batch: str
    operation: int
    description: str
    what: str  # 'other machine' or 'other place'
    was_machine: str
    now_machine: str
    was: str
    now: str
    now_after: str
    why: str


@dataclass(frozen=True)
class Differences:
    """``words``: all of it in a few sentences."""

    words: tuple[str, ...]
    orders: tuple[OrderDifference, ...]
    steps: tuple[StepDifference, ...]


def differences(before: Job, after: Job) -> Differences:
    """What ``after`` changes against ``before``, which may be of an earlier moment."""
    reasons = Reasons(before, after)
    orders = sorted(_orders(before, after, reasons), key=lambda o: (RANK[o.what], -abs(o.later_min or 0), o.order))
    steps = sorted(_steps(before, after, reasons), key=lambda s: (s.what, s.now_machine, s.now))
    return Differences(tuple(_words(orders, steps)), tuple(orders), tuple(steps))


def against_accepted(store: Store, after: Job) -> Differences | None:
    """What a plan changes against the accepted one; None where no plan is accepted."""
    accepted = store.accepted()
    return differences(stored_job(store, accepted), after) if accepted else None


def words_against_accepted(store: Store, after: Job) -> list[str]:
    """The same in a few sentences."""
    found = against_accepted(store, after)
    return ["There is nothing to compare it with: no plan is accepted now."] if found is None else list(found.words)


# --- orders -----------------------------------------------------------------------------------------


def _finishes(job: Job) -> dict[str, datetime | None]:
    ready = ready_times(job.work, job.plan)
    return {o.number: _moment(job.work, ready.get(o.number)) for o in job.work.orders}


def _moment(work: Work, minute: int | None) -> datetime | None:
    return None if minute is None else work.plan_start + timedelta(minutes=minute)


def _orders(before: Job, after: Job, reasons: Reasons) -> Iterator[OrderDifference]:
    was, now = _finishes(before), _finishes(after)
    old = {o.number: o for o in before.work.orders}
    rows = {row.order: row for row in orders_of(after.work, after.plan)}
    for order in after.work.orders:
        finish, row = now[order.number], rows[order.number]
        if order.number not in old:
            yield OrderDifference(
                order.number, order.customer, order.part, NEW, row.due, "", row.expected, None, row.reason
            )
            continue
        earlier = was[order.number]
        if finish is None or earlier is None:
            continue
        later_min = (finish - earlier) // timedelta(minutes=1)
        due_was, due = _moment(before.work, old[order.number].due_min), _moment(after.work, order.due_min)
        assert due_was is not None and due is not None
        what = _what(earlier > due_was, finish > due, later_min, finish <= after.work.plan_start)
        if what:
            yield OrderDifference(
                order.number, order.customer, order.part, what, row.due, _text(before.work, earlier), row.expected, later_min,
                reasons.of_order(order.number, later_min > 0) or row.reason,
            )  # fmt: skip
    for number, gone in old.items():
        if number not in now:
            text = _text(before.work, was[number])
            yield OrderDifference(
                number, gone.customer, gone.part, GONE, "", text, "", None, reasons.of_order(number, True)
            )


def _what(was_late: bool, is_late: bool, later_min: int, is_ready: bool) -> str:
    if was_late != is_late:
        return NEWLY_LATE if is_late else SAVED
    if is_ready or abs(later_min) < LEAST_MIN:
        return ""
    return LATER if later_min > 0 else EARLIER


def _text(work: Work, moment: datetime | None) -> str:
    return "" if moment is None else local_text(work.local((moment - work.plan_start) // timedelta(minutes=1)))


# --- steps ------------------------------------------------------------------------------------------


def _steps(before: Job, after: Job, reasons: Reasons) -> Iterator[StepDifference]:
    """Every place of the accepted plan, in the days in which change has a price, that the new plan does not keep."""
    context = Context(after.work, after.plan)
    planned = before.plan.step_of()
    for kept in after.work.kept:
        step = context.steps.get(kept.operation)
        op = after.work.operations[kept.operation]
        name = (after.work.batches[op.batch].name, op.number)
        old = planned.get(before.work.places.get(name, -1))
        if step is None or old is None or old.machine is None or step.machine is None:
            continue
        ahead = context.before_on_machine(step)
        what = _moved(before.work, after.work, old, step, ahead, kept)
        if what:
            yield StepDifference(
                *name, op.description, what, before.work.machines[old.machine].name,
                after.work.machines[step.machine].name, local_text(before.work.local(old.start)),
                local_text(after.work.local(step.start)),
                step_name(after.work, after.work.operations[ahead.operation]) if ahead else "nothing",
                reasons.of_step(name, old, step, ahead),
            )  # fmt: skip


def _moved(before: Work, after: Work, old: Step, step: Step, ahead: Step | None, kept: Kept) -> str:
    assert old.machine is not None and step.machine is not None
    if before.machines[old.machine].name != after.machines[step.machine].name:
        return "other machine"
    return "other place" if (ahead.operation if ahead else None) != kept.after else ""


# --- in words -----------------------------------------------------------------------------------------


def _words(orders: list[OrderDifference], steps: list[StepDifference]) -> Iterator[str]:
    if not orders and not steps:
        yield "Nothing changes that anybody would notice."
    for what in (NEWLY_LATE, LATER, SAVED, EARLIER, NEW, GONE):
        found = [o for o in orders if o.what == what]
        if found:
            names = ", ".join(o.order + _by(o) for o in found[:8]) + (" ..." if len(found) > 8 else "")
            yield f"{counted(len(found), 'order')} {what}: {names}."
    for what in ("other machine", "other place"):
        count = sum(s.what == what for s in steps)
        if count:
            words = "on another machine" if what == "other machine" else "at another place on the same machine"
            yield f"{counted(count, 'operation')} of the next days {words}."


def _by(order: OrderDifference) -> str:
    return f" ({elapsed_text(abs(order.later_min))})" if order.later_min else ""
