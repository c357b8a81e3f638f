"""What is said of one way to have an enquiry: its date, how sure, what it rests on, and whom it moves."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from planner.answers.feeds import ready_times
from planner.answers.kits import NOT_ON_ORDER, Component, Kit, kits
from planner.answers.rows import as_row, as_rows
from planner.answers.way import Ways
from planner.answers.why import ChainRefused, Why, why
from planner.answers.wording import elapsed_text, late_text, moment_iso, moment_text
from planner.dates.enquiry import Asked, goes_outside
from planner.dates.placing import finish_of
from planner.main_job import Job
from planner.plan import Plan
from planner.risk.record import Record
from planner.work import Kind

SMALLEST_MOVE_MIN = 1


@dataclass(frozen=True)
class Moved:
    """An order that is ready at another time than planned. ``later_min`` is negative where it is sooner."""

    order: str
    customer: str
    later_min: int
    ready: str
    late_before_min: int  # past its promise (its due where none was given); 0: in time
    late_now_min: int

    @property
    def early_before_min(self) -> int:
        """How long before its promise it was ready as planned; 0: it was late already."""
        return max(0, self.later_min - self.late_now_min) if self.late_now_min and not self.late_before_min else 0

    @property
    def slips(self) -> bool:
        """Is it later past its promise than it was?"""
        return self.late_now_min > self.late_before_min


@dataclass(frozen=True)
class Used:
    """A step of the enquiry in the plan."""

    batch: str
    part: str
    operation: int
    description: str
    on: str  # machine, outside firm, or ''
    start: str
    end: str
    start_min: int
    end_min: int


@dataclass(frozen=True)
class KitLine:
    """A component of the enquiry's last assembly. ``float_min``: how much later it could come and the kit be as early."""

    part: str
    source: str
    date: str
    float_min: int | None
    governs: bool
    text: str  # 'X from batch Q/X-1: Tue 7 Apr 2026 10:00, could be 2.0 days later'


@dataclass(frozen=True)
class Reply:
    """One way to have it. ``ready_min`` is planned; ``likely`` and ``safe`` come from draws (empty until they are made)."""

    way: str
    pieces: int
    ready_min: int
    ready: str
    ready_at: str | None
    late_min: int | None  # against the wanted date: negative is early; None without one
    proved_earliest: bool  # no allowed plan that keeps the same promises is earlier
    why: Why | None  # what decides the date
    kit: tuple[KitLine, ...]
    used: tuple[Used, ...]
    moved: tuple[Moved, ...]  # the most harmed first
    outside: bool = False  # does something made for it go to an outside firm?
    likely: str = ""
    likely_min: int | None = None
    safe: str = ""
    safe_min: int | None = None
    sure_percent: int = 0
    chance_wanted: float | None = None  # of being ready by the wanted date
    assumptions: tuple[
        str, ...
    ] = ()  # what it rests on; in :class:`planner.dates.Dates` without what all answers rest on
    plan: Plan | None = field(default=None, repr=False, compare=False)
    drawn: np.ndarray | None = field(default=None, repr=False, compare=False)  # ready times of all draws, sorted
    record: Record = field(default=Record(), repr=False, compare=False)  # what draws have been worth

    def chance_by(self, minute: int) -> float | None:
        """Chance of being ready by a minute, by the draws and what they have been worth; None where none were made."""
        return None if self.drawn is None else self.record.worth(float((self.drawn <= minute).mean()))

    @property
    def slips(self) -> tuple[Moved, ...]:
        """Orders that get later past their promise than they were."""
        return tuple(m for m in self.moved if m.slips)

    def plain(self) -> dict[str, Any]:
        """As plain data for JSON, without plan and draws behind it."""
        row = as_row(replace(self, plan=None, drawn=None, record=Record()))
        del row["plan"], row["drawn"], row["record"]
        slips = [
            {**row, "early_before_min": m.early_before_min}
            for row, m in zip(as_rows(self.slips), self.slips, strict=True)
        ]
        return {**row, "slips": slips}


def reply(job: Job, asked: Asked, way: str, plan: Plan, proved: bool = False) -> Reply:
    """What a plan says of the enquiry in it."""
    work, ready = asked.work, finish_of(asked, plan)
    wanted = asked.wanted_min
    return Reply(
        way=way,
        pieces=asked.enquiry.pieces,
        ready_min=ready,
        ready=moment_text(work, ready),
        ready_at=moment_iso(work, ready),
        late_min=None if wanted is None else ready - wanted,
        proved_earliest=proved,
        why=_why(asked, plan),
        kit=_kit(asked, plan),
        used=_used(asked, plan),
        moved=_moved(job, asked, plan),
        outside=goes_outside(asked),
        plan=plan,
    )


# --- whom it moves ---------------------------------------------------------------------------


def _moved(job: Job, asked: Asked, plan: Plan) -> tuple[Moved, ...]:
    before, after = ready_times(job.work, job.plan), ready_times(asked.work, plan)
    found = []
    for order in asked.work.orders:
        was, now = before.get(order.number), after.get(order.number)
        if order.index == asked.order or was is None or now is None or abs(now - was) < SMALLEST_MOVE_MIN:
            continue
        promise = order.promised_min
        found.append(
            Moved(
                order.number, order.customer, now - was, moment_text(asked.work, now),
                max(0, was - promise), max(0, now - promise),
            )
        )  # fmt: skip
    return tuple(sorted(found, key=lambda m: (m.late_before_min - m.late_now_min, -m.later_min, m.order)))


# --- what it rests on --------------------------------------------------------------------------


def _used(asked: Asked, plan: Plan) -> tuple[Used, ...]:
    work, steps = asked.work, plan.step_of()
    found = []
    for i in sorted(asked.batches):
        batch = work.batches[i]
        for op in (work.operations[o] for o in batch.operations):
            step = steps.get(op.index)
            if step is None:
                continue
            on = work.machines[step.machine].name if step.machine is not None else ""
            if op.kind is Kind.OUTSIDE and op.service is not None:
                on = work.services[op.service].supplier
            found.append(
                Used(
                    batch.name, batch.part, op.number, op.description, on, moment_text(work, step.start),
                    moment_text(work, step.end), step.start, step.end,
                )
            )  # fmt: skip
    return tuple(sorted(found, key=lambda u: (u.start_min, u.end_min, u.batch, u.operation)))


def _kit(asked: Asked, plan: Plan) -> tuple[KitLine, ...]:
    """Components of the batch that the enquiry waits for last, if it is assembled."""
    ways = Ways(asked.work, plan)
    last = ways.last_batch(asked.work.orders[asked.order])
    if last is None:
        return ()
    name = asked.work.batches[last].name
    kit: Kit | None = next((k for k in kits(asked.work, plan) if k.batch == name), None)
    if kit is None:
        return ()
    lines = [_kit_line(component) for component in kit.components]
    return tuple(sorted(lines, key=lambda k: (not k.governs, k.source == NOT_ON_ORDER)))  # else the latest first


def _kit_line(c: Component) -> KitLine:
    governs = c.slack_min == 0 and not c.short
    room = f", could be {elapsed_text(c.slack_min)} later" if c.slack_min else ""
    text = f"{c.part} from {c.source}: {c.date}{', the one it waits for' if governs else room}"
    if c.short:
        text = f"{c.part} is not on order: it has no date, and is taken as here when needed"
    return KitLine(c.part, c.source, c.date, c.slack_min, governs, text)


def _why(asked: Asked, plan: Plan) -> Why | None:
    """What decides the date; None where the explanation does not stand its check."""
    number = asked.work.orders[asked.order].number
    try:
        found = why(asked.work, plan, number)
    except ChainRefused:
        return None
    name = f"The enquiry ({asked.enquiry.pieces:,} of {asked.enquiry.part})"
    said = found.sentence.removeprefix(number)
    if asked.wanted_min is None:  # then it has no date to be early or late against
        due = asked.work.orders[asked.order].due_min
        said = said.replace(f", {late_text(finish_of(asked, plan) - due)}", "", 1)
    return replace(found, sentence=name + said)
