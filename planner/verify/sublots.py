"""Rule 7: pieces that move on before their batch is finished, and setting up ahead."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from planner.plan import Step
from planner.verify import amounts, moves, running
from planner.verify.breach import Breach
from planner.verify.context import Context
from planner.work import Alternative, Begun, Kind, Operation

RULE = "7 sublots"


@dataclass(frozen=True)
class Sublot:
    """Pieces that leave the step before at ``left`` and arrive together at ``ready`` (None: unknown).

    With them the run gets up to ``run_min``.
    """

    left: int | None
    ready: int | None
    run_min: int


def check(ctx: Context) -> Iterator[Breach]:
    for step in ctx.steps.values():
        lots = arrivals(ctx, step)
        if lots:
            yield from _run_follows(ctx, step, lots)


def arrivals(ctx: Context, step: Step) -> list[Sublot]:
    """The sublots in which a step's pieces come; empty where all must be there before its start."""
    operation, alternative = ctx.operation(step), ctx.alternative(step)
    before = ctx.before_in_batch(operation)
    if operation.kind != Kind.MACHINE or alternative is None or before is None or before.begun == Begun.DONE:
        return []
    giver = ctx.steps.get(before.index)
    if before.kind == Kind.MACHINE and before.transfer_pieces and giver is not None:
        times = ctx.alternative(giver)
        if times is not None and before.pieces_left > 0:
            return _transfer(ctx, giver, times, step, alternative)
    if operation.setup_ahead and operation.begun != Begun.RUNNING:
        ready = moves.whole_batch_ready(ctx, step)
        return [Sublot(None if giver is None else giver.end, ready, amounts.run_minutes(operation, alternative))]
    return []


def _transfer(ctx: Context, giver: Step, times: Alternative, taker: Step, alternative: Alternative) -> list[Sublot]:
    before, operation = ctx.operation(giver), ctx.operation(taker)
    assert before.transfer_pieces
    across = operation.pieces_left - before.pieces_left  # below 0: so many of the first are used up in setting
    if before.begun == Begun.NO:
        across = min(across, 0)
    there = _taken_minutes(operation, alternative, across, False)
    lots = [Sublot(0, 0, there)] if there else []
    last = amounts.up(before.pieces_left, before.transfer_pieces)
    for number in range(1, last + 1):
        given = min(number * before.transfer_pieces, before.pieces_left)
        left = ready = _given_at(ctx, giver, times, given)
        if left is not None:
            left += before.wait_min
            ready = moves.moved(ctx, before, taker.machine, left)
        lots.append(Sublot(left, ready, _taken_minutes(operation, alternative, across + given, number == last)))
    if amounts.first_off_due(operation) and lots[-1].run_min == amounts.first_cycle_minutes(operation, alternative):
        return lots[-1:]  # a run of one minute or one cycle cannot be begun with some of its pieces
    return lots


def _given_at(ctx: Context, giver: Step, times: Alternative, pieces: int) -> int | None:
    """When the step before has finished the cycles of so many pieces, first piece approved."""
    before = ctx.operation(giver)
    if pieces == before.pieces_left:
        return giver.run_end
    cycles = amounts.up(pieces, before.pieces_per_cycle)
    done = running.done_at(ctx, giver, amounts.cycle_minutes(cycles, times))
    if done is None or giver.first_off is None:
        return done
    return max(done, giver.first_off.end)


def _taken_minutes(operation: Operation, alternative: Alternative, pieces: int, last: bool) -> int:
    if last:
        return amounts.run_minutes(operation, alternative)
    cycles = max(0, min(pieces, operation.pieces_left)) // operation.pieces_per_cycle
    minutes = cycles * alternative.cycle_sec // 60  # what is over of a minute is worked off with the next sublot
    if cycles and amounts.first_off_due(operation):
        return max(minutes, amounts.first_cycle_minutes(operation, alternative))
    return minutes


def _run_follows(ctx: Context, step: Step, lots: list[Sublot]) -> Iterator[Breach]:
    """The run does not begin before the first sublot, use pieces that are not there, or end before the last."""
    yield from _not_before(ctx, step, "run start", step.run_start, 1, lots[0])
    done = 0
    for number, lot in enumerate(lots, 1):
        if lot.run_min > done:
            begun = running.begun_at(ctx, step, done)
            yield from _not_before(ctx, step, f"run after {done} minutes", begun, number, lot)
        done = max(done, lot.run_min)
    yield from _not_before(ctx, step, "run end", step.run_end, len(lots), lots[-1])


def _not_before(ctx: Context, step: Step, what: str, moment: int | None, number: int, lot: Sublot) -> Iterator[Breach]:
    if lot.ready is not None and moment is not None and moment < lot.ready:
        expected = f"not before sublot {number} is there, {ctx.when(lot.ready)}"
        yield Breach(RULE, f"{ctx.on(step)}, {what}", expected, ctx.when(moment))
