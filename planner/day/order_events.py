"""Events of orders and material. Each changes a few rows and says what it did."""

from __future__ import annotations

from planner.answers.feeds import Feeds
from planner.counted import counted
from planner.day.board import Board, typed
from planner.day.components import add_stock, alive, finished, take_out
from planner.day.happening import Event
from planner.day.holding import go_back, hold_step
from planner.day.refusal import Refused
from planner.day.release import planned_work
from planner.intake.convert import Unfit, due
from planner.store import Entry
from planner.store.sheets import StoredRow
from planner.work import Begun


def late(board: Board, event: Event) -> str:
    """Material of an order or an open batch, or a receipt, comes later (or sooner) than the tables say."""
    day = event.day or (event.until.date() if event.until else None)
    if day is None:
        raise Refused(f"Say on which day it comes: {event.subject}.")
    for table, column in (("receipts", "date"), ("batches", "material_date"), ("orders", "material_date")):
        row = board.draft.find(table, **{_key(table): event.subject})
        if row is not None:
            board.draft.put(row, {column: day.isoformat()})
            what = "Receipt" if table == "receipts" else "Material of"
            return f"{what} {event.subject} comes on {day}, not {row[column] or 'as if here'}."
    raise Refused(f"There is no order, open batch or receipt '{event.subject}'.")


def _key(table: str) -> str:
    return {"receipts": "reference", "batches": "batch", "orders": "order"}[table]


def arrived(board: Board, event: Event) -> str:
    """A receipt is here: its pieces are stock, all of them or so many."""
    row = board.known("receipts", event.subject)
    there = typed(row)["quantity"]
    pieces = there if event.quantity is None else event.quantity
    add_stock(board, row["part"], pieces)
    if pieces < there:
        board.draft.put(row, {"quantity": there - pieces})
        return f"{counted(pieces, 'piece')} of {row['part']} arrived, {there - pieces} of {event.subject} are still to come."
    board.draft.drop(row)
    more = f", {pieces - there} more than ordered" if pieces > there else ""
    return f"{counted(pieces, 'piece')} of {row['part']} arrived{more}."


# --- orders ---------------------------------------------------------------------------------------------


def hot(board: Board, event: Event) -> str:
    """An order becomes more urgent, or a new urgent one comes in."""
    if event.priority:
        board.known("classes", event.priority)
    cells = {"class": event.priority, "due": _due(event.due), "customer": event.customer}
    row = board.draft.find("orders", order=event.subject)
    if row is not None:
        said = {column: cell for column, cell in cells.items() if cell}
        if not said:
            raise Refused(f"Say what changes for order {event.subject}: its class or its due date.")
        told = ", ".join(f"{column} {row[column] or 'none'} to {cell}" for column, cell in said.items())
        board.draft.put(row, said)
        return f"Order {event.subject}: {told}.{_many_of(board, event.priority)}"
    if not (event.part and event.quantity and event.due and event.priority):
        raise Refused(f"There is no order '{event.subject}'; for a new one say part, quantity, due and class.")
    board.known("parts", event.part)
    board.draft.add(
        "orders",
        {"order": event.subject, "part": event.part, "quantity": event.quantity, "note": event.reason, **cells},
    )
    return f"Order {event.subject}: {event.quantity} of {event.part}, due {event.due}, {event.priority}.{_many_of(board, event.priority)}"


def _due(text: str) -> str:
    try:
        return text if not text or due(text) else ""
    except Unfit as fault:
        raise Refused(f"'{text}' is no due date: {fault.mend}") from fault


def _many_of(board: Board, priority: str) -> str:
    """Where everything is urgent, nothing is."""
    heaviest = max(board.draft.rows("classes"), key=lambda r: typed(r)["weight"])["class"]
    count = sum(r["class"] == heaviest and r["quantity"] != "0" for r in board.draft.rows("orders"))
    if priority != heaviest or count < 2:
        return ""
    return f" {count} open orders are of class '{heaviest}' now: each makes the others less urgent."


def hold(board: Board, event: Event) -> str:
    """No step of an order begins before a moment; what is begun goes on, what other orders need too."""
    order = _open_order(board, event)
    if event.until is None:
        raise Refused(f"Say until when order {event.subject} is held: the day on which to look at it again.")
    reason = f"order {order['order']} held"
    held = [name for name in _next_steps(board, event.subject) if hold_step(board, *name, event.until, reason)]
    return (
        f"Order {event.subject} is held until {event.until:%Y-%m-%d %H:%M}: {counted(len(held), 'batch', 'batches')}."
    )


def unhold(board: Board, event: Event) -> str:
    """An order that was held goes on."""
    board.known("orders", event.subject)
    decided = [
        c for entry in _holds(board, event.subject) for c in board.writing.changes(entry.id) if c.sheet == "pins"
    ]
    freed = {change.row for change in reversed(decided) if go_back(board, change)}
    if not freed:
        raise Refused(f"Order {event.subject} is not held. A single step that is held: 'batchwright decide DB lift'.")
    return f"Order {event.subject} goes on: {counted(len(freed), 'batch', 'batches')}."


def _holds(board: Board, order: str) -> list[Entry]:
    """What held an order since it last went on, and was not undone, the first first."""
    found: list[Entry] = []
    for entry in board.writing.entries("event"):
        if entry.undone_by is None and entry.what in ("hold", "unhold") and entry.data.get("subject") == order:
            found = [*found, entry] if entry.what == "hold" else []
    return found


def _next_steps(board: Board, order: str) -> list[tuple[str, int]]:
    """The first step that is not begun, of each batch that this order alone needs."""
    work = planned_work(board, board.draft.shop())
    feeds, found = Feeds(work), []
    for batch in work.batches:
        if [o.number for o in feeds.orders(batch.index)] == [order]:
            free = [work.operations[i] for i in batch.operations if work.operations[i].begun in (Begun.NO, Begun.PART)]
            found += [(batch.name, op.number) for op in free[:1]]
    return found


def cancel(board: Board, event: Event) -> str:
    """An order is not wanted any more; its batches go to stock, or those that are not begun are dropped."""
    order = _open_order(board, event)
    board.draft.put(order, {"quantity": 0, "note": "; ".join(filter(None, (order["note"], "cancelled", event.reason)))})
    own = [r["batch"] for r in board.draft.rows("batches") if r["order"] == event.subject]
    begun = [name for name in own if board.rows_of(name)]
    dropped = [name for name in own if name not in begun] if event.drop_batches else []
    for name in dropped:
        board.draft.drop(board.known("batches", name))
    left = [name for name in own if name not in dropped]
    told = f" Dropped: {', '.join(dropped)}." if dropped else ""
    batches = "batch {} now goes" if len(left) == 1 else "batches {} now go"
    told += f" Released {batches.format(', '.join(left))} to stock or to other orders." if left else ""
    return f"Order {event.subject} is cancelled.{told}"


def quantity(board: Board, event: Event) -> str:
    order = _open_order(board, event)
    if not event.quantity:
        raise Refused("Say how many are wanted now; for none, cancel the order.")
    board.draft.put(order, {"quantity": event.quantity})
    return f"Order {event.subject}: {event.quantity} wanted, not {order['quantity']}."


def _open_order(board: Board, event: Event) -> StoredRow:
    row = board.known("orders", event.subject)
    if row["quantity"] == "0":
        raise Refused(f"Order {event.subject} is closed.")
    return row


def ship(board: Board, event: Event) -> str:
    """Part of an order (or all of it) leaves: out of finished batches, stock, or what the last step has made good."""
    order = _open_order(board, event)
    wanted = typed(order)["quantity"]
    pieces = wanted if event.quantity is None else event.quantity
    if not 0 < pieces <= wanted:
        raise Refused(f"From 1 to {wanted} of order {event.subject} can be shipped.")
    left = pieces - _take(board, order["part"], event.subject, pieces)
    if left:
        raise Refused(f"Only {pieces - left} of {order['part']} are ready for order {event.subject}, {left} short.")
    board.draft.put(order, {"quantity": wanted - pieces})
    rest = f"{wanted - pieces} left" if wanted > pieces else "the order is complete"
    return f"{counted(pieces, 'piece')} of order {event.subject} shipped, {rest}."


def _take(board: Board, part: str, order: str, pieces: int) -> int:
    """Pieces taken, its own batches first."""
    left = pieces
    done = finished(board, part)
    for batch in sorted(done, key=lambda b: (b.order != order, b.order is not None, b.number)):
        if batch.order in (order, None) and left:
            gone = min(left, alive(batch))
            take_out(board, batch.number, gone)
            left -= gone
    stock = board.draft.find("stock", part=part)
    if stock is not None and left:
        gone = min(left, typed(stock)["quantity"])
        board.draft.put(stock, {"quantity": typed(stock)["quantity"] - gone})
        left -= gone
    for name in [r["batch"] for r in board.draft.rows("batches") if r["part"] == part and r["order"] in (order, "")]:
        ready = _good_at_last_step(board, name)
        if left and ready:
            gone = min(left, ready)
            take_out(board, name, gone)
            left -= gone
    return pieces - left


def _good_at_last_step(board: Board, name: str) -> int:
    """Pieces of a batch that is not finished which have been through all steps."""
    batch = board.batch(name)
    last = board.steps(batch.part)[-1]
    row = next((p for p in batch.progress if p.operation == last.number), None)
    return row.good if row and row.state != "done" and last.sample_pieces is None else 0
