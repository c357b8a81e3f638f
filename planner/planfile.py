"""A plan as one JSON document, by name and in local time, so that people can read it too.

The document says which data it was made for (a fingerprint), how it was found, what it costs, and
every operation with its times. The same plan gives the same bytes. Reading gives back exactly the
plan that was written, and refuses what is damaged, of another version or made for other data.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path
from typing import Any, NoReturn, TypeVar

from planner.faults import PlanFileFault
from planner.plan import AcceptedStep, Bound, Burst, FirstOff, Listed, Plan, State, Step, Stint
from planner.planfile_fields import Damaged, Fields, Names
from planner.planfile_proposals import cost_of, cost_row, proposal_of, proposal_row
from planner.whole_file import write_whole
from planner.work import Proposal, Work

FORMAT = "batchwright plan"
FORMAT_VERSION = 2
T = TypeVar("T")
AGAIN = "Make it again with 'batchwright plan'."
NOT_WHOLE = f"this is not a whole plan file, it may be damaged. {AGAIN}"


def write_plan(path: Path | str, work: Work, plan: Plan, accepted: Sequence[AcceptedStep] = ()) -> None:
    """Write the plan so that the file is either wholly the new one or still the old one.

    Parameters
    ----------
    path
        File to write; an existing one is replaced.
    work, plan
        What was planned, and the plan.
    accepted
        The steps of the kept plan that ``work`` was made with; they are part of what the plan was made for.

    Raises
    ------
    PlanFileFault
        When the file cannot be written, with the reason; what was there is still there.
    """
    try:
        write_whole(path, plan_text(work, plan, accepted))
    except OSError as fault:
        raise PlanFileFault(f"{path}: the plan cannot be written there ({fault.strerror or fault}).") from fault


def plan_text(work: Work, plan: Plan, accepted: Sequence[AcceptedStep] = ()) -> str:
    """The document that :func:`write_plan` writes."""
    return json.dumps(_document(work, plan, accepted), ensure_ascii=False, indent=1, allow_nan=False) + "\n"


@dataclass(frozen=True)
class PlanText:
    """A plan document that is kept elsewhere than in a file; ``name`` is how messages call it."""

    name: str
    text: str

    def __str__(self) -> str:
        return self.name


PlanSource = Path | str | PlanText  # where a plan document is read from: a file, or a text


def read_once(path: PlanSource) -> PlanText:
    """The document as it is now, so that all that is read off it belongs together even if the file is replaced meanwhile.

    Raises
    ------
    PlanFileFault
        When the file is missing or cannot be read.
    """
    if isinstance(path, PlanText):
        return path
    try:
        return PlanText(str(path), Path(path).read_text(encoding="utf-8"))
    except FileNotFoundError as fault:
        raise PlanFileFault(f"{path}: there is no such plan file. {AGAIN}") from fault
    except OSError as fault:
        raise PlanFileFault(f"{path}: the plan file cannot be read ({fault.strerror or fault}).") from fault
    except ValueError as fault:
        raise PlanFileFault(f"{path}: {NOT_WHOLE}") from fault


def read_plan(path: PlanSource, work: Work) -> Plan:
    """The plan that was written, exactly.

    Raises
    ------
    PlanFileFault
        When the file is missing, damaged, of another version, or made for other data.
    """
    document = _read(path)
    if document.get("fingerprint") != work.fingerprint:
        raise PlanFileFault(f"{path}: this plan was made for other data; plan again with 'batchwright plan'.")
    return _checked(path, lambda: _plan(work, Fields(document, "the plan")))


def accepted_steps(path: PlanSource) -> tuple[AcceptedStep, ...]:
    """The steps on machines of a plan file, by name; the data may have changed since.

    Raises
    ------
    PlanFileFault
        When the file is missing, damaged or of another version.
    """
    document = _read(path)

    def steps() -> tuple[AcceptedStep, ...]:
        rows = Fields(document, "the plan").records("operations")
        return tuple(
            AcceptedStep(
                row.text("batch"), row.whole("step"), row.text("machine"), row.record("start").moment("at").isoformat()
            )
            for row in rows
            if row.given("machine")
        )

    return _checked(path, steps)


def start_from(path: PlanSource, work: Work) -> list[Listed]:
    """The list of a plan file for a search to begin with, as far as ``work`` knows its operations and machines.

    What the plan split or ran as one and ``work`` does not stands where the first half did, or what was run as one.

    Raises
    ------
    PlanFileFault
        When the file is missing, damaged or of another version.
    """
    document = _read(path)
    machines = {machine.name: i for i, machine in enumerate(work.machines)}
    people = {person.name: i for i, person in enumerate(work.people)}

    names = {batch.name for batch in work.batches}
    come_of = {made: p.batches for p in proposals_in(path) for made in p.makes if made not in names}

    def places(row: Fields) -> list[int]:
        batch, step = row.text("batch"), row.whole("step")
        found = (work.places.get((name, step)) for name in come_of.get(batch, (batch,)))
        return [at for at in found if at is not None]

    def listed(at: int, row: Fields) -> Listed:
        held = row.record("held_until").moment("at") - work.plan_start if row.has("held_until") else timedelta(0)
        machine = machines.get(row.text("machine")) if row.given("machine") else None
        named = people.get(row.text("named")) if row.has("named") else None
        return Listed(at, machine, max(0, held // timedelta(minutes=1)), named)

    def start() -> list[Listed]:
        plan = Fields(document, "the plan")
        steps: dict[int, Listed] = {}
        for row in plan.records("operations"):
            for at in places(row):
                steps.setdefault(at, listed(at, row))
        order = dict.fromkeys(at for row in plan.records("sequence") for at in places(row))
        return [steps[at] for at in order if at in steps]

    return _checked(path, start)


def planned_against(path: PlanSource) -> tuple[AcceptedStep, ...]:
    """The accepted steps that the plan in the file was itself made against (empty without ``--keep``).

    Raises
    ------
    PlanFileFault
        When the file is missing, damaged or of another version.
    """
    document = _read(path)

    def steps() -> tuple[AcceptedStep, ...]:
        rows = Fields(document, "the plan").records("kept")
        return tuple(
            AcceptedStep(r.text("batch"), r.whole("step"), r.text("machine"), r.moment("start").isoformat())
            for r in rows
        )

    return _checked(path, steps)


def proposals_in(path: PlanSource) -> tuple[Proposal, ...]:
    """The batches that the plan in the file has split or combined.

    Raises
    ------
    PlanFileFault
        When the file is missing, damaged or of another version.
    """
    document = _read(path)
    return _checked(path, lambda: tuple(map(proposal_of, Fields(document, "the plan").records("proposals"))))


def proposals_again(path: PlanSource) -> tuple[Proposal, ...]:
    """The proposals of a plan file for tables that may have changed: with the pieces that the batch rules ask for now. Raises as
    :func:`proposals_in`."""
    return tuple(replace(proposal, pieces=()) for proposal in proposals_in(path))


# --- to a document --------------------------------------------------------------------------


def _document(work: Work, plan: Plan, accepted: Sequence[AcceptedStep]) -> dict[str, Any]:
    names = Names(work)
    return {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "code_version": plan.version,
        "fingerprint": plan.fingerprint,
        "shop": work.shop,
        "zone": work.zone,
        "plan_start": work.local(0).isoformat(),
        "state": plan.state.value,
        "seed": plan.seed,
        "trials": plan.trials,
        "seconds": plan.seconds,
        "cost": cost_row(plan.cost),
        "bound": {"value": plan.bound.value, "kind": plan.bound.kind},
        "kept": [{"batch": s.batch, "step": s.operation, "machine": s.machine, "start": s.start} for s in accepted],
        "proposals": [proposal_row(proposal) for proposal in work.proposals],
        "operations": [_operation(work, names, step) for step in plan.steps],
        "sequence": [names.step(index) for index in plan.sequence],
    }  # fmt: skip


def _operation(work: Work, names: Names, step: Step) -> dict[str, Any]:
    op = work.operations[step.operation]
    first_off = step.first_off
    return {
        **names.step(step.operation),
        "description": op.description,
        "machine": None if step.machine is None else work.machines[step.machine].name,
        "pieces": op.pieces,
        "pieces_left": op.pieces_left,
        "start": names.moment(step.start),
        "setup_min": step.setup_min,
        "changeover_min": step.changeover_min,
        "setup": [_stint(names, stint) for stint in step.setup],
        "first_off": None if first_off is None else {
            "cycle_end": names.moment(first_off.cycle_end), "approver": names.person(first_off.approver),
            "start": names.moment(first_off.start), "end": names.moment(first_off.end),
        },
        "run_start": names.moment(step.run_start),
        "bursts": [{"start": names.moment(b.start), "run_min_before": b.run_min_before} for b in step.bursts],
        "run_end": names.moment(step.run_end),
        "end": names.moment(step.end),
        "work": [_stint(names, stint) for stint in step.stints],
        "equipment_from": names.moment(step.equipment_from),
        "collection": step.trip,
        "waited_for": step.waited_for,
        "waited_on": names.waited_on(step),
        "held_until": None if step.held_until is None else names.moment(step.held_until),
        "named": None if step.named is None else names.person(step.named),
    }  # fmt: skip


def _stint(names: Names, stint: Stint) -> dict[str, Any]:
    return {
        "person": names.person(stint.person),
        "start": names.moment(stint.start),
        "end": names.moment(stint.end),
    }


# --- from a document ------------------------------------------------------------------------


def _read(path: PlanSource) -> dict[str, Any]:
    text = read_once(path).text
    try:
        document = json.loads(text, parse_constant=_no_number)
    except (ValueError, RecursionError) as fault:
        raise PlanFileFault(f"{path}: {NOT_WHOLE}") from fault
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise PlanFileFault(f"{path}: this is not a plan file. {AGAIN}")
    version = document.get("format_version")
    if version != FORMAT_VERSION or isinstance(version, bool):
        raise PlanFileFault(
            f"{path}: this plan file is of version {version!r}, this program reads version {FORMAT_VERSION}. {AGAIN}"
        )
    return document


def _no_number(name: str) -> NoReturn:
    raise ValueError(f"{name} is not a number a plan can hold")


def _checked(path: PlanSource, read: Callable[[], T]) -> T:
    try:
        return read()
    except Damaged as fault:
        raise PlanFileFault(f"{path}: the plan file is damaged: {fault}. {AGAIN}") from fault


def _plan(work: Work, document: Fields) -> Plan:
    names = Names(work)
    bound = document.record("bound")
    return Plan(
        fingerprint=document.text("fingerprint"),
        steps=tuple(_step(names, row) for row in document.records("operations")),
        sequence=tuple(names.index_of(row) for row in document.records("sequence")),
        cost=cost_of(document.record("cost")),
        bound=Bound(bound.whole("value"), bound.text("kind")),
        state=document.one_of("state", {state.value: state for state in State}),
        seed=document.whole("seed"),
        trials=document.whole("trials"),
        seconds=document.number("seconds"),
        version=document.text("code_version"),
    )


def _step(names: Names, row: Fields) -> Step:
    return Step(
        operation=names.index_of(row),
        machine=row.one_of("machine", names.machines) if row.given("machine") else None,
        start=names.minute(row, "start"),
        setup_min=row.whole("setup_min"),
        changeover_min=row.whole("changeover_min"),
        setup=_stints(names, row, "setup"),
        first_off=_first_off(names, row.record("first_off")) if row.given("first_off") else None,
        run_start=names.minute(row, "run_start"),
        bursts=tuple(Burst(names.minute(b, "start"), b.whole("run_min_before")) for b in row.records("bursts")),
        run_end=names.minute(row, "run_end"),
        end=names.minute(row, "end"),
        stints=_stints(names, row, "work"),
        equipment_from=names.minute(row, "equipment_from"),
        trip=row.whole("collection") if row.given("collection") else None,
        waited_for=row.text("waited_for"),
        waited_on=names.index_waited_on(row),
        held_until=names.minute(row, "held_until") if row.has("held_until") else None,
        named=names.person_index(row, "named") if row.has("named") else None,
    )


def _first_off(names: Names, row: Fields) -> FirstOff:
    moments = (names.minute(row, "cycle_end"), names.minute(row, "start"), names.minute(row, "end"))
    return FirstOff(moments[0], names.person_index(row, "approver"), moments[1], moments[2])


def _stints(names: Names, row: Fields, name: str) -> tuple[Stint, ...]:
    return tuple(
        Stint(names.person_index(s, "person"), names.minute(s, "start"), names.minute(s, "end"))
        for s in row.records(name)
    )
