"""Components: out of stock when a step that needs them begins, back into stock when it is broken off.

What is here: finished batches reserved for an order that the batch is for, stock, other finished batches, and receipts that are
due. Bought pieces that nobody has ordered are taken as here, as planning does.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from planner.counted import counted
from planner.day.board import Board, typed
from planner.day.refusal import Refused
from planner.shop import OpenBatch, Operation
from planner.store.sheets import StoredRow
from planner.work import Begun

Take = Callable[[int], int]  # takes up to so many pieces, and says how many


def wanted(board: Board, part: str, step: Operation, pieces: int) -> dict[str, int]:
    """Pieces of each component that a step needs for so many parents."""
    first = board.steps(part)[0].number
    found: dict[str, int] = {}
    for row in board.shop.structure:
        if row.parent == part and (row.operation or first) == step.number and pieces:
            found[row.component] = found.get(row.component, 0) + row.quantity_per * pieces
    return found


def issue(board: Board, batch: OpenBatch, step: Operation, pieces: int) -> list[str]:
    """Take the components of a step out of what is here; sentences on what was taken for granted.

    Raises
    ------
    Refused
        When some are still to be made or delivered; the message lists all.
    """
    short, told = [], []
    for component, need in wanted(board, batch.part, step, pieces).items():
        left = need
        for take in _sources(board, batch, component):
            left -= take(left)
            if not left:
                break
        if left and _still_coming(board, component):
            short.append(f"{left} of {component}")
        elif left:
            told.append(
                f"{counted(left, 'piece')} of {component} {'is' if left == 1 else 'are'} not in stock and taken as here."
            )
    if short:
        raise Refused(
            f"Components of batch {batch.number} operation {step.number} are not here yet: {', '.join(short)} "
            "missing. Book what has come in or was made first."
        )
    return told


def give_back(board: Board, batch: OpenBatch, step: Operation, pieces: int) -> None:
    """Put the components of so many parents back into stock."""
    for component, count in wanted(board, batch.part, step, pieces).items():
        add_stock(board, component, count)


def add_stock(board: Board, part: str, pieces: int) -> None:
    """More (or fewer) pieces in stock."""
    row = board.draft.find("stock", part=part)
    if row is None:
        board.draft.add("stock", {"part": part, "quantity": pieces})
    else:
        board.draft.put(row, {"quantity": typed(row)["quantity"] + pieces})


def finished(board: Board, part: str) -> list[OpenBatch]:
    """Open batches of a part with all steps done, by number."""
    rows = sorted(r["batch"] for r in board.draft.rows("batches") if r["part"] == part)
    batches = [board.batch(name) for name in rows]
    return [b for b in batches if all(state.begun == Begun.DONE for state in board.states(b))]


def alive(batch: OpenBatch) -> int:
    """Pieces of a finished batch that were not scrapped."""
    return max(0, batch.quantity - sum(row.scrap for row in batch.progress))


def take_out(board: Board, name: str, pieces: int) -> None:
    """Pieces leave a batch: its quantity and what was counted good fall; nothing else happens to it.

    A batch with none left is taken off the tables.
    """
    batch = board.batch(name)
    if batch.quantity - sum(row.scrap for row in batch.progress) <= pieces:
        for row in [board.known("batches", name), *board.rows_of(name)]:
            board.draft.drop(row)
        for pin in [r for r in board.draft.rows("pins") if r["batch"] == name]:
            board.draft.drop(pin)
        return
    board.draft.put(board.known("batches", name), {"quantity": batch.quantity - pieces})
    steps = {s.number: s for s in board.steps(batch.part)}
    for progress in batch.progress:
        if progress.good and steps[progress.operation].sample_pieces is None:
            board.put(name, progress.operation, good=max(0, progress.good - pieces))
    trim_samples(board, name)


def trim_samples(board: Board, name: str) -> None:
    """A sample is never more than the pieces there are."""
    batch = board.batch(name)
    for state in board.states(batch):
        row = state.row
        if row is not None and row.good + row.scrap > state.pieces:
            board.put(name, row.operation, good=max(0, state.pieces - row.scrap))


def _sources(board: Board, batch: OpenBatch, component: str) -> Iterator[Take]:
    done = finished(board, component)
    ours = [b for b in done if b.order and b.order == batch.order]
    for one in ours:
        yield _from_batch(board, one)
    row = board.draft.find("stock", part=component)
    if row is not None:
        yield _from_stock(board, row)
    for one in done:
        if one not in ours:
            yield _from_batch(board, one, kept=_kept(board, one))
    for receipt in _due_receipts(board, component):
        yield _from_receipt(board, receipt)


def _kept(board: Board, batch: OpenBatch) -> int:
    """Pieces of a finished batch that are for the order it is reserved for."""
    order = board.shop.orders.get(batch.order or "")
    if order is None:
        return 0
    return order.quantity if order.part == batch.part else alive(batch)


def _from_batch(board: Board, batch: OpenBatch, kept: int = 0) -> Take:
    def take(want: int) -> int:
        pieces = max(0, min(want, alive(batch) - kept))
        if pieces:
            take_out(board, batch.number, pieces)
        return pieces

    return take


def _from_stock(board: Board, row: StoredRow) -> Take:
    def take(want: int) -> int:
        there = typed(row)["quantity"]
        board.draft.put(row, {"quantity": there - min(want, there)})
        return min(want, there)

    return take


def _due_receipts(board: Board, part: str) -> list[StoredRow]:
    rows = [r for r in board.draft.rows("receipts") if r["part"] == part and typed(r)["date"] <= board.at.date()]
    return sorted(rows, key=lambda r: (r["date"], r["reference"]))


def _from_receipt(board: Board, row: StoredRow) -> Take:
    def take(want: int) -> int:
        there = typed(row)["quantity"]
        if want < there:
            board.draft.put(row, {"quantity": there - want})
        else:
            board.draft.drop(row)
        return min(want, there)

    return take


def _still_coming(board: Board, part: str) -> bool:
    """Is it made here, or on order?"""
    return board.shop.parts[part].made or any(r["part"] == part for r in board.draft.rows("receipts"))
