"""A step leaves its machine, done or broken off, or comes back from outside."""

from __future__ import annotations

from planner.counted import counted
from planner.day.board import Board
from planner.day.components import give_back
from planner.day.counting import count, on_machine
from planner.day.holding import hold_step
from planner.day.record import Booking
from planner.day.refusal import Refused
from planner.day.short import short_words
from planner.explode.progress import StepState, needs_pieces
from planner.shop import OpenBatch
from planner.store.records import MINUTE
from planner.work import Begun
from planner.worktime import later


def stop(board: Board, booking: Booking) -> str:
    """Work stops for now. The machine stays set, unless it is torn down: then other work can go on it."""
    batch, step, _, row = on_machine(board, booking)
    _count_last(board, booking)
    if not booking.torn_down:
        return f"{booking.name} stopped, still set on {row.machine}. {short_words(board, batch)}".strip()
    board.put(
        batch.number, step.number, state="part", person="", setup_left_min=0, first_off_passed=False, set_again=False
    )  # fmt: skip
    place, _ = board.step(batch, step.number)
    give_back(board, batch, step, needs_pieces(board.states(board.batch(batch.number))[place]))
    on = board.known("machines", row.machine or "")
    family = "" if row.setup_left_min else step.family or ""
    board.draft.put(on, {"on_part": "", "on_operation": "", "on_equipment": "", "on_family": family})
    board.facts["left_machine"] = row.machine
    return f"{booking.name} stopped and torn down, {row.machine} is free. {short_words(board, batch)}".strip()


def finish(board: Board, booking: Booking) -> str:
    """A step is done. With no numbers said, all that is left of it is good."""
    batch = board.batch(booking.batch)
    place, step = board.step(batch, booking.operation)
    if step.kind == "wait":
        return _wait_over(board, booking, batch, place)
    _, _, _, row = on_machine(board, booking)
    if place and board.states(batch)[place - 1].begun is not Begun.DONE:
        raise Refused(
            f"{booking.name} cannot be done: operation {board.steps(batch.part)[place - 1].number} before it is not."
        )
    _ready_to_finish(board, booking)
    _count_last(board, booking)
    left = board.states(board.batch(batch.number))[place].pieces_left
    taken = 0
    if left and booking.good is None:
        count(board, booking, left, 0)
        taken = left
    elif left:
        raise Refused(
            f"{counted(left, 'piece')} of {booking.name} {'is' if left == 1 else 'are'} neither good nor scrap yet."
        )
    board.put(batch.number, step.number, state="done", person="", setup_left_min=0)
    board.facts["left_machine"] = row.machine
    _note_set(board, row.machine or "", batch.part, step.number)
    counted_good = f" ({counted(taken, 'piece')} taken as good)" if taken else ""
    words = f"{booking.name} done on {row.machine}{counted_good}. {short_words(board, batch)}".strip()
    return " ".join([words, *_pass_on(board, batch, place)])


def _wait_over(board: Board, booking: Booking, batch: OpenBatch, place: int) -> str:
    """The rest that a batch ends with is over."""
    steps, states = board.steps(batch.part), board.states(batch)
    if states[place].begun is Begun.DONE:
        raise Refused(f"{booking.name} is done already.")
    if place and states[place - 1].begun is not Begun.DONE:
        raise Refused(f"{booking.name} cannot be done: operation {steps[place - 1].number} before it is not.")
    before = board.booked(batch.number, steps[place - 1].number) if place else []
    until = later(before[-1].at, steps[place].wait_min, board.shop.settings.zone) if before else board.at
    if board.at < until:
        raise Refused(f"{booking.name} rests until {until:{MINUTE}}.")
    board.put(batch.number, steps[place].number, state="done")
    return " ".join([f"{booking.name} is over.", *_pass_on(board, batch, place)])


def came_back(board: Board, booking: Booking) -> str:
    """A batch is back. With no numbers said, all of it is good."""
    batch = board.batch(booking.batch)
    place, step = board.step(batch, booking.operation)
    state = board.states(batch)[place]
    if state.begun is not Begun.OUT or state.row is None:
        raise Refused(f"{booking.name} is not out.")
    if state.row.collected and board.at < state.row.collected:
        raise Refused(f"{booking.name} went out at {state.row.collected:{MINUTE}}, {board.at:{MINUTE}} is before that.")
    lost = booking.scrap or 0
    good = state.pieces - lost if booking.good is None else booking.good
    if good < 0 or good + lost != state.pieces:
        raise Refused(
            f"{counted(state.pieces, 'piece')} went out with {booking.name}: {good} good and {lost} scrap are not as many."
        )
    board.put(batch.number, step.number, state="done", good=good, scrap=lost)
    words = f"{booking.name} came back: {good} good, {lost} scrap. {short_words(board, batch)}".strip()
    return " ".join([words, *_pass_on(board, batch, place)])


def _count_last(board: Board, booking: Booking) -> None:
    """Pieces said along with the booking."""
    if booking.good or booking.scrap:
        count(board, booking, booking.good or 0, booking.scrap or 0)


def _ready_to_finish(board: Board, booking: Booking) -> None:
    _, step, state, row = on_machine(board, booking)
    if row.setup_left_min:
        raise Refused(f"{booking.name} is still being set ({row.setup_left_min} min left): book the setup done first.")
    if step.first_off_skill and not row.first_off_passed and state.pieces_left:
        raise Refused(f"The first-off of {booking.name} is open: book it passed before the step is done.")


def _note_set(board: Board, machine: str, part: str, operation: int) -> None:
    """What stays on a machine that was set before there was a store."""
    on = board.known("machines", machine)
    if (on["on_part"], on["on_operation"]) != (part, str(operation)):
        step = board.steps(part)[[s.number for s in board.steps(part)].index(operation)]
        board.draft.put(on, {"on_part": part, "on_operation": operation, "on_family": step.family or ""})


def _pass_on(board: Board, batch: OpenBatch, place: int) -> list[str]:
    """What follows a step that is done: waits run from now on, and a batch that is finished says so.

    A wait between two steps counts as done, and the step after it is not before its end: otherwise each plan would
    let the wait begin anew. Waits of the last step are left to be booked.
    """
    steps = board.steps(batch.part)
    wait_min = steps[place].wait_min
    following = place + 1
    while following < len(steps) - 1 and steps[following].kind == "wait":
        wait_min += steps[following].wait_min
        board.put(batch.number, steps[following].number, state="done")
        following += 1
    told = []
    if wait_min and following < len(steps):
        until = later(board.at, wait_min, board.shop.settings.zone)
        hold_step(board, batch.number, steps[following].number, until, "waits after the step before")
        told.append(f"Operation {steps[following].number} not before {until:{MINUTE}}.")
    now: tuple[StepState, ...] = board.states(board.batch(batch.number))
    if all(state.begun is Begun.DONE for state in now):
        done = board.batch(batch.number)
        pieces = max(0, done.quantity - sum(row.scrap for row in done.progress))
        told.append(f"Batch {batch.number} is finished: {counted(pieces, 'good piece')}.")
    return told
