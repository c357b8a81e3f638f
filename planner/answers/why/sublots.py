"""When pieces come to a step before all of the batch is there, and which of its bursts waited for them (rule 7)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from planner.answers.spent import ceil_div, run_min
from planner.answers.why.facts import Facts
from planner.plan import Step
from planner.timetable.arrays import pieces_across
from planner.work import Begun, Operation


@dataclass(frozen=True)
class Arrival:
    """Pieces that left the step before at ``left`` are there at ``ready``; with them the run gets up to ``run_min``."""

    left: int
    ready: int
    run_min: int


def arrivals(facts: Facts, step: Step) -> list[Arrival]:
    """In order of coming; empty where all of the batch must be there before the step starts."""
    op = facts.work.operations[step.operation]
    before = facts.before.get(op.index)
    if before is None or not facts.is_machined(step) or step.machine is None:
        return []
    giver = facts.steps[before.index]
    if before.transfer_pieces and facts.is_machined(giver) and before.pieces_left > 0:
        return list(_sublots(facts, before, giver, op, step))
    if op.setup_ahead and op.begun is not Begun.RUNNING:
        ready = facts.openings.moved(before, step.machine, giver.end)
        return [Arrival(giver.end, ready, run_min(op, step.machine))]
    return []


def _sublots(facts: Facts, before: Operation, giver: Step, op: Operation, step: Step) -> Iterator[Arrival]:
    assert before.transfer_pieces and step.machine is not None
    across = pieces_across(op, before)
    whole, first = run_min(op, step.machine), _first_cycle_min(facts, step)
    if across > 0 and first < whole:
        yield Arrival(0, 0, _possible(facts, op, step, across, first))
    last = ceil_div(before.pieces_left, before.transfer_pieces)
    for number in range(1 if first < whole else last, last + 1):
        pieces = min(number * before.transfer_pieces, before.pieces_left)
        left = _given(facts, before, giver, pieces) + before.wait_min
        minutes = whole if number == last else _possible(facts, op, step, across + pieces, first)
        yield Arrival(left, facts.openings.moved(before, step.machine, left), minutes)


def _first_cycle_min(facts: Facts, step: Step) -> int:
    """Minutes of a first cycle that is to be approved; 0 without one."""
    return 0 if step.first_off is None else max(1, ceil_div(facts.cycle_sec(step), 60))


def _given(facts: Facts, before: Operation, giver: Step, pieces: int) -> int:
    """When the step before has finished the cycles of so many pieces, first piece approved."""
    if pieces == before.pieces_left:
        return giver.run_end
    cycles = ceil_div(pieces, before.pieces_per_cycle)
    done = facts.run_done(giver, ceil_div(cycles * facts.cycle_sec(giver), 60))
    return done if giver.first_off is None else max(done, giver.first_off.end)


def _possible(facts: Facts, op: Operation, step: Step, pieces: int, first: int) -> int:
    """Run minutes that so many pieces make possible, short of the last sublot."""
    cycles = max(0, min(pieces, op.pieces_left)) // op.pieces_per_cycle
    return max(cycles * facts.cycle_sec(step) // 60, first) if cycles else 0


def starved(facts: Facts, step: Step, coming: list[Arrival], before: int) -> Arrival | None:
    """The last arrival that one of the step's bursts had to wait for, from some minute before ``before`` on."""
    for place in range(len(step.bursts) - 1, -1, -1):
        done = step.bursts[place].run_min_before
        lot = next((a for a in coming if a.run_min > done), None)
        ready = _could_go_on(facts, step, place)
        # a setup ahead is as late as loses nothing: one that ends just when the pieces come has waited for them
        late = -1 if lot is None else lot.ready - ready + (place == 0 and bool(step.setup))
        if lot is not None and late > 0 and ready < before:
            return lot
    return None


def _could_go_on(facts: Facts, step: Step, place: int) -> int:
    """When everything but the pieces was there for a burst."""
    if place == 0:
        return step.setup[-1].end if step.setup else step.start
    done = facts.run_done(step, step.bursts[place].run_min_before)
    return done if step.first_off is None else max(done, step.first_off.end)
