"""Orders and the batches reserved for them."""

from __future__ import annotations

from collections.abc import Iterator

from planner.faults import Fault
from planner.intake.rows import Tables


def reserved_for_other_part(tables: Tables) -> Iterator[Fault]:
    """A batch is reserved for an order of its part, or of something that its part goes into."""
    orders = tables.by_key("orders", "order")
    for row in tables["batches"]:
        order = orders.get(row["order"])
        if order and order["part"] and row["part"] and row["part"] not in _parts_in(tables, order["part"]):
            mend = f"Order '{row['order']}' is for '{order['part']}' (orders.csv row {order.number}): mend one."
            yield row.fault("order", f"an order that '{row['part']}' goes into", mend)


def _parts_in(tables: Tables, top: str) -> set[str]:
    """A part and everything below it."""
    found = {top}
    ahead = [top]
    while ahead:
        parent = ahead.pop()
        below = {row["component"] for row in tables["structure"] if row["parent"] == parent} - found
        found |= below
        ahead.extend(below)
    return found
