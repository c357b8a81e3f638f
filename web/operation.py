"""All about one operation: what the plan chart's panel shows."""

from __future__ import annotations

from dataclasses import dataclass

from planner.answers.wording import span_text
from planner.plan import Step, Stint
from planner.work import Begun, Kind, Operation
from web.errors import NotHere
from web.site import Site
from web.waits import waited_text


@dataclass(frozen=True)
class Fact:
    name: str
    text: str


@dataclass(frozen=True)
class WayStep:
    """One step of the batch's way; ``op`` is None where it is not planned (done before the start)."""

    op: int | None
    number: int
    what: str
    place: str
    from_text: str
    to_text: str


@dataclass(frozen=True)
class OperationOrder:
    index: int
    number: str
    late: bool
    text: str


@dataclass(frozen=True)
class OperationPage:
    op: int
    title: str
    late: bool
    facts: tuple[Fact, ...]
    orders: tuple[OperationOrder, ...]
    way: tuple[WayStep, ...]


def operation_page(site: Site, index: int) -> OperationPage:
    """Raises ``NotHere`` where the plan has no such operation."""
    if index not in site.steps:
        raise NotHere(f"The plan has no operation {index}. It may be finished already.")
    op, step = site.work.operations[index], site.steps[index]
    batch = site.work.batches[op.batch]
    orders = tuple(
        OperationOrder(o, site.work.orders[o].number, site.is_late(o), site.order_text(o))
        for o in site.orders_of(op.batch)
    )
    return OperationPage(
        op=index, title=f"{batch.name} step {op.number}: {op.description}", late=any(o.late for o in orders),
        facts=tuple(Fact(*f) for f in _facts(site, op, step) if f[1]), orders=orders,
        way=tuple(_way_step(site, i) for i in batch.operations),
    )  # fmt: skip


def place_of(site: Site, step: Step) -> str:
    """Machine, firm, or nothing."""
    op = site.work.operations[step.operation]
    if step.machine is not None:
        return site.work.machines[step.machine].name
    return site.work.services[op.service].supplier if op.service is not None else ""


def _facts(site: Site, op: Operation, step: Step) -> list[tuple[str, str]]:
    work, text = site.work, site.clock.text
    batch = work.batches[op.batch]
    after = site.next_op.get(op.index)
    return [
        ("Part", batch.part + (f" rev {batch.revision}" if batch.revision else "")),
        ("Called", batch.description if batch.description != batch.part else ""),
        ("Where", place_of(site, step)),
        ("Pieces", f"{op.pieces_left} of {op.pieces} to do" if op.pieces_left != op.pieces else f"{op.pieces}"),
        ("State", "on the machine now" if op.begun is Begun.RUNNING else ""),
        *_times(site, op, step),
        ("Equipment", ", ".join(_units(work.equipment[e].name, n) for e, n in op.equipment)),
        ("Waited for", waited_text(site, step)),
        *_room(site, op.index),
        ("Next", _next_text(site, after) if after is not None else "the batch is finished with this step"),
        ("Free for it", text(step.end) if step.end != step.run_end else ""),
    ]


def _room(site: Site, index: int) -> list[tuple[str, str]]:
    """How long it can wait; nothing of what is under way."""
    room = site.rooms.of([index]).get(index)
    if room is None:
        return []
    return [("No need before", site.clock.text(room.no_need_before)), ("At the latest", site.clock.text(room.latest))]


def _units(name: str, count: int) -> str:
    return name if count == 1 else f"{name} x {count}"


def _times(site: Site, op: Operation, step: Step) -> list[tuple[str, str]]:
    text = site.clock.text
    if op.kind is Kind.OUTSIDE:
        return [("Collected", text(step.run_start) if step.trip is not None else "already away"), ("Back", text(step.run_end))]  # fmt: skip
    if step.machine is None:
        return [("From", text(step.start)), ("To", text(step.end))]
    if op.kind is Kind.MANUAL:
        return [("Done by", _people(site, step.stints)), ("From", text(step.start)), ("To", text(step.run_end))]
    return [
        ("Setup", _setup_text(site, step)),
        ("First-off", _first_off_text(site, step)),
        ("Run", f"{text(step.run_start)} to {text(step.run_end)}"),
    ]


def _setup_text(site: Site, step: Step) -> str:
    if not step.setup_min:
        return "none: the same work is set already" if step.equipment_from < step.start or not step.setup else ""
    part = f" ({span_text(step.changeover_min)} of it for the change of family)" if step.changeover_min else ""
    return f"{span_text(step.setup_min)}{part}, {_people(site, step.setup)}"


def _first_off_text(site: Site, step: Step) -> str:
    if step.first_off is None:
        return ""
    check, who = step.first_off, site.work.people[step.first_off.approver].name
    return f"{who}, {site.clock.text(check.start)} to {site.clock.text(check.end)}"


def _people(site: Site, stints: tuple[Stint, ...]) -> str:
    people, text = site.work.people, site.clock.text
    names = ((people[s.person].name if s.person >= 0 else "nobody in particular", s) for s in stints)
    return "; ".join(f"{name}, {text(s.start)} to {text(s.end)}" for name, s in names)


def _next_text(site: Site, index: int) -> str:
    op, step = site.work.operations[index], site.steps[index]
    place = place_of(site, step)
    return (
        f"step {op.number}, {op.description}" + (f" on {place}" if place else "") + f", {site.clock.text(step.start)}"
    )


def _way_step(site: Site, index: int) -> WayStep:
    op, step = site.work.operations[index], site.steps.get(index)
    if step is None:
        return WayStep(None, op.number, op.description, "", "done", "done")
    return WayStep(
        index, op.number, op.description, place_of(site, step), site.clock.text(step.start), site.clock.text(step.end)
    )
