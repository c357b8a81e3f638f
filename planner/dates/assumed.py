"""What an enquiry's dates rest on, line by line: for the person who has to give the date."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from planner.answers.wording import moment_text
from planner.counted import counted, listed
from planner.dates.enquiry import Asked, own_batches
from planner.explode.giving import NOT_ON_ORDER
from planner.main_job import Job
from planner.plan import Plan
from planner.risk.allowance import Station
from planner.work import Kind, Operation


def assumed(job: Job, asked: Asked, plan: Plan) -> tuple[str, ...]:
    """Material, supplies, steps typed in, outside firms' turn, and things that have to be free."""
    own = [asked.work.operations[i] for b in own_batches(asked) for i in b.operations]
    return (
        *_material(asked),
        *_supplies(asked),
        *_new_steps(asked),
        *_outside(asked, plan, own),
        *_equipment(asked, plan, own),
        *sorted(set(asked.work.assumptions) - set(job.work.assumptions) - set(_own_lines(asked))),
    )


def later_work(stations: Mapping[str, Station], booked: Collection[str] = ()) -> tuple[str, ...]:
    """What is taken of orders that are still to come; ``booked``: groups of which that is known from what was booked."""
    if not stations:
        return ()
    name, fullest = max(stations.items(), key=lambda s: (s[1].used_share, s[0]))
    learned = f"How full {listed(sorted(booked))} {'is' if len(booked) == 1 else 'are'} was learned from what was booked; of other groups it is as planned."
    return (
        "Orders go on coming as now: where the plan has gaps before it, likely and safe dates leave time for them "
        f"({name}: {100 * fullest.used_share:.0f} % used).",
        *([learned] if booked else []),
    )


def _own_lines(asked: Asked) -> list[str]:
    """Lines of the shop with the enquiry that say what is said here in better words."""
    return [
        line
        for line in asked.work.assumptions
        if line.startswith(("No material date", "Open batch")) or "are not on order" in line
    ]


def _material(asked: Asked) -> list[str]:
    if asked.enquiry.earliest is not None:
        return [f"Material is here from {asked.enquiry.earliest.isoformat()}."]
    return (
        ["No material date: material is taken as here now. Ask when it can be, and give that day."]
        if asked.batches
        else []
    )


def _supplies(asked: Asked) -> list[str]:
    names = {asked.work.batches[i].name for i in asked.batches} | {asked.work.orders[asked.order].number}
    missing: dict[str, int] = {}
    taken: dict[str, int] = {}
    for given in asked.work.given:
        if given.demand.split(" operation ")[0].split(" ", 1)[1] not in names:
            continue
        if given.supply == NOT_ON_ORDER:
            missing[given.part] = missing.get(given.part, 0) + given.pieces
        elif not given.supply.startswith("batch "):
            taken[given.part] = taken.get(given.part, 0) + given.pieces
    lines = [
        f"{n:,} of bought {part} are not on order: taken as here when needed." for part, n in sorted(missing.items())
    ]
    if taken:
        parts = ", ".join(f"{n:,} of {part}" for part, n in sorted(taken.items()))
        lines.append(f"From stock and receipts that no order needs: {parts}.")
    return lines


def _new_steps(asked: Asked) -> list[str]:
    return (
        ["Setup and cycle times are those typed in: a first batch often takes longer to set."]
        if asked.enquiry.steps
        else []
    )


def _outside(asked: Asked, plan: Plan, own: list[Operation]) -> list[str]:
    steps = plan.step_of()
    lines = {}
    for op in own:
        if op.kind is not Kind.OUTSIDE or op.service is None or op.index not in steps:
            continue
        service = asked.work.services[op.service]
        process = asked.shop.suppliers[service.supplier].processes
        turn = next((p.turn_days for p in process if p.name == service.process), None)
        usual = "their usual turn" if turn is None else f"their usual {counted(turn, 'working day')}"
        lines[service.supplier, service.process] = (
            f"{service.supplier} takes {usual} for {service.process}, and has room on {moment_text(asked.work, steps[op.index].run_start)}."
        )
    return [lines[key] for key in sorted(lines)]


def _equipment(asked: Asked, plan: Plan, own: list[Operation]) -> list[str]:
    steps = plan.step_of()
    named = {asked.work.equipment[e].name for op in own if op.index in steps for e, _ in op.equipment}
    return [f"Free when planned, and fit for use: {', '.join(sorted(named))}."] if named else []
