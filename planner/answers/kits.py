"""Every batch that needs components: when its kit is complete, what it waits for, what is short.

The kit date is the latest date of any component; a component's slack is the time between the two. A
shortage is a bought component that is neither in stock nor on order: it has no date, so the
kit date leaves it out and the plan takes it as here when needed.
"""

from __future__ import annotations

from dataclasses import dataclass

from planner.answers.feeds import Feeds, batch_end
from planner.answers.wording import moment_iso, moment_text
from planner.plan import Plan, Step
from planner.work import Batch, Begun, Need, Work

NOT_ON_ORDER = "not on order"


@dataclass(frozen=True)
class Component:
    """One supply of one component. ``slack_min`` is the kit date minus its own date."""

    part: str
    pieces: int
    operation: int  # step of the parent that uses it
    source: str  # 'stock', 'receipt R3', 'batch B12' or 'not on order'
    date: str
    date_at: str | None
    date_min: int | None  # None: not on order, or not planned
    slack_min: int | None
    short: bool


@dataclass(frozen=True)
class Kit:
    """The components of one batch."""

    batch: str
    part: str
    description: str
    pieces: int
    orders: tuple[str, ...]
    kit_date: str
    kit_at: str | None
    kit_min: int
    start: str  # of the first step that uses any of them
    start_at: str | None
    start_min: int | None
    waits_for: str  # the component that comes last, with its source; empty when all are here
    shortages: tuple[str, ...]
    components: tuple[Component, ...]  # the latest first, shortages before all


def kits(work: Work, plan: Plan) -> list[Kit]:
    """A kit for each batch with components still to come or to be used, by kit start."""
    steps, feeds = plan.step_of(), Feeds(work)
    needs: dict[int, list[Need]] = {}
    for need in work.needs:
        op = work.operations[need.operation]
        if op.begun is not Begun.DONE:
            needs.setdefault(op.batch, []).append(need)
    found = [_kit(work, steps, feeds, work.batches[batch], lines) for batch, lines in needs.items()]
    return sorted(found, key=lambda k: (k.start_min if k.start_min is not None else 1 << 50, k.batch))


def _kit(work: Work, steps: dict[int, Step], feeds: Feeds, batch: Batch, needs: list[Need]) -> Kit:
    dates = [_date(work, steps, need) for need in needs]
    kit_min = max((d for d in dates if d is not None), default=0)
    lines = [_component(work, need, date, kit_min) for need, date in zip(needs, dates, strict=True)]
    lines.sort(key=lambda c: (not c.short, -(c.date_min if c.date_min is not None else 1 << 50), c.part, c.source))
    starts = [steps[n.operation].start for n in needs if n.operation in steps]
    start_min = min(starts, default=None)
    last = next((c for c in lines if c.date_min == kit_min and kit_min > 0), None)
    return Kit(
        batch=batch.name, part=batch.part, description=batch.description, pieces=batch.start_pieces,
        orders=tuple(o.number for o in feeds.orders(batch.index)),
        kit_date=moment_text(work, kit_min) if kit_min else "here", kit_at=moment_iso(work, kit_min), kit_min=kit_min,
        start="not planned" if start_min is None else moment_text(work, start_min),
        start_at=None if start_min is None else moment_iso(work, start_min), start_min=start_min,
        waits_for="" if last is None else f"{last.part} ({last.source})",
        shortages=tuple(f"{c.part}: {c.pieces} {NOT_ON_ORDER}" for c in lines if c.short),
        components=tuple(lines),
    )  # fmt: skip


def _date(work: Work, steps: dict[int, Step], need: Need) -> int | None:
    if need.batch is not None:
        return batch_end(work, steps, need.batch)
    return None if need.receipt == NOT_ON_ORDER else max(0, need.at_min)


def _component(work: Work, need: Need, date: int | None, kit_min: int) -> Component:
    short = need.batch is None and need.receipt == NOT_ON_ORDER
    no_date = "no date" if short else "not planned"
    return Component(
        part=need.part, pieces=need.pieces, operation=work.operations[need.operation].number,
        source=supply_name(work, need), date=no_date if date is None else moment_text(work, date) if date else "here",
        date_at=None if date is None else moment_iso(work, date), date_min=date,
        slack_min=None if date is None else kit_min - date, short=short,
    )  # fmt: skip


def supply_name(work: Work, need: Need) -> str:
    """Where a component comes from: 'batch B12', 'receipt R3', 'stock' or 'not on order'."""
    if need.batch is not None:
        return f"batch {work.batches[need.batch].name}"
    if need.receipt in ("", NOT_ON_ORDER):
        return need.receipt or "stock"
    return f"receipt {need.receipt}"
