"""Rule 2: how long a setup is, who does it, and when."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from planner.plan import Step, Stint
from planner.verify.breach import Breach
from planner.verify.context import Context
from planner.verify.holdings import most_held
from planner.work import Begun, Kind, Operation

RULE = "2 setup"


@dataclass(frozen=True)
class SetupDue:
    """What the setup must be. Equipment may be held from any moment in ``held_from``."""

    setup_min: int
    changeover_min: int
    held_from: tuple[int, ...]
    why: str


def check(ctx: Context) -> Iterator[Breach]:
    for step in ctx.steps.values():
        due = setup_due(ctx, step)
        if due is None:
            continue
        yield from _amount(ctx, step, due)
        if ctx.operation(step).kind == Kind.MACHINE:
            yield from _place(ctx, step)
            yield from _stints(ctx, step)


# ---- how long -------------------------------------------------------------------


def setup_due(ctx: Context, step: Step) -> SetupDue | None:
    """The setup the step needs after what is before it; None where it has no allowed machine."""
    operation, alternative = ctx.operation(step), ctx.alternative(step)
    if alternative is None:
        return None
    if operation.begun == Begun.RUNNING:
        return SetupDue(operation.setup_left_min, 0, (step.start,), "it is running; what is left of its setup")
    change = _changeover(ctx, step, operation)
    full = alternative.setup_min + change
    since = _set_since(ctx, step)
    if since is None:
        return SetupDue(full, change, (step.start,), f"base {alternative.setup_min} and changeover {change}")
    if not operation.equipment:
        return SetupDue(0, 0, (step.start,), "the same part and operation is on the machine")
    if step.equipment_from == since or _could_stay(ctx, step, since):
        held_from = (since,) if full else (since, step.start)
        return SetupDue(0, 0, held_from, "the same part and operation is on the machine and its equipment could stay")
    return SetupDue(
        full, change, (step.start,), "the same part and operation was on, but its equipment was needed elsewhere"
    )


def _changeover(ctx: Context, step: Step, operation: Operation) -> int:
    assert step.machine is not None
    machine = ctx.work.machines[step.machine]
    before = ctx.before_on_machine(step)
    family = machine.on_family if before is None else ctx.operation(before).family
    if not family or not operation.family:
        return 0
    return ctx.work.changeovers.get((machine.group, family, operation.family), 0)


def _set_since(ctx: Context, step: Step) -> int | None:
    """From when the machine has been set for this very operation; None if it is not."""
    assert step.machine is not None
    machine, before = ctx.work.machines[step.machine], ctx.before_on_machine(step)
    if before is not None:
        return before.run_end if _key(ctx, before) == _key(ctx, step) else None
    on_it = all(equipment in machine.on_equipment for equipment, _ in ctx.operation(step).equipment)
    return 0 if machine.on_key == _key(ctx, step) and on_it else None


def _key(ctx: Context, step: Step) -> tuple[str, str, int]:
    operation = ctx.operation(step)
    batch = ctx.work.batches[operation.batch]
    return batch.part, batch.revision, operation.number


def _could_stay(ctx: Context, step: Step, since: int) -> bool:
    """Could the step's equipment be held in ``[since, start)`` too, besides all that the plan holds?"""
    if step.equipment_from < step.start:
        return True
    return all(
        most_held(ctx.held[equipment], since, step.start) + units <= ctx.work.equipment[equipment].count
        for equipment, units in ctx.operation(step).equipment
    )


def _amount(ctx: Context, step: Step, due: SetupDue) -> Iterator[Breach]:
    if step.setup_min != due.setup_min:
        expected = f"{due.setup_min} minutes ({due.why})"
        yield Breach(RULE, f"{ctx.on(step)}, setup", expected, f"{step.setup_min} minutes")
    if step.changeover_min != due.changeover_min:
        expected = f"{due.changeover_min} minutes ({due.why})"
        yield Breach(RULE, f"{ctx.on(step)}, changeover", expected, f"{step.changeover_min} minutes")


# ---- when and by whom --------------------------------------------------------------


def _place(ctx: Context, step: Step) -> Iterator[Breach]:
    """The setup begins the step and is over before the run; begun work is held from 0 whoever is there."""
    running = ctx.operation(step).begun == Begun.RUNNING
    first = step.setup[0].start if step.setup else step.run_start
    if first < step.start or (first > step.start and not running):
        what = "setup" if step.setup else "run without setup"
        yield Breach(RULE, f"{ctx.on(step)}, begin of the {what}", ctx.when(step.start), ctx.when(first))
    if step.setup and step.run_start < step.setup[-1].end:
        expected = f"not before the setup ends, {ctx.when(step.setup[-1].end)}"
        yield Breach(RULE, f"{ctx.on(step)}, run start", expected, ctx.when(step.run_start))


def _stints(ctx: Context, step: Step) -> Iterator[Breach]:
    most = 0 if step.setup_min == 0 else 1 if ctx.work.handover_min is None or ctx.operation(step).skill is None else 2
    if not min(1, most) <= len(step.setup) <= most:
        expected = "no setter" if most == 0 else "one setter" if most == 1 else "one setter, or two with one handover"
        yield Breach(RULE, f"{ctx.on(step)}, setup of {step.setup_min} minutes", expected, f"{len(step.setup)} stints")
        return
    for stint in step.setup:
        yield from _setter(ctx, step, stint)
    if len(step.setup) == 1:
        yield from _worked(ctx, step, step.setup[0], step.setup_min)
    elif step.setup:
        yield from _handover(ctx, step, *step.setup)


def _setter(ctx: Context, step: Step, stint: Stint) -> Iterator[Breach]:
    operation = ctx.operation(step)
    who = f"{ctx.on(step)}, setter"
    if operation.skill is None:
        if stint.person != -1:
            yield Breach(RULE, who, "nobody in particular", ctx.person(stint.person))
        return
    if stint.person == -1 or operation.skill not in ctx.work.people[stint.person].skills:
        yield Breach(RULE, who, f"someone with {ctx.skill(operation.skill)}", ctx.person(stint.person))
    for only, why in ((operation.pin_person, "pinned"), (step.named, "named by the plan")):
        if only is not None and stint is step.setup[0] and stint.person != only:
            yield Breach(RULE, f"{who} is {why}", ctx.person(only), ctx.person(stint.person))


def _worked(ctx: Context, step: Step, stint: Stint, minutes: int) -> Iterator[Breach]:
    """A stint begins in an open minute and ends with its last minute of work."""
    assert step.machine is not None
    hours = ctx.common(step.machine, stint.person)
    who = f"{ctx.on(step)}, setup by {ctx.person(stint.person)}"
    if not hours.is_open(stint.start):
        expected = "begin while the machine is attended and the setter is there"
        yield Breach(RULE, who, expected, ctx.when(stint.start))
    end = hours.work_off(stint.start, minutes)
    if stint.end != end:
        yield Breach(RULE, f"{who}, end of {minutes} working minutes", ctx.when(end), ctx.when(stint.end))


def _handover(ctx: Context, step: Step, first: Stint, second: Stint) -> Iterator[Breach]:
    assert step.machine is not None and ctx.work.handover_min is not None
    where = f"{ctx.on(step)}, handover from {ctx.person(first.person)} to {ctx.person(second.person)}"
    hours = ctx.common(step.machine, first.person)
    done = hours.minutes(first.start, first.end)
    if not hours.is_open(first.start):
        yield Breach(RULE, where, "first setter begins in a minute of theirs", ctx.when(first.start))
    if not hours.ends_shift(first.end, ctx.work.break_max_min):
        yield Breach(RULE, where, "at the end of the first setter's shift on this machine", ctx.when(first.end))
    if first.end <= first.start or done >= step.setup_min:
        yield Breach(RULE, where, f"less than {step.setup_min} minutes done before", f"{done} minutes")
    if first.person == second.person:
        yield Breach(RULE, where, "two people", ctx.person(second.person))
    if second.start < first.end:
        yield Breach(RULE, where, f"second setter not before {ctx.when(first.end)}", ctx.when(second.start))
    yield from _worked(ctx, step, second, step.setup_min + ctx.work.handover_min - done)
