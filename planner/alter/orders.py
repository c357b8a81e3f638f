"""Orders added, taken out, moved, changed in quantity or class; material and receipts sooner or later."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime

from planner.alter.base import Alteration, with_one
from planner.alter.fields import AlterFault, said
from planner.alter.hours import shown
from planner.counted import counted
from planner.dates.enquiry import LARGEST
from planner.explode.clock import clock_of
from planner.shop import Order, Shop

HERE = "what if"


def _past_day(change: Alteration, shop: Shop, field: str) -> Iterator[AlterFault]:
    today = clock_of(shop).today
    when: date | datetime | None = getattr(change, field)
    if when is not None and (when.date() if isinstance(when, datetime) else when) < today:
        yield change.fault(field, f"a day not before the plan start ({today})", "Name a later day.")


def _pieces(change: Alteration, pieces: int) -> Iterator[AlterFault]:
    if pieces > LARGEST:
        yield change.fault("quantity", f"at most {LARGEST:,} pieces", "That is too many pieces: name fewer.")


def _other(shop: Shop, number: str, **fields: object) -> Shop:
    """The shop with fields of one order changed."""
    order = replace(shop.orders[number], **fields)  # type: ignore[arg-type]
    return replace(shop, orders=with_one(shop.orders, number, order))


@dataclass(frozen=True)
class NewOrder(Alteration):
    """One more order."""

    kind = "order"
    title = "Order added"

    number: str = said("", "name", "its number")
    quantity: int = said("for", "positive", "pieces")
    part: str = said("of", "name", "part number", "part")
    due: date | datetime = said("by", "due", "due day (ready by the dispatch cut-off) or moment")
    priority: str = said("class", "name", "its class", "class")
    material: date | None = said("material", "date", "day from which the material is here", default=None)

    @property
    def text(self) -> str:
        material = f", material on {shown(self.material)}" if self.material else ""
        pieces = counted(self.quantity, "piece")
        return f"Order {self.number} added: {pieces} of {self.part} by {shown(self.due)}, class '{self.priority}'{material}."

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        if self.number in shop.orders:
            yield self.fault("number", "a number that no order has yet", "Choose another number.")
        yield from _pieces(self, self.quantity)
        yield from _past_day(self, shop, "due")

    def changed(self, shop: Shop) -> Shop:
        order = Order(self.number, HERE, self.part, self.quantity, self.due, self.priority, self.material)
        return replace(shop, orders=with_one(shop.orders, self.number, order))


@dataclass(frozen=True)
class Drop(Alteration):
    """An order is not made."""

    kind = "drop"
    title = "Order taken out"

    order: str = said("", "name", "which order", "order")

    @property
    def text(self) -> str:
        return f"Order {self.order} taken out."

    def changed(self, shop: Shop) -> Shop:
        batches = {n: replace(b, order=None) if b.order == self.order else b for n, b in shop.batches.items()}
        orders = {n: o for n, o in shop.orders.items() if n != self.order}
        return replace(shop, orders=orders, batches=batches)


@dataclass(frozen=True)
class Due(Alteration):
    """An order is wanted on another day; what was promised for the old one goes with it."""

    kind = "due"
    title = "Order moved"

    order: str = said("", "name", "which order", "order")
    due: date | datetime = said("to", "due", "new due day or moment")

    @property
    def text(self) -> str:
        return f"Order {self.order} due {shown(self.due)}."

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        yield from _past_day(self, shop, "due")

    def changed(self, shop: Shop) -> Shop:
        return _other(shop, self.order, due=self.due, promise=None)


@dataclass(frozen=True)
class Quantity(Alteration):
    """An order is for another quantity."""

    kind = "quantity"
    title = "Order for another quantity"

    order: str = said("", "name", "which order", "order")
    quantity: int = said("to", "positive", "pieces")

    @property
    def text(self) -> str:
        return f"Order {self.order} for {counted(self.quantity, 'piece')}."

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        yield from _pieces(self, self.quantity)

    def changed(self, shop: Shop) -> Shop:
        return _other(shop, self.order, quantity=self.quantity)


@dataclass(frozen=True)
class Class(Alteration):
    """An order has another class."""

    kind = "class"
    title = "Order of another class"

    order: str = said("", "name", "which order", "order")
    priority: str = said("to", "name", "its new class", "class")

    @property
    def text(self) -> str:
        return f"Order {self.order} in class '{self.priority}'."

    def changed(self, shop: Shop) -> Shop:
        return _other(shop, self.order, priority=self.priority)


@dataclass(frozen=True)
class Material(Alteration):
    """The material of an order is here on another day."""

    kind = "material"
    title = "Material on another day"

    order: str = said("", "name", "which order", "order")
    day: date = said("on", "date", "day from which it is here")

    @property
    def text(self) -> str:
        return f"Material of order {self.order} here on {shown(self.day)}."

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        yield from _past_day(self, shop, "day")

    def changed(self, shop: Shop) -> Shop:
        return _other(shop, self.order, material_date=self.day)


@dataclass(frozen=True)
class ReceiptOn(Alteration):
    """Bought pieces come on another day."""

    kind = "receipt"
    title = "Bought pieces on another day"

    receipt: str = said("", "name", "reference of the receipt", "receipt")
    day: date = said("on", "date", "day on which they come")

    @property
    def text(self) -> str:
        return f"Receipt {self.receipt} comes on {shown(self.day)}."

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        yield from _past_day(self, shop, "day")

    def changed(self, shop: Shop) -> Shop:
        moved = (replace(r, due=self.day) if r.reference == self.receipt else r for r in shop.receipts)
        return replace(shop, receipts=tuple(moved))
