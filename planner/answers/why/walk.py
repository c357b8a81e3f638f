"""The walk back along the binding chain, from a finish to the plan start."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from planner.answers.feeds import order_finish
from planner.answers.why.facts import Facts
from planner.answers.why.own import own
from planner.answers.why.queue import waits
from planner.answers.why.split import clipped
from planner.answers.why.sublots import Arrival, arrivals, starved
from planner.chain import Chain, Part, PartKind
from planner.plan import Step
from planner.work import NEVER, Kind, Order

ORIGIN = 0  # nothing is known of the time before the plan start


@dataclass(frozen=True)
class Source:
    """What a step's start waited for: all of it was there at ``there``.

    ``before`` is the step it came from (None: nothing in the plan), which was through with it at ``done``; it left at
    ``left``, after any elapsed wait, and moved on.
    """

    there: int
    before: Step | None = None
    done: int = 0
    left: int = 0


def order_chain(facts: Facts, order: Order) -> Chain | None:
    """The chain of an order; None where the plan has no time for a part of it."""
    finish = order_finish(facts.work, facts.steps, order)
    if finish is None or finish >= NEVER:
        return None
    last = _governs(facts, order, finish)
    if last is None:
        receipt = next((s.receipt for s in order.sources if s.batch is None and s.at_min == finish), "")
        part = Part(PartKind.RECEIPT, ORIGIN, finish, None, receipt=receipt)
        return Chain(order.index, None, ORIGIN, finish, (part,) if finish > ORIGIN else ())
    return Chain(order.index, None, ORIGIN, finish, _back(facts, last))


def batch_chain(facts: Facts, batch: int) -> Chain | None:
    """The chain of one batch; None where the plan has no time for it."""
    last = facts.last_of(batch)
    if last is None:
        return Chain(None, batch, ORIGIN, ORIGIN, ()) if facts.is_done(batch) else None
    return None if last.end >= NEVER else Chain(None, batch, ORIGIN, last.end, _back(facts, last))


def _governs(facts: Facts, order: Order, finish: int) -> Step | None:
    """The last step of the batch that the order is ready with; None where it is a receipt, or nothing."""
    lasts = [facts.last_of(s.batch) for s in order.sources if s.batch is not None]
    return next((step for step in lasts if step is not None and step.end == finish > ORIGIN), None)


def _back(facts: Facts, last: Step) -> tuple[Part, ...]:
    """All parts, in order of time."""
    found: list[Part] = []
    source = Source(last.end, last, last.run_end, last.end)
    at = last.end
    while source.before is not None:
        stretch, source = _visit(facts, source, at)
        parts = list(clipped(stretch, at))
        found[:0] = parts
        at = parts[0].start if parts else min(at, source.there)
    return tuple(p for p in found if p.start < p.end)


def _visit(facts: Facts, came: Source, at: int) -> tuple[list[Part], Source]:
    """One step: parts up to where it gave its pieces on (not clipped), and what it had waited for itself."""
    step = came.before
    assert step is not None
    tail = [Part(PartKind.WAIT, came.done, came.left, step.operation)] if came.done < came.left else []
    done = min(came.done, at)
    coming = arrivals(facts, step)
    hungry = starved(facts, step, coming, done)
    if hungry is not None:
        source = _given(facts, step, hungry)
        parts = own(facts, step, min(source.there, done), came.done)
    else:
        source = _source(facts, step, coming)
        parts = [*waits(facts, step, source.there), *_through(facts, step, came.done)]
    return [*_moving(facts, step, source), *parts, *tail], source


def _through(facts: Facts, step: Step, done: int) -> list[Part]:
    """From its start to where it was done with what it gave on."""
    op = facts.work.operations[step.operation]
    if op.kind is Kind.OUTSIDE:
        return [Part(PartKind.OUTSIDE, step.start, step.run_end, op.index)]
    return own(facts, step, step.start, done)


# --- what came before --------------------------------------------------------------------------


def came(facts: Facts, step: Step) -> Source:
    """The step before or the component that came last to a step."""
    return _source(facts, step, arrivals(facts, step))


def _source(facts: Facts, step: Step, coming: list[Arrival]) -> Source:
    """The step before or the component that came last; the plan start where there is neither."""
    op = facts.work.operations[step.operation]
    if facts.under_way(op):
        return Source(ORIGIN)
    found = [Source(ORIGIN)]
    before = facts.before.get(op.index)
    if before is not None:
        found.append(_from_before(facts, step, facts.steps[before.index], coming))
    for _, need in facts.needs.get(op.index, ()):
        last = None if need.batch is None else facts.last_of(need.batch)
        if last is not None:
            found.append(Source(last.end, last, last.run_end, last.end))
    return max(found, key=lambda s: s.there)


def _from_before(facts: Facts, step: Step, giver: Step, coming: list[Arrival]) -> Source:
    first = next((a for a in coming if a.run_min > 0), None)
    if first is not None:
        given = _given(facts, step, first)
        # a setup that began before its pieces came: what was done to them until then
        return given if given.there <= step.start else Source(step.start, giver, given.done, given.left)
    there = facts.openings.moved(facts.work.operations[giver.operation], step.machine, giver.end)
    return Source(there, giver, giver.run_end, giver.end)


def _given(facts: Facts, step: Step, lot: Arrival) -> Source:
    """Pieces that came from the step before in a sublot; from nowhere in the plan where they were across already."""
    before = facts.before[step.operation]
    if lot.ready <= ORIGIN:
        return Source(ORIGIN)
    return Source(lot.ready, facts.steps[before.index], lot.left - before.wait_min, lot.left)


def _moving(facts: Facts, step: Step, source: Source) -> Iterator[Part]:
    """From where the pieces left to where they were there: moved in its hours, else closed."""
    giver = source.before
    if giver is None or source.left >= source.there:
        return
    op = facts.work.operations[giver.operation]
    hours = facts.openings.move(op, step.machine) if op.batch == facts.work.operations[step.operation].batch else None
    yield from facts.moving(hours, source.left, source.there, step.operation)
