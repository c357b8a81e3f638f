"""Events: what happened to the shop besides work at a step, as an entry that changes a few rows, and can be undone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict

from planner.day import batch_events as batches
from planner.day import left_alone
from planner.day import means_events as means
from planner.day import order_events as orders
from planner.day.board import Board
from planner.day.clock import move_on
from planner.day.happening import Event
from planner.day.refusal import Refused
from planner.explode import explode
from planner.faults import DataFaults
from planner.store import Entry, Note, Store, Writing

EVENT = "event"
HANDLERS: dict[str, Callable[[Board, Event], str]] = {
    "down": means.machine_down,
    "up": means.machine_up,
    "away": means.person_away,
    "back": means.person_back,
    "late": orders.late,
    "arrived": orders.arrived,
    "van missed": means.van_missed,
    "hot": orders.hot,
    "hold": orders.hold,
    "unhold": orders.unhold,
    "cancel": orders.cancel,
    "quantity": orders.quantity,
    "drawing": batches.drawing,
    "top-up": batches.top_up,
    "leave alone": left_alone.leave_alone,
    "routing": means.other_routing,
    "ship": orders.ship,
}


def happen(store: Store, who: str, event: Event) -> Entry:
    """Enter an event.

    Raises
    ------
    Refused
        When it cannot be, or the shop could not be planned after it, with the reason; nothing is written.
    """
    handler = HANDLERS[event.what]

    def change(writing: Writing) -> Note:
        board = Board(writing, event.at)
        words = handler(board, event)
        move_on(board.draft, event.at)
        board.check()
        _can_be_planned(board)
        said = {name: str(value) for name, value in asdict(event).items() if value not in (None, "", False)}
        return Note(words, {**said, **board.facts})

    return store.write(who, event.at, EVENT, event.what, change)


def _can_be_planned(board: Board) -> None:
    try:
        explode(board.draft.shop())
    except DataFaults as found:
        raise Refused("The shop could not be planned after that: " + " ".join(map(str, found.faults))) from found
