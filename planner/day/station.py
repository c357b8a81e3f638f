"""One machine, or the goods-out desk, as those who book there see it: what is on it now, and what comes next."""

from __future__ import annotations

from dataclasses import dataclass

from planner.answers.wording import local_text
from planner.day.board import typed
from planner.explode.progress import step_states
from planner.intake import shop_of
from planner.main_job import Job
from planner.shop import Shop
from planner.store import Store
from planner.store.sheets import Sheets
from planner.work import Begun, Kind

OUTSIDE = "outside work"
OUT_BOOKINGS: tuple[str, ...] = ("came back",)
NEXT = 5  # how many that come next are shown


@dataclass(frozen=True)
class StepNow:
    """A step under way. ``bookings``: those that can come next, the likeliest first."""

    batch: str
    operation: int
    description: str
    part: str
    machine: str
    person: str
    good: int
    scrap: int
    pieces: int
    left: int
    state: str  # in words
    bookings: tuple[str, ...]


@dataclass(frozen=True)
class StepNext:
    """A step that comes next by the accepted plan; ``ready``: the step before it is done."""

    batch: str
    operation: int
    description: str
    part: str
    pieces: int
    planned: str
    booking: str  # 'start' or 'sent out'
    ready: bool
    waits: str


@dataclass(frozen=True)
class Station:
    name: str
    now: tuple[StepNow, ...]
    next: tuple[StepNext, ...]


def station(store: Store, job: Job, name: str) -> Station:
    """What is at a machine, or outside, now, and what comes next there by the accepted plan.

    Raises
    ------
    KeyError
        When there is no machine of that name.
    """
    if name != OUTSIDE and name not in job.shop.machines:
        raise KeyError(name)
    sheets = store.sheets()
    shop = shop_of(sheets.reading())
    now = [step for step in _under_way(shop, sheets) if (step.machine or OUTSIDE) == name]
    return Station(name, tuple(now), tuple(_coming(job, shop, sheets, name)[:NEXT]))


def _under_way(shop: Shop, sheets: Sheets) -> list[StepNow]:
    found = []
    for batch in shop.batches.values():
        routing = shop.routings[batch.part]
        for step, state in zip(routing.operations, step_states(routing, batch.quantity, batch.progress), strict=True):
            row = state.row
            if row is None or state.begun not in (Begun.RUNNING, Begun.OUT):
                continue
            first_off = step.first_off_skill is not None and not row.first_off_passed
            out = state.begun is Begun.OUT
            words, bookings = ("out", OUT_BOOKINGS) if out else _doing(row.setup_left_min, first_off)
            found.append(
                StepNow(
                    batch.number, step.number, step.description, batch.part, row.machine or "", row.person or "", row.good,
                    row.scrap, state.pieces, state.pieces_left, words, bookings,
                )
            )  # fmt: skip
    return sorted(found, key=lambda s: (s.batch, s.operation))


def _doing(setup_left_min: int, first_off_open: bool) -> tuple[str, tuple[str, ...]]:
    if setup_left_min:
        return f"being set, {setup_left_min} min left", ("setup done", "stop")
    if first_off_open:
        return "first-off open", ("first-off passed", "first-off failed", "scrap", "stop")
    return "running", ("good", "scrap", "finish", "stop", "rework")


def _coming(job: Job, shop: Shop, sheets: Sheets, name: str) -> list[StepNext]:
    """By the accepted plan, what is not begun yet."""
    booked = {(r["batch"], int(r["operation"])): typed(r)["state"] for r in sheets.rows("progress")}
    found = []
    for step in sorted(job.plan.steps, key=lambda s: (s.start, s.run_end)):
        op = job.work.operations[step.operation]
        batch = job.work.batches[op.batch]
        where = (
            OUTSIDE if op.kind is Kind.OUTSIDE else "" if step.machine is None else job.work.machines[step.machine].name
        )
        if where != name or booked.get((batch.name, op.number)) in ("running", "done", "out"):
            continue
        waits = _waits(job, booked, op.index)
        planned = local_text(job.work.local(step.run_start if where == OUTSIDE else step.start))
        booking = "sent out" if where == OUTSIDE else "start"
        found.append(
            StepNext(
                batch.name, op.number, op.description, batch.part, op.pieces_left, planned, booking, not waits, waits
            )
        )
    return found


def _waits(job: Job, booked: dict[tuple[str, int], str], operation: int) -> str:
    """What before it in its batch is not done yet; a wait counts as over."""
    op = job.work.operations[operation]
    batch = job.work.batches[op.batch]
    before = [job.work.operations[i] for i in batch.operations if i < operation]
    open_ = [b.number for b in before if b.kind is not Kind.WAIT and b.begun is not Begun.DONE
             and booked.get((batch.name, b.number)) != "done"]  # fmt: skip
    return f"waits for operation {open_[-1]}" if open_ else ""
