"""A planned batch becomes a released one: it keeps its name, its quantity and the order it is for."""

from __future__ import annotations

from planner.answers.feeds import Feeds
from planner.day.board import Board
from planner.day.refusal import Refused
from planner.faults import DataFaults
from planner.intake.nearest import did_you_mean
from planner.main_job import plan_source, work_of
from planner.planfile import proposals_again
from planner.shop import Shop
from planner.work import Batch, Work


def ensure_released(board: Board, name: str) -> list[str]:
    """Release a batch unless it is; sentences on what was released.

    Halves of a split batch are released together: the other half would get another name otherwise.

    Raises
    ------
    Refused
        When nothing of that name is planned.
    """
    if board.draft.find("batches", batch=name) is not None:
        return []
    work = planned_work(board, board.draft.shop())
    batches = {batch.name: batch for batch in work.batches}
    if name not in batches:
        known = [*batches, *(r["batch"] for r in board.draft.rows("batches"))]
        raise Refused(f"There is no batch '{name}'. {did_you_mean(name, known, 'see the lists or batches.csv.')}")
    together = next((p.makes for p in work.proposals if name in p.makes), (name,))
    feeds, told = Feeds(work), []
    for one in together:
        _release(board, batches[one], feeds)
        told.append(f"Batch {one} is released with {batches[one].start_pieces} pieces.")
    return told


def planned_work(board: Board, shop: Shop) -> Work:
    """What is to be planned for a shop, with the batches that the accepted plan splits or runs as one."""
    plan = board.writing.accepted()
    try:
        return work_of(shop, (), proposals_again(plan_source(plan)) if plan else ())
    except DataFaults as found:
        raise Refused("Planned batches cannot be told: " + " ".join(map(str, found.faults))) from found


def _release(board: Board, batch: Batch, feeds: Feeds) -> None:
    orders = feeds.orders(batch.index)
    board.draft.add(
        "batches",
        {
            "batch": batch.name, "part": batch.part, "quantity": batch.start_pieces,
            "order": orders[0].number if orders else "",
        },
    )  # fmt: skip
