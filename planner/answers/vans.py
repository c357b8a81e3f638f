"""Outside work by van: what goes on with which collection, at what charge, and what comes back when.

One charge covers all that shares a process, a charge key and a collection: the larger of the minimum and the
sum of the pieces' prices, plus a fee for each batch. Work that is away already has been charged for.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from planner.answers.wording import moment_iso, moment_text
from planner.plan import Plan, Step
from planner.work import Begun, Kind, Operation, Work


@dataclass(frozen=True)
class Parcel:
    """One batch on a van."""

    batch: str
    operation: int
    part: str
    pieces: int
    process: str
    charge_key: str
    collected: str
    back: str
    back_at: str | None
    back_min: int


@dataclass(frozen=True)
class Charge:
    """``minimum``: the minimum is charged because the pieces come to less."""

    process: str
    charge_key: str
    pieces: int
    pieces_pence: int
    fees_pence: int
    pence: int  # in all
    minimum: bool


@dataclass(frozen=True)
class Collection:
    """One van going out. ``room`` None is unlimited."""

    supplier: str
    collect: str
    collect_at: str | None
    collect_min: int
    pieces: int
    room: int | None
    parcels: tuple[Parcel, ...]
    charges: tuple[Charge, ...]
    pence: int


@dataclass(frozen=True)
class Delivery:
    """One van coming back."""

    supplier: str
    back: str
    back_at: str | None
    back_min: int
    pieces: int
    parcels: tuple[Parcel, ...]


@dataclass(frozen=True)
class Vans:
    collections: tuple[Collection, ...]
    deliveries: tuple[Delivery, ...]
    pence: int


def vans(work: Work, plan: Plan) -> Vans:
    """Every collection that the plan uses, and every delivery, in order of time."""
    going: dict[int, list[Step]] = defaultdict(list)
    coming: dict[tuple[int, str], list[Step]] = defaultdict(list)
    for step in plan.steps:
        op = work.operations[step.operation]
        if op.kind is not Kind.OUTSIDE or op.service is None:
            continue
        service = work.services[op.service]
        coming[step.run_end, service.supplier].append(step)
        if op.begun is not Begun.OUT and step.trip is not None:
            going[service.trips[step.trip].run].append(step)
    collections = [_collection(work, run, steps) for run, steps in going.items()]
    deliveries = [_delivery(work, *key, steps) for key, steps in coming.items()]
    return Vans(
        tuple(sorted(collections, key=lambda c: (c.collect_min, c.supplier))),
        tuple(sorted(deliveries, key=lambda d: (d.back_min, d.supplier))),
        sum(c.pence for c in collections),
    )


def _collection(work: Work, run: int, steps: list[Step]) -> Collection:
    van = work.runs[run]
    charges = _charges(work, steps)
    return Collection(
        van.supplier, moment_text(work, van.collect_min), moment_iso(work, van.collect_min), van.collect_min,
        sum(work.operations[s.operation].pieces for s in steps), van.room_pieces, _parcels(work, steps), charges,
        sum(c.pence for c in charges),
    )  # fmt: skip


def _delivery(work: Work, back_min: int, supplier: str, steps: list[Step]) -> Delivery:
    pieces = sum(work.operations[s.operation].pieces for s in steps)
    text, iso = moment_text(work, back_min), moment_iso(work, back_min)
    return Delivery(supplier, text, iso, back_min, pieces, _parcels(work, steps))


def _parcels(work: Work, steps: list[Step]) -> tuple[Parcel, ...]:
    found = [_parcel(work, work.operations[s.operation], s) for s in steps]
    return tuple(sorted(found, key=lambda p: (p.process, p.charge_key, p.batch, p.operation)))


def _parcel(work: Work, op: Operation, step: Step) -> Parcel:
    batch = work.batches[op.batch]
    assert op.service is not None
    collected = "away already" if op.begun is Begun.OUT else moment_text(work, step.run_start)
    return Parcel(
        batch.name, op.number, batch.part, op.pieces, work.services[op.service].process, op.charge_key, collected,
        moment_text(work, step.run_end), moment_iso(work, step.run_end), step.run_end,
    )  # fmt: skip


def _charges(work: Work, steps: list[Step]) -> tuple[Charge, ...]:
    shared: dict[tuple[int, str], list[Operation]] = defaultdict(list)
    for step in steps:
        op = work.operations[step.operation]
        assert op.service is not None
        shared[op.service, op.charge_key].append(op)
    return tuple(_charge(work, *key, shared[key]) for key in sorted(shared))


def _charge(work: Work, service_index: int, charge_key: str, operations: list[Operation]) -> Charge:
    service = work.services[service_index]
    pieces_pence = sum(op.pieces * op.piece_price_pence for op in operations)
    fees = service.line_fee_pence * len(operations)
    return Charge(
        service.process, charge_key, sum(op.pieces for op in operations), pieces_pence, fees,
        max(service.minimum_pence, pieces_pence) + fees, pieces_pence < service.minimum_pence,
    )  # fmt: skip
