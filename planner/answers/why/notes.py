"""What follows from a chain for whoever wants it sooner: where time saved gains nothing, and which component governs."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from planner.answers.kits import NOT_ON_ORDER
from planner.answers.why.facts import Facts
from planner.answers.why.words import behind, bought, kept_text, line_text, trips_of
from planner.answers.wording import capital, elapsed_text, short_moment_text, step_name
from planner.chain import DATES, FIXED, FOR_MACHINE, QUEUES, Chain, Part, PartKind
from planner.plan import Step
from planner.work import Trip

FIRM = (*QUEUES, *DATES, PartKind.HELD)  # none of these ends sooner because the pieces are there sooner
WORKED = (PartKind.SETUP, PartKind.RUN, PartKind.APPROVING, PartKind.MOVE, PartKind.WAIT, PartKind.OUTSIDE)
MOST = 3  # of each sort


def notes(facts: Facts, chain: Chain) -> tuple[str, ...]:
    """Sentences, the most useful first."""
    vans = [_van_note(facts, chain, p) for p in reversed(chain.parts) if p.kind is PartKind.VAN]
    return tuple(
        [
            *_gains_nothing(facts, chain),
            *vans[:MOST],
            *list(_kept(facts, chain))[:MOST],
            *list(_kits(facts, chain))[:MOST],
            *_not_on_order(facts, chain),
        ]
    )


def _not_on_order(facts: Facts, chain: Chain) -> Iterator[str]:
    """Bought parts without a date, which the plan takes as here: the finish hangs on them too."""
    for op in dict.fromkeys(p.operation for p in chain.parts if p.operation is not None):
        for _, need in facts.needs.get(op, ()):
            if need.receipt == NOT_ON_ORDER:
                name = step_name(facts.work, facts.work.operations[op])
                yield f"{need.pieces} of {need.part} for {name} are not on order: taken as here when needed."


def _gains_nothing(facts: Facts, chain: Chain) -> Iterator[str]:
    """Of the last wait that does not end sooner by itself: what comes before it can be hurried in vain."""
    last = next((p for p in reversed(chain.parts) if p.kind in FIRM and p.operation is not None), None)
    if last is None or last.operation is None or last.kind is PartKind.VAN:
        return
    since = next(p.start for p in chain.parts if p.operation == last.operation and p.kind in FIRM)
    if since <= chain.origin:
        return
    name, step = step_name(facts.work, facts.work.operations[last.operation]), facts.steps[last.operation]
    unless = "" if last.behind is None else f", unless {_through(facts, last)} is through sooner too"
    what = line_text(facts, step, [last])
    until = (
        f", until {short_moment_text(facts.work, last.end)}" if last.kind in QUEUES else ""
    )  # dates say it themselves
    yield (
        f"Time saved before {short_moment_text(facts.work, since)} gains nothing{unless}: "
        f"{name} {what if what.startswith('waits') else f'is {what}'}{until}."
    )


def _through(facts: Facts, part: Part) -> str:
    return behind(facts, [part])[0].what


def _kept(facts: Facts, chain: Chain) -> Iterator[str]:
    """Steps that were ready when another began and yet stand behind it, where that place has a price: the last first."""
    for op in dict.fromkeys(
        p.operation for p in reversed(chain.parts) if p.kind in FOR_MACHINE and p.operation is not None
    ):
        step, parts = facts.steps[op], [p for p in chain.parts if p.operation == op and p.kind in FOR_MACHINE]
        firm = [p for p in parts if p.kind is PartKind.KEPT]
        before = firm[0].behind if firm else facts.kept_right_behind(step)
        if before is None or step.machine is None or facts.steps[before].start < parts[0].start:
            continue
        name, other = (step_name(facts.work, facts.work.operations[i]) for i in (op, before))
        ready = f"{name} was ready when {other} began on {facts.work.machines[step.machine].name}"
        if firm:
            yield f"{ready}, and {kept_text(facts, firm)} behind it."
        else:
            yield f"{ready}, and is right behind it as in the accepted plan, where another place has its price."


def _van_note(facts: Facts, chain: Chain, part: Part) -> str:
    """How much later or sooner an outside step could be ready without another collection."""
    assert part.operation is not None
    work, step, ready = facts.work, facts.steps[part.operation], part.start
    trips = trips_of(facts, step)
    taken = trips[step.trip or 0]
    missed = next((t for t in reversed(trips[: step.trip]) if 0 <= t.cutoff_min < ready), None)
    text = (
        f"{step_name(work, work.operations[part.operation])} is ready {short_moment_text(work, ready)} for the collection on "
        f"{short_moment_text(work, taken.collect_min)}: {elapsed_text(max(0, taken.cutoff_min - ready))} later would do as well"
    )
    if missed is None:
        return f"{text}, and time saved before gains nothing: there is no collection before."
    before = f"the collection before is on {short_moment_text(work, missed.collect_min)}"
    fixed = _last_fixed(chain, part)
    since = chain.origin if fixed is None else fixed.end
    if _own_min(chain, since, part.start) > missed.cutoff_min - since:
        when = "before" if fixed is None else f"once {_fixed_text(facts, fixed, part)}"
        return f"{text}, and waiting less {when} gains nothing: {before}, too soon for its own work alone."
    full = ", which is full" if _is_full(facts, step, missed) else ""
    return (
        f"{text}, and less than {elapsed_text(ready - missed.cutoff_min)} saved before gains nothing ({before}{full})."
    )


def _last_fixed(chain: Chain, part: Part) -> Part | None:
    """The last date before a part to which the way is kept: sooner, it would help."""
    return next((p for p in reversed(chain.parts) if p.end <= part.start and p.kind in FIXED), None)


def _fixed_text(facts: Facts, fixed: Part, part: Part) -> str:
    """'its material is here', of another batch than the part's by its name."""
    op = None if fixed.operation is None else facts.work.operations[fixed.operation]
    own = op is None or part.operation is None or op.batch == facts.work.operations[part.operation].batch
    if fixed.kind is PartKind.RECEIPT:
        return f"{bought(facts, fixed)} is here"
    if fixed.kind is PartKind.RELEASE:
        return (
            "its material is here"
            if own or op is None
            else f"the material of {facts.work.batches[op.batch].name} is here"
        )
    name = "it" if op is None else step_name(facts.work, op)
    return f"{name} may begin, {short_moment_text(facts.work, fixed.end)}"


def _own_min(chain: Chain, since: int, until: int) -> int:
    """Minutes of work of its own from one moment to another."""
    return sum(p.minutes for p in chain.parts if since <= p.start and p.end <= until and p.kind in WORKED)


def _is_full(facts: Facts, step: Step, trip: Trip) -> bool:
    room = facts.work.runs[trip.run].room_pieces
    return room is not None and facts.on_run[trip.run] + facts.work.operations[step.operation].pieces > room


# --- kits ------------------------------------------------------------------------------------


def _kits(facts: Facts, chain: Chain) -> Iterator[str]:
    """Where a component governs: how much it could be sooner before something else does."""
    for earlier, later in pairwise(chain.parts):
        if earlier.operation is None or later.operation is None or earlier.operation == later.operation:
            continue
        own, taker = facts.work.operations[earlier.operation].batch, facts.work.operations[later.operation]
        if own == taker.batch:
            continue
        others = sorted(_others(facts, facts.steps[taker.index], own), reverse=True)
        moment, name = others[0] if others else (0, "")
        if moment > 0:
            record, gap = facts.work.batches[own], earlier.end - moment
            yield (
                f"{capital(record.description or record.part)} ({record.name}) governs {step_name(facts.work, taker)}: "
                f"no more than {elapsed_text(max(0, gap))} is gained there by having it sooner, then {name} is waited for."
            )


def _others(facts: Facts, taker: Step, governs: int) -> Iterator[tuple[int, str]]:
    """All else that the step waits for, with its moment."""
    op = facts.work.operations[taker.operation]
    before = facts.before.get(op.index)
    if before is not None:
        yield facts.openings.moved(before, taker.machine, facts.steps[before.index].end), step_name(facts.work, before)
    for place, need in facts.needs.get(op.index, ()):
        if need.batch is None:
            yield need.at_min, bought(facts, Part(PartKind.RECEIPT, 0, 0, op.index, need=place))
        elif need.batch != governs:
            record = facts.work.batches[need.batch]
            yield facts.there(need), f"{record.description or record.part} ({record.name})"
