"""What has been decided already: the manager's pins, and the accepted plan.

A pin that cannot be kept is left out with the reason; it never makes the plan impossible.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from planner import shop, worktime
from planner.explode.checks import Facts, fault_of
from planner.explode.clock import Clock
from planner.explode.resources import Index
from planner.plan import AcceptedStep
from planner.work import NEVER, Begun, Kept, Kind, Operation, Work

FIRM = 100  # times the price of change for what was decided, or is frozen

# --- pins ----------------------------------------------------------------------------------


def pinned(shop_: shop.Shop, work: Work, index: Index, clock: Clock) -> Work:
    """The work with the pins that can be kept, and a line in ``left_out`` for each that cannot."""
    facts = Facts(work)
    places = work.places
    operations = list(work.operations)
    left_out = []
    for pin in sorted(shop_.pins, key=lambda p: (p.batch, p.operation)):
        at = places.get((pin.batch, pin.operation))
        name = f"Pin of batch {pin.batch} operation {pin.operation}"
        if at is None:
            missing = "operation" if any(batch == pin.batch for batch, _ in places) else "batch"
            left_out.append(f"{name} not kept: there is no such {missing}.")
        elif operations[at].begun not in (Begun.NO, Begun.PART):
            left_out.append(f"{name} not kept: the operation has begun.")
        else:
            operations[at], reasons = _pin(facts, operations[at], pin, index, clock)
            left_out += [f"{name}: {reason}" for reason in reasons]
    return replace(work, operations=tuple(operations), left_out=(*work.left_out, *left_out))


def _pin(facts: Facts, op: Operation, pin: shop.Pin, index: Index, clock: Clock) -> tuple[Operation, list[str]]:
    """The operation with each part of the pin that can be kept, machine first, and why the others cannot."""
    reasons = []
    wanted: list[tuple[str, Operation]] = []
    if pin.machine is not None:
        wanted.append((f"machine {pin.machine}", replace(op, pin_machine=index.machines[pin.machine])))
    if pin.person is not None:
        wanted.append((f"person {pin.person}", replace(op, pin_person=index.people[pin.person])))
    if pin.not_machines:
        barred = {index.machines[name] for name in pin.not_machines}
        left = tuple(a for a in op.alternatives if a.machine not in barred)
        wanted.append((f"not on {', '.join(pin.not_machines)}", replace(op, alternatives=left)))
    if pin.not_before is not None:
        earliest = max(0, clock.minute(pin.not_before))
        wanted.append((f"not before {pin.not_before:%Y-%m-%d %H:%M}", replace(op, not_before_min=earliest)))
    for name, alone in wanted:
        both = replace(
            op,
            pin_machine=op.pin_machine if alone.pin_machine is None else alone.pin_machine,
            pin_person=op.pin_person if alone.pin_person is None else alone.pin_person,
            not_before_min=max(op.not_before_min, alone.not_before_min),
            alternatives=tuple(a for a in op.alternatives if a in alone.alternatives),
        )
        reason = _why_not(facts, both)
        if reason:
            reasons.append(f"{name} not kept, {reason}.")
        else:
            op = both
    return op, reasons


def machines_of(op: Operation) -> list[int]:
    """Machines the operation may go on."""
    return [a.machine for a in op.alternatives if op.pin_machine in (None, a.machine)]


def _why_not(facts: Facts, op: Operation) -> str:
    """Why an operation with these pins could never be placed; empty when it could."""
    if op.kind in (Kind.MACHINE, Kind.MANUAL) and not machines_of(op):
        return "it cannot do the operation" if op.alternatives else "nothing else can do the operation"
    if op.pin_machine is not None and not op.alternatives:
        return "it cannot do the operation"
    if op.pin_person is not None:
        if op.skill is None:
            return "the operation needs nobody in particular"
        if op.skill not in facts.work.people[op.pin_person].skills:
            return f"they do not have the skill '{facts.work.skills[op.skill]}'"
    fault = fault_of(facts, op)
    return f"the operation would lack: {fault.expected}" if fault else ""


# --- the accepted plan -----------------------------------------------------------------------


def change_window(shop_: shop.Shop, clock: Clock) -> int:
    """Minute at which change stops having a price.

    The end of the n-th working day of the shop calendar, counted from the day of the plan
    start if it is one; plain days without a shop calendar; not beyond the known calendar.
    """
    wanted = shop_.settings.change_days
    day = clock.today
    while wanted > 0 and (clock.calendar is None or day <= clock.calendar.known_to):
        wanted -= clock.open_on(day)
        day += timedelta(days=1)
    return worktime.midnight(day, clock.zone, clock.plan_start)


def kept_of(
    accepted: Sequence[AcceptedStep], shop_: shop.Shop, work: Work, index: Index, clock: Clock
) -> tuple[Kept, ...]:
    """Places that a change of has a price: those of the accepted plan in the window, and those that were decided.

    Of the accepted plan: not begun, starting within the window, still possible; in the frozen hours the price is
    ``FIRM`` times as high, as it is for what was decided to be right after another step.
    """
    kept = {}
    frozen_min = 60 * shop_.settings.frozen_hours
    for machine, queue in _queues(accepted, work, index, clock).items():
        before = None
        for start, at in queue:
            if work.operations[at].begun == Begun.NO and start < max(work.change_window_min, frozen_min):
                kept[at] = Kept(at, machine, before, FIRM if frozen_min and start < frozen_min else 1)
            before = at
    kept.update((k.operation, k) for k in _followers(shop_, work, index))
    return tuple(kept[at] for at in sorted(kept))


def _followers(shop_: shop.Shop, work: Work, index: Index) -> list[Kept]:
    """Steps decided to be right after another one, or first on the machine where that one is done."""
    found = []
    for pin in shop_.pins:
        at, machine = work.places.get((pin.batch, pin.operation)), index.machines.get(pin.machine or "")
        before = work.places.get((pin.after_batch or "", pin.after_operation or 0))
        if at is None or before is None or machine is None or work.operations[at].begun is not Begun.NO:
            continue
        if machine in machines_of(work.operations[at]):
            done = work.operations[before].begun is Begun.DONE
            found.append(Kept(at, machine, None if done else before, FIRM))
    return found


def _queues(
    accepted: Sequence[AcceptedStep], work: Work, index: Index, clock: Clock
) -> dict[int, list[tuple[int, int]]]:
    """For each machine, (start, operation) still to be planned, in accepted order; running ones first."""
    places = work.places
    queues: dict[int, list[tuple[int, int]]] = {}
    for op in work.operations:
        if op.begun == Begun.RUNNING and op.begun_machine is not None:
            queues.setdefault(op.begun_machine, []).append((-NEVER, op.index))
    for step in accepted:
        at = places.get((step.batch, step.operation))
        machine = index.machines.get(step.machine)
        if at is None or machine is None or work.operations[at].begun not in (Begun.NO, Begun.PART):
            continue
        if machine in machines_of(work.operations[at]):
            queues.setdefault(machine, []).append((_moment(step.start, clock), at))
    return {machine: sorted(queue) for machine, queue in queues.items()}


def _moment(text: str, clock: Clock) -> int:
    """Planning minute of an ISO moment; one without an offset is in the shop's zone."""
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None:
        return clock.minute(moment)
    return (moment.astimezone(UTC) - clock.plan_start) // timedelta(minutes=1)
