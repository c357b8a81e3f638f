"""A batch that brings fewer pieces than it is needed for."""

from __future__ import annotations

from planner.day.board import Board
from planner.day.release import planned_work
from planner.explode.progress import good_to_expect
from planner.explode.quantities import start_quantity, yield_of
from planner.shop import OpenBatch, Shop


def expected(board: Board, batch: OpenBatch) -> int:
    """Good pieces that planning counts on from a batch."""
    share = yield_of(board.shop.parts[batch.part].yield_percent)
    return good_to_expect(batch, board.states(batch), share, board.shop.settings.confidence_percent)


def shortage(board: Board, before: OpenBatch) -> int:
    """Pieces of a batch's part for which planning has to make new batches, now that it brings fewer than ``before``."""
    if expected(board, board.batch(before.number)) >= expected(board, before):
        return 0
    return to_make(board, board.draft.shop(), before.part) - to_make(board, board.shop, before.part)


def to_make(board: Board, shop: Shop, part: str) -> int:
    """Pieces of a part that batches which are not released yet have to bring."""
    work = planned_work(board, shop)
    planned = {f"batch {b.name}" for b in work.batches if b.part == part and not b.is_open}
    return sum(given.pieces for given in work.given if given.supply in planned)


def short_words(board: Board, before: OpenBatch) -> str:
    """Says that a batch has come short, and what can be done while its machine is still set; empty where it has not."""
    short = shortage(board, before)
    if short <= 0:
        return ""
    share = yield_of(board.shop.parts[before.part].yield_percent)
    start = start_quantity(short, share, board.shop.settings.confidence_percent)
    return (
        f"{short} of {before.part} {'is' if short == 1 else 'are'} short now. A top-up batch while the machine is still set: "
        f"event top-up {before.number} --quantity {start}."
    )
