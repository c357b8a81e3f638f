"""What happens while a step is on a machine: set, first piece approved, pieces good, scrapped, to be done again."""

from __future__ import annotations

from planner.counted import counted
from planner.day.board import Board
from planner.day.components import take_out
from planner.day.record import Booking
from planner.day.refusal import Refused
from planner.day.short import short_words
from planner.explode.progress import StepState
from planner.shop import OpenBatch, Operation, Progress
from planner.work import Begun


def on_machine(board: Board, booking: Booking) -> tuple[OpenBatch, Operation, StepState, Progress]:
    """The step, which must be on a machine now, and not begun later than the booking says."""
    batch = board.batch(booking.batch)
    place, step = board.step(batch, booking.operation)
    state = board.states(batch)[place]
    if state.begun is not Begun.RUNNING or state.row is None:
        words = {Begun.NO: "has not been started", Begun.DONE: "is done already", Begun.OUT: f"is out at {step.supplier}",
                 Begun.PART: "was stopped and torn down"}  # fmt: skip
        raise Refused(f"{booking.name} {words[state.begun]}.")
    started = board.since_start(booking.batch, booking.operation)
    board.not_before(started[0] if started else None, f"{booking.name} was started")
    if booking.machine and booking.machine != state.row.machine:
        raise Refused(f"{booking.name} is on {state.row.machine}, not on {booking.machine}.")
    return batch, step, state, state.row


def setup_done(board: Board, booking: Booking) -> str:
    _, step, _, row = on_machine(board, booking)
    if not row.setup_left_min:
        raise Refused(f"{booking.name} has nothing left to set.")
    board.put(booking.batch, step.number, setup_left_min=0)
    more = f" First-off by somebody for '{step.first_off_skill}' next." if step.first_off_skill else ""
    return f"{booking.name} is set.{more}"


def first_off_passed(board: Board, booking: Booking) -> str:
    _, step, state, row = on_machine(board, booking)
    _first_off_open(board, booking, step, row)
    _approver_can(board, booking, step, row)
    first = 0 if _made_since_set(board, booking, row) else min(step.pieces_per_cycle, state.pieces_left)
    board.put(booking.batch, step.number, first_off_passed=True, good=row.good + first)
    return f"First-off of {booking.name} passed." + (f" {counted(first, 'piece')} counted good." if first else "")


def first_off_failed(board: Board, booking: Booking) -> str:
    """The first cycle is scrap, and there may be setting to do again; the first-off stays open."""
    batch, step, state, row = on_machine(board, booking)
    _first_off_open(board, booking, step, row)
    made = min(row.good, _made_since_set(board, booking, row))
    lost = booking.scrap if booking.scrap is not None else max(made, min(step.pieces_per_cycle, state.pieces_left))
    if lost < made or lost - made > state.pieces_left:
        raise Refused(f"{booking.name}: from {made} to {made + state.pieces_left} pieces can be scrap of a first-off.")
    again = bool(booking.setup_min) and row.good > made
    board.put(
        booking.batch, step.number, good=row.good - made, scrap=row.scrap + lost, setup_left_min=booking.setup_min,
        set_again=row.set_again or again,
    )  # fmt: skip
    redo = f", {booking.setup_min} min to set again" if booking.setup_min else ""
    return (
        f"First-off of {booking.name} failed: {counted(lost, 'piece')} scrap{redo}. {short_words(board, batch)}".strip()
    )


def good(board: Board, booking: Booking) -> str:
    if not booking.good:
        raise Refused("Say how many pieces are good.")
    count(board, booking, booking.good, 0)
    return f"{counted(booking.good, 'piece')} good of {booking.name}."


def scrap(board: Board, booking: Booking) -> str:
    """Pieces are lost. The batch may then bring fewer than it is needed for."""
    batch, step, _, row = on_machine(board, booking)
    if not booking.scrap:
        raise Refused("Say how many pieces are scrap.")
    if booking.of_good:
        if booking.scrap > row.good:
            raise Refused(f"{booking.name} has {row.good} good: {booking.scrap} of them cannot be scrap.")
        board.put(booking.batch, step.number, good=row.good - booking.scrap, scrap=row.scrap + booking.scrap)
    else:
        count(board, booking, 0, booking.scrap)
    return f"{counted(booking.scrap, 'piece')} scrapped at {booking.name}. {short_words(board, batch)}".strip()


def rework(board: Board, booking: Booking) -> str:
    """Pieces booked good are to be done again: at this step, or, as a batch of their own, from an earlier step on."""
    batch, step, state, row = on_machine(board, booking)
    pieces = booking.rework or 0
    if not pieces:
        raise Refused("Say how many pieces are to be done again.")
    if booking.rework_at is None or booking.rework_at == step.number:
        if pieces > row.good:
            raise Refused(f"{booking.name} has {row.good} good: {pieces} of them cannot be done again.")
        board.put(booking.batch, step.number, good=row.good - pieces)
        return f"{counted(pieces, 'piece')} of {booking.name} to be done again."
    at, again = board.step(batch, booking.rework_at)
    if again.number > step.number:
        raise Refused(f"Pieces of {booking.name} cannot be done again at the later operation {again.number}.")
    if step.sample_pieces is not None or again.kind not in ("machine", "manual"):
        raise Refused(
            f"Rework from {booking.name} at operation {again.number} has to be entered as a new batch by hand."
        )
    if pieces >= batch.quantity - sum(p.scrap for p in batch.progress):
        raise Refused(f"All of batch {batch.number} would be done again: undo the bookings, or scrap it.")
    if pieces > state.pieces_left + row.good:
        raise Refused(f"{booking.name} has only {state.pieces_left + row.good} pieces.")
    return _split_off(board, batch, step, at, pieces, max(0, pieces - state.pieces_left), row)


def _split_off(
    board: Board, batch: OpenBatch, step: Operation, at: int, pieces: int, of_good: int, row: Progress
) -> str:
    """Pieces become a batch of their own that begins again at the step at place ``at``."""
    number = 1
    while board.draft.find("batches", batch=f"{batch.number}/R{number}") is not None:
        number += 1
    name = f"{batch.number}/R{number}"
    good_here = row.good
    take_out(board, batch.number, pieces)
    board.put(batch.number, step.number, good=good_here - of_good)
    board.draft.add("batches", {"batch": name, "part": batch.part, "quantity": pieces, "order": batch.order or ""})
    for earlier in board.steps(batch.part)[:at]:
        board.put(name, earlier.number, state="done")
    again = board.steps(batch.part)[at].number
    return f"{counted(pieces, 'piece')} of batch {batch.number} are batch {name} now, again from operation {again} on."


# --- counts --------------------------------------------------------------------------------------


def count(board: Board, booking: Booking, more_good: int, more_scrap: int) -> None:
    """Add to the counts of a step that is on a machine; refuses what cannot be."""
    batch, step, state, row = on_machine(board, booking)
    if row.setup_left_min and more_good:
        raise Refused(f"{booking.name} is still being set ({row.setup_left_min} min left): book the setup done first.")
    there = _pieces_there(board, batch, booking.operation, state)
    made = row.good + row.scrap
    if made + more_good + more_scrap > there:
        raise Refused(
            f"{counted(there, 'piece')} can be made at {booking.name} so far: {row.good} good and {row.scrap} scrap are "
            f"booked, {more_good + more_scrap} more is too many."
        )
    first_off_open = step.first_off_skill is not None and not row.first_off_passed
    if first_off_open and more_good and _made_since_set(board, booking, row) + more_good > step.pieces_per_cycle:
        raise Refused(f"The first-off of {booking.name} is open: book it passed before more is made.")
    board.put(booking.batch, step.number, good=row.good + more_good, scrap=row.scrap + more_scrap)


def _pieces_there(board: Board, batch: OpenBatch, operation: int, state: StepState) -> int:
    """Pieces that have come to a step: all of them, or those across from a step before that is not done."""
    place, _ = board.step(batch, operation)
    before = board.states(batch)[place - 1] if place else None
    if before is None or before.begun is Begun.DONE:
        return state.pieces
    return min(state.pieces, before.row.good if before.row else 0)


def _made_since_set(board: Board, booking: Booking, row: Progress) -> int:
    """Good pieces since the step was put on the machine this time."""
    entries = board.since_start(booking.batch, booking.operation)
    if entries is None or not row.set_again:
        return row.good
    before = entries[0].data.get("good_before", 0)
    return max(0, row.good - before)


def _first_off_open(board: Board, booking: Booking, step: Operation, row: Progress) -> None:
    if step.first_off_skill is None:
        raise Refused(f"{booking.name} asks for no first-off.")
    if row.first_off_passed:
        raise Refused(f"The first-off of {booking.name} has been passed already.")
    if row.setup_left_min:
        raise Refused(f"{booking.name} is still being set ({row.setup_left_min} min left): book the setup done first.")


def _approver_can(board: Board, booking: Booking, step: Operation, row: Progress) -> None:
    if not booking.person:
        return
    board.known("people", booking.person)
    if step.first_off_skill not in board.shop.people[booking.person].skills:
        raise Refused(f"{booking.person} does not have the skill '{step.first_off_skill}' to pass a first-off.")
    if booking.person == row.person and not board.shop.settings.setter_may_approve:
        raise Refused(f"{booking.person} has set {booking.name}: somebody else passes its first-off.")
