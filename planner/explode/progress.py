"""What has been done on a batch: state and pieces of each of its steps."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from planner.explode.quantities import good_from, pieces_through
from planner.shop import OpenBatch, Progress, Routing
from planner.work import Begun

_STATES = {"done": Begun.DONE, "running": Begun.RUNNING, "part": Begun.PART, "out": Begun.OUT}


@dataclass(frozen=True)
class StepState:
    """State of one step. ``live_pieces``: start quantity without setting pieces, less scrap of steps before."""

    begun: Begun
    live_pieces: int
    pieces: int
    pieces_left: int
    row: Progress | None = None


def step_states(routing: Routing, start: int, progress: tuple[Progress, ...] = ()) -> tuple[StepState, ...]:
    """State of every step of a batch of ``start`` pieces, in routing order.

    A step without a row has not begun, unless a later step has: then it is done. Scrap is missing
    in the pieces left of its own step and in all later steps; pieces are never fewer than 0. A step with no
    pieces left that is not on a machine now is done.
    """
    rows = {row.operation: row for row in progress}
    last = max((i for i, op in enumerate(routing.operations) if op.number in rows), default=-1)
    states = []
    live = start
    for i, op in enumerate(routing.operations):
        row = rows.get(op.number)
        begun = _STATES[row.state] if row else Begun.DONE if i < last else Begun.NO
        # nothing is set for pieces that are all scrapped
        pieces = pieces_through(routing.operations, i, live) if live else 0
        finished = row.good + row.scrap if row else 0
        left = 0 if begun == Begun.DONE else max(0, pieces - finished)
        if left == 0 and begun in (Begun.NO, Begun.PART):
            begun = Begun.DONE  # nothing to set up for
        states.append(StepState(begun, live, pieces, left, row))
        live = max(0, live - (row.scrap if row else 0))
    return tuple(states)


def good_to_expect(batch: OpenBatch, states: tuple[StepState, ...], yield_: Fraction, confidence_percent: int) -> int:
    """Good pieces to count on from an open batch.

    Scrap so far is taken from the allowance first: only what goes beyond it makes the batch short.
    A finished batch has what was not scrapped.
    """
    alive = max(0, batch.quantity - sum(row.scrap for row in batch.progress))
    if all(state.begun == Begun.DONE for state in states):
        return alive
    last = states[-1].row
    counted = last.good if last else 0
    return min(alive, max(counted, good_from(batch.quantity, yield_, confidence_percent)))


def needs_pieces(state: StepState) -> int:
    """Pieces of a step for which components are still to come: none where it runs or is done."""
    if state.begun in (Begun.DONE, Begun.RUNNING, Begun.OUT):
        return 0
    finished = state.row.good + state.row.scrap if state.row else 0
    return max(0, state.live_pieces - finished)
