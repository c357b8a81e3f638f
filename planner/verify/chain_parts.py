"""What each kind of part of a chain claims, checked against the plan and the shop's hours."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from planner.chain import Chain, Part, PartKind
from planner.plan import Step
from planner.verify import amounts, moves, sublots
from planner.verify.breach import Breach
from planner.verify.chain_spans import covered, tasks_of, worked
from planner.verify.context import Context
from planner.verify.holdings import most_held
from planner.verify.outside import trip_of
from planner.work import Begun, Kind

RULE = "chain part"

Claim = Callable[[Context, Step, Part], str]
QUEUED = (
    PartKind.MACHINE,
    PartKind.TURN,
    PartKind.KEPT,
    PartKind.VAN,
)  # of these there is none once the step has started
OWN = (PartKind.SETUP, PartKind.RUN, PartKind.APPROVING)


def is_moving(part: Part) -> bool:
    """On the way to its step, or closed for that."""
    nobodys = part.machine is None and part.person is None and part.skill is None
    return part.kind == PartKind.MOVE or (part.kind == PartKind.CLOSED and nobodys)


def claims(ctx: Context, chain: Chain, part: Part) -> Iterator[Breach]:
    """What a part says that is not so. Its operation, if it has one, is one of the plan's."""
    expected = _of_the_order(ctx, chain, part) if part.operation is None else _of_a_step(ctx, part)
    if expected:
        where = f"part '{part.kind}'" + ("" if part.operation is None else f" of {ctx.name(part.operation)}")
        yield Breach(RULE, where, expected, ctx.span(part.start, part.end))


def _of_the_order(ctx: Context, chain: Chain, part: Part) -> str:
    """An order as a whole waits for nothing but what it is given from receipts."""
    sources = () if chain.order is None else ctx.work.orders[chain.order].sources
    given = [(s.receipt, s.at_min) for s in sources if s.batch is None]
    if part.kind == PartKind.RECEIPT and part.need is None and (part.receipt, part.end) in given:
        return ""
    return "a receipt of the order that comes at its end"


def _of_a_step(ctx: Context, part: Part) -> str:
    assert part.operation is not None
    step = ctx.steps[part.operation]
    if part.kind in OWN:
        spans = [(a, b) for kind, a, b, person in worked(ctx, step) if kind == part.kind and _by(part, person)]
        return "" if covered(spans, part.start, part.end) else "minutes in which just that is done"
    overlaps = is_moving(part) or part.kind == PartKind.WAIT  # pieces on their way while others are worked on
    if not overlaps and any(a < part.end and part.start < b for _, a, b, _ in worked(ctx, step)):
        return "no minute in which the step is set, run or looked at"
    return _in_time(ctx, step, part) or CLAIMS[part.kind](ctx, step, part)


def _by(part: Part, person: int | None) -> bool:
    return part.kind != PartKind.APPROVING or part.person == person


# ---- a wait begins when all else is there ----------------------------------------------


def _in_time(ctx: Context, step: Step, part: Part) -> str:
    if part.kind in QUEUED and part.end > step.start:
        return "before the step's start"
    if is_moving(part) or part.kind in (PartKind.WAIT, PartKind.OUTSIDE) or part.start >= step.start:
        return ""
    there = _there(ctx, step)
    if part.start < there:
        return f"not before {ctx.when(there)}, when pieces and components are there"
    dates = _dates(ctx, step)
    latest = max(dates.values())
    if part.kind in dates:
        return "" if dates[part.kind] == latest else f"the latest date, {ctx.when(latest)}, before all others"
    if part.kind != PartKind.HELD:
        latest = max(latest, step.held_until or 0)
    return "" if part.start >= latest else f"not before {ctx.when(latest)}, to which it is kept"


def _there(ctx: Context, step: Step) -> int:
    return max([0, *_all_there(ctx, step)])


def _all_there(ctx: Context, step: Step) -> Iterator[int]:
    """When the components and the pieces that a step begins with are there."""
    for need in ctx.needs.get(step.operation, ()):
        yield (ctx.batch_end(need.batch) or 0) if need.batch is not None else 0
    lots = sublots.arrivals(ctx, step)
    if lots:
        yield next((lot.ready or 0 for lot in lots if lot.run_min > 0), 0)
    else:
        yield moves.whole_batch_ready(ctx, step) or 0


def _dates(ctx: Context, step: Step) -> dict[PartKind, int]:
    """The moments to which a step is kept from outside the plan."""
    operation = ctx.operation(step)
    return {
        PartKind.RELEASE: ctx.work.batches[operation.batch].release_min,
        PartKind.DECISION: operation.not_before_min,
        PartKind.RECEIPT: max([0, *(n.at_min for n in ctx.needs.get(operation.index, ()) if n.batch is None)]),
    }


# ---- dates -----------------------------------------------------------------------------


def _release(ctx: Context, step: Step, part: Part) -> str:
    release = ctx.work.batches[ctx.operation(step).batch].release_min
    return _until(ctx, part, release, "the release of its batch")


def _decision(ctx: Context, step: Step, part: Part) -> str:
    return _until(ctx, part, ctx.operation(step).not_before_min, "the moment it is pinned to")


def _held(ctx: Context, step: Step, part: Part) -> str:
    return _until(ctx, part, step.held_until or 0, "the moment the plan holds it back to")


def _receipt(ctx: Context, step: Step, part: Part) -> str:
    if part.need is None or not 0 <= part.need < len(ctx.work.needs):
        return "a receipt that it needs"
    need = ctx.work.needs[part.need]
    if need.batch is not None or need.operation != step.operation:
        return "a receipt that it needs"
    return _until(ctx, part, need.at_min, "the receipt")


def _until(ctx: Context, part: Part, moment: int, what: str) -> str:
    return "" if part.end <= moment else f"over by {ctx.when(moment)}, {what}"


# ---- queues ------------------------------------------------------------------------------


def _machine(ctx: Context, step: Step, part: Part) -> str:
    return _told_as_kept(ctx, step, part) or _on_it(ctx, step, part)


def _on_it(ctx: Context, step: Step, part: Part) -> str:
    other = ctx.steps.get(-1 if part.behind is None else part.behind)
    if other is None or other is step or other.machine != step.machine or part.machine != step.machine:
        return f"another step on {ctx.machine(step.machine)}"
    if other.start <= part.start and part.end <= other.run_end:
        return ""
    return f"{ctx.name(other)} on the machine, {ctx.span(other.start, other.run_end)}"


def _turn(ctx: Context, step: Step, part: Part) -> str:
    return _told_as_kept(ctx, step, part) or _to_come(ctx, step, part)


def _to_come(ctx: Context, step: Step, part: Part) -> str:
    other = ctx.steps.get(-1 if part.behind is None else part.behind)
    if other is None or other.machine != step.machine or part.machine != step.machine:
        return f"another step on {ctx.machine(step.machine)}"
    if not part.end <= other.start < step.start:
        return f"{ctx.name(other)} to come after it and before this step"
    return _machine_free(ctx, step, part)


def _told_as_kept(ctx: Context, step: Step, part: Part) -> str:
    if part.behind is not None and part.behind in _kept_behind(ctx, step):
        return f"a place that is kept behind {ctx.name(part.behind)}"
    return ""


def _kept(ctx: Context, step: Step, part: Part) -> str:
    if part.behind is None or part.behind not in _kept_behind(ctx, step):
        return "a step that began when this one was ready, and behind which its place is kept"
    comes = min(max(ctx.steps[part.behind].start, part.start), part.end)
    before, after = replace(part, end=comes), replace(part, start=comes)
    return (_to_come(ctx, step, before) if before.minutes else "") or (
        _on_it(ctx, step, after) if after.minutes else ""
    )


def _kept_behind(ctx: Context, step: Step) -> set[int]:
    """Steps that began on its machine once it was ready, and behind which it is kept, from one to the one before it."""
    ready = max(_there(ctx, step), *_dates(ctx, step).values(), step.held_until or 0)
    found: set[int] = set()
    at = step
    while True:
        kept, before = ctx.kept.get(at.operation), ctx.before_on_machine(at)
        if kept is None or kept.weight == 1 or before is None:
            return found
        running = ctx.operation(before).begun == Begun.RUNNING
        if kept.machine != at.machine or kept.after != before.operation or running or before.start < ready:
            return found
        found.add(before.operation)
        at = before


def _machine_free(ctx: Context, step: Step, part: Part) -> str:
    """The machine is attended and nothing else is on it."""
    if step.machine is None:
        return "a step on a machine"
    if not _all_open(ctx.attended(step.machine).minutes(part.start, part.end), part):
        return f"minutes in which {ctx.machine(step.machine)} is attended"
    for other in ctx.lines[step.machine]:
        if other is not step and other.start < part.end and part.start < other.run_end:
            return f"nothing else on {ctx.machine(step.machine)}, but {ctx.name(other)} is"
    return ""


def _all_open(minutes: int, part: Part) -> bool:
    return minutes == part.end - part.start


def _person(ctx: Context, step: Step, part: Part) -> str:
    operation = ctx.operation(step)
    if part.skill is None or part.skill != operation.skill or part.person is None:
        return f"a person for {ctx.skill(operation.skill)}"
    return _machine_free(ctx, step, part) or _at_something(ctx, step, part)


def _at_something(ctx: Context, step: Step, part: Part) -> str:
    """The person is able, and at the other task for all of the time (or with none named, somebody able is there)."""
    assert part.person is not None
    if part.skill not in ctx.work.people[part.person].skills:
        return f"someone with {ctx.skill(part.skill)}"
    if part.behind is None:
        able = [ctx.person_hours(i) for i, p in enumerate(ctx.work.people) if part.skill in p.skills]
        there = any(_all_open(hours.minutes(part.start, part.end), part) for hours in able)
        return "" if there else f"someone with {ctx.skill(part.skill)} there"
    if not _all_open(ctx.person_hours(part.person).minutes(part.start, part.end), part):
        return f"minutes in which {ctx.person(part.person)} is there"
    other = ctx.steps.get(part.behind)
    spans = [] if other is None or other is step else [(a, b) for p, a, b in tasks_of(other) if p == part.person]
    soon = part.kind == PartKind.PERSON and any(part.start < a < step.start for a, _ in spans)
    return "" if soon or covered(spans, part.start, part.end) else f"{ctx.person(part.person)} at that other task"


def _approver(ctx: Context, step: Step, part: Part) -> str:
    check = step.first_off
    if check is None or part.start < check.cycle_end or part.end > check.start:
        return "between the first piece and its approval"
    if part.person is None or part.skill != ctx.operation(step).first_off_skill:
        return f"someone with {ctx.skill(ctx.operation(step).first_off_skill)}"
    return _at_something(ctx, step, part)


def _equipment(ctx: Context, step: Step, part: Part) -> str:
    units = dict(ctx.operation(step).equipment).get(-1 if part.equipment is None else part.equipment)
    other = ctx.steps.get(-1 if part.behind is None else part.behind)
    if units is None or part.equipment is None or other is None or other is step:
        return "equipment that it needs, held by another step"
    if part.equipment not in dict(ctx.operation(other).equipment):
        return f"held by {ctx.name(other)}"
    has = other.equipment_from <= part.start and part.end <= other.run_end
    short = most_held(ctx.held[part.equipment], part.start, part.end) + units > ctx.work.equipment[part.equipment].count
    soon = part.start < other.equipment_from < step.start
    return _machine_free(ctx, step, part) if (has and short) or soon else f"held by {ctx.name(other)}, or soon to be"


def _stretch(ctx: Context, step: Step, part: Part) -> str:
    return "a run that may not pause" if ctx.operation(step).may_pause else _machine_free(ctx, step, part)


def _other(ctx: Context, step: Step, part: Part) -> str:
    return ""


# ---- on the way ----------------------------------------------------------------------------


def _move(ctx: Context, step: Step, part: Part) -> str:
    before = ctx.before_in_batch(ctx.operation(step))
    if before is None or part.end - part.start > before.move_min:
        return f"at most the {0 if before is None else before.move_min} minutes of the move"
    hours = moves.move_hours(ctx, before, step.machine)
    if hours is not None and not _all_open(hours.minutes(part.start, part.end), part):
        return "minutes in which things are moved"
    return ""


def _wait(ctx: Context, step: Step, part: Part) -> str:
    operation = ctx.operation(step)
    sooner = operation.transfer_pieces is not None and part.start >= step.run_start
    if part.end - part.start <= operation.wait_min and (part.start >= step.run_end or sooner) and part.end <= step.end:
        return ""
    return f"the {operation.wait_min} minutes that it lies after its run"


def _van(ctx: Context, step: Step, part: Part) -> str:
    if trip_of(ctx, step) is None or ctx.operation(step).begun == Begun.OUT:
        return "a step that goes out"
    return ""


def _outside(ctx: Context, step: Step, part: Part) -> str:
    if ctx.operation(step).kind != Kind.OUTSIDE:
        return "a step at another firm"
    if (part.start, part.end) == (
        step.run_start,
        step.run_end,
    ) or step.run_start <= part.start < part.end <= step.run_end:
        return ""
    return f"from the collection to the return, {ctx.span(step.run_start, step.run_end)}"


def _closed(ctx: Context, step: Step, part: Part) -> str:
    operation = ctx.operation(step)
    if part.machine is not None:
        return _machine_closed(ctx, step, part)
    if part.person is not None:
        concerned = {s.person for s in (*step.setup, *step.stints)} | {operation.pin_person}
        if step.first_off is not None:
            concerned.add(step.first_off.approver)
        shut = not ctx.person_hours(part.person).minutes(part.start, part.end)
        return (
            "" if shut and part.person in concerned else f"minutes in which {ctx.person(part.person)} is away from it"
        )
    if part.skill is not None:
        if part.skill not in (operation.skill, operation.first_off_skill):
            return "a skill that it asks for"
        able = [i for i, p in enumerate(ctx.work.people) if part.skill in p.skills and not _barred(ctx, step, part, i)]
        open_min = sum(ctx.person_hours(i).minutes(part.start, part.end) for i in able)
        return "" if not open_min else f"minutes in which nobody with {ctx.skill(part.skill)} is there"
    before = ctx.before_in_batch(operation)
    hours = None if before is None or not before.move_min else moves.move_hours(ctx, before, step.machine)
    shut = hours is not None and not hours.minutes(part.start, part.end)
    return "" if shut else "minutes in which nothing is moved"


def _barred(ctx: Context, step: Step, part: Part, person: int) -> bool:
    """Who has set it may not approve its first piece."""
    if step.first_off is None or part.start < step.first_off.cycle_end or ctx.work.setter_may_approve:
        return False
    return any(stint.person == person for stint in step.setup)


def _machine_closed(ctx: Context, step: Step, part: Part) -> str:
    assert part.machine is not None
    if part.machine != step.machine:
        return f"its own machine, {ctx.machine(step.machine)}"
    hours = ctx.attended(part.machine)
    operation = ctx.operation(step)
    begun = [burst.start for burst in step.bursts if burst.start <= part.start]
    first_cycle = amounts.first_off_due(operation) and len(begun) == 1
    if begun and not first_cycle and part.end not in [burst.start for burst in step.bursts]:
        hours = ctx.run_hours(part.machine, operation.unattended_limit_min)
    return "" if not hours.minutes(part.start, part.end) else f"minutes in which {ctx.machine(part.machine)} is closed"


CLAIMS: dict[PartKind, Claim] = {
    PartKind.RELEASE: _release, PartKind.DECISION: _decision, PartKind.HELD: _held, PartKind.RECEIPT: _receipt,
    PartKind.MACHINE: _machine, PartKind.TURN: _turn, PartKind.KEPT: _kept,
    PartKind.PERSON: _person, PartKind.APPROVER: _approver,
    PartKind.EQUIPMENT: _equipment, PartKind.STRETCH: _stretch, PartKind.OTHER: _other, PartKind.MOVE: _move,
    PartKind.WAIT: _wait, PartKind.VAN: _van, PartKind.OUTSIDE: _outside, PartKind.CLOSED: _closed,
}  # fmt: skip
