"""Batches that are left as they are from the next plan on: entered as an event, which an undo takes back."""

from __future__ import annotations

from dataclasses import dataclass

from planner.counted import listed
from planner.day.board import Board
from planner.day.happening import Event
from planner.day.refusal import Refused
from planner.day.release import planned_work
from planner.explode.left_alone import meant, plain_names, released_of
from planner.intake.nearest import did_you_mean
from planner.store import Entry, Store

LEAVE_ALONE = "leave alone"  # what the event is called


@dataclass(frozen=True)
class LeftAlone:
    """A row of the table; ``entry``: the event that can be undone, None where it came into the table in another way."""

    batch: str
    reason: str
    entry: Entry | None


def leave_alone(board: Board, event: Event) -> str:
    """A batch is neither split nor run as one with others; a half, or what several are run as, stands for what it comes of."""
    name = event.subject
    plain = plain_names(planned_work(board, board.shop))
    batches = sorted(meant([name], plain))
    released = released_of(board.shop, name) or [batch for batch in batches if batch in board.shop.batches]
    if released:
        raise Refused(f"{_named(released)} released already: what is released stays as it is.")
    if not batches:
        raise Refused(f"There is no batch '{name}'. {did_you_mean(name, plain, 'see the lists.')}")
    if set(batches) <= meant(board.shop.left_alone, plain):
        raise Refused(f"{_named(batches)} left alone already.")
    board.draft.add("left_alone", {"batch": name, "reason": event.reason})
    it_is = "it is" if len(batches) == 1 else "they are"
    return f"{_named(batches)} left as {it_is}: from the next plan on not split, and not run as one with others."


def _named(batches: list[str]) -> str:
    return f"Batch {listed(batches)} is" if len(batches) == 1 else f"Batches {listed(batches)} are"


def left_alone(store: Store) -> list[LeftAlone]:
    """All that is left alone as the tables are now, in their order."""
    events = {e.data["subject"]: e for e in store.entries("event") if e.what == LEAVE_ALONE and e.undone_by is None}
    rows = store.sheets().rows("left_alone")
    return [LeftAlone(row["batch"], row["reason"], events.get(row["batch"])) for row in rows]
