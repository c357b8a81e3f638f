"""Supplies are given to demands: which stock, receipt or batch covers what, and what must be made.

Parts are taken in low-level order: a part only after everything it goes into, so that all demand
for it is known. Within a part, demands come by due (the earliest due among the orders they feed),
then order number, then batch name. Supplies are used in this order:

1. open batches reserved for an order, for demands that feed that order;
2. stock; receipts by date, then reference; open batches, the fewest steps left first, then by name;
3. new batches. Demands with the same leading order (the earliest due they feed) are made together;
   what a batch brings beyond them goes on to later demands.

An order that comes after all (an enquiry, kept or being asked) is given what is left when all others have been served, so that
nothing of theirs is otherwise because of it. Once a batch has been released for it, it is an order like others.

A new batch of an order's own part is called ``<order>-1``; of a component ``<order>/<part>-1``,
after the leading order; a second one has -2. Numbers of open batches are passed over, so a
batch that has been released under its name keeps it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from graphlib import TopologicalSorter
from itertools import groupby

from planner.explode import quantities
from planner.explode.clock import Clock
from planner.explode.progress import StepState, good_to_expect, needs_pieces, step_states
from planner.shop import OpenBatch, Order, Receipt, Shop
from planner.work import NEVER, Begun

NOT_ON_ORDER = "not on order"


@dataclass(frozen=True)
class Demand:
    """Pieces wanted by an order, or by a step of a parent batch. ``leader``: earliest due order it feeds, or ''."""

    part: str
    pieces: int
    due: int
    leader: str
    feeds: frozenset[str]
    order: str = ""
    batch: str = ""
    operation: int = 0

    @property
    def key(self) -> tuple[int, str, str, int]:
        return (self.due, self.leader, self.batch, self.operation)

    def __str__(self) -> str:
        return f"order {self.order}" if self.order else f"batch {self.batch} operation {self.operation}"


@dataclass
class Draft:
    """A batch while its orders are being found. ``left``: good pieces not yet given."""

    name: str
    part: str
    start: int
    good: int
    left: int
    states: tuple[StepState, ...]
    released: OpenBatch | None = None
    feeds: set[str] = field(default_factory=set)

    @property
    def steps_left(self) -> int:
        return sum(state.begun != Begun.DONE for state in self.states)

    @property
    def begun(self) -> bool:
        return any(state.begun != Begun.NO for state in self.states)


@dataclass
class Bin:
    """Pieces that are there or on their way: stock, a receipt, or what is taken as here."""

    pieces: int
    receipt: Receipt | None = None
    missing: bool = False  # bought, and not on order

    @property
    def left(self) -> int:
        return self.pieces

    @left.setter
    def left(self, value: int) -> None:
        self.pieces = value


@dataclass(frozen=True)
class Gift:
    """One giving of supply to demand: from a batch, or from a bin."""

    demand: Demand
    pieces: int
    batch: str = ""
    bin: Bin | None = None

    def __str__(self) -> str:
        if self.bin is None:
            return f"batch {self.batch}"
        if self.bin.receipt:
            return f"receipt {self.bin.receipt.reference}"
        return NOT_ON_ORDER if self.bin.missing else "stock"


class Giver:
    """Gives supplies to demands for a whole shop; ``run`` fills ``drafts`` and ``gifts``."""

    def __init__(self, shop: Shop, clock: Clock) -> None:
        self.shop = shop
        self.drafts: dict[str, Draft] = {}
        self.gifts: list[Gift] = []
        self._earlier: frozenset[str] = frozenset()  # drafts for the orders that were given to before
        self._due = {o.number: clock.due(o.due) for o in shop.orders.values()}
        self._demands: dict[str, list[Demand]] = {}
        self._bins: dict[str, list[Bin]] = {}
        self._components: dict[str, list[tuple[str, int, int]]] = {}
        for row in shop.structure:
            step = row.operation
            if step is None and row.parent in shop.routings:
                step = shop.routings[row.parent].operations[0].number
            self._components.setdefault(row.parent, []).append((row.component, row.quantity_per, step or 0))

    def run(self) -> None:
        """Give to all orders together, then to each of those that come after all with what is left."""
        orders = [order for order in self.shop.orders.values() if order.quantity > 0]
        batches = sorted(self.shop.batches.values(), key=lambda b: b.number)
        released = {batch.order for batch in batches}
        after = [order for order in orders if order.after_all and order.number not in released]
        self._give_to([order for order in orders if order not in after], batches)
        for order in sorted(after, key=lambda o: (o.is_asked, self._due[o.number], o.number)):
            self._give_to([order], [])

    def _give_to(self, orders: Sequence[Order], batches: Sequence[OpenBatch]) -> None:
        self._demands = {}
        self._earlier = frozenset(self.drafts)
        for order in orders:
            self._want(order.part, order.quantity, {order.number}, order=order.number)
        for batch in batches:
            self._released(batch)
        for part in self._low_level_order():
            self._cover(part)
            for draft in self._of_part(part):
                if draft.name not in self._earlier:
                    self._want_components(draft)

    def _low_level_order(self) -> list[str]:
        """Every part after all it goes into; by name within a level."""
        parents: dict[str, set[str]] = {part: set() for part in self.shop.parts}
        for row in self.shop.structure:
            parents[row.component].add(row.parent)
        level: dict[str, int] = {}
        for part in TopologicalSorter(parents).static_order():
            level[part] = 1 + max((level[parent] for parent in parents[part]), default=0)
        return sorted(level, key=lambda part: (level[part], part))

    def _of_part(self, part: str) -> list[Draft]:
        return [d for _, d in sorted(self.drafts.items()) if d.part == part]

    def _want(
        self, part: str, pieces: int, feeds: Iterable[str], *, order: str = "", batch: str = "", step: int = 0
    ) -> None:
        due, leader = min(((self._due[o], o) for o in feeds), default=(NEVER, ""))
        demand = Demand(part, pieces, due, leader, frozenset(feeds), order, batch, step)
        self._demands.setdefault(part, []).append(demand)

    def _want_components(self, draft: Draft) -> None:
        wanted: dict[tuple[str, int], int] = {}
        states = {op.number: s for op, s in zip(self.shop.routings[draft.part].operations, draft.states, strict=True)}
        for component, per, step in self._components.get(draft.part, []):
            wanted[component, step] = wanted.get((component, step), 0) + per * needs_pieces(states[step])
        for (component, step), pieces in sorted(wanted.items()):
            if pieces:
                self._want(component, pieces, draft.feeds, batch=draft.name, step=step)

    # --- one part ---------------------------------------------------------------------------

    def _cover(self, part: str) -> None:
        demands = sorted(self._demands.get(part, []), key=lambda d: d.key)
        short = {demand: demand.pieces for demand in demands}
        for draft in self._of_part(part):
            reserved = draft.released.order if draft.released else None
            for demand in demands:
                if reserved in demand.feeds:
                    self._give(draft, demand, short)
        for supply in self._supplies(part):
            for demand in demands:
                self._give(supply, demand, short)
        for leader, group in groupby(demands, key=lambda d: (d.due, d.leader)):
            self._make_or_buy(part, leader[1], list(group), short)

    def _supplies(self, part: str) -> list[Bin | Draft]:
        if part not in self._bins:
            receipts = sorted((r for r in self.shop.receipts if r.part == part), key=lambda r: (r.due, r.reference))
            self._bins[part] = [Bin(self.shop.stock.get(part, 0)), *(Bin(r.quantity, r) for r in receipts)]
        return [*self._bins[part], *sorted(self._of_part(part), key=lambda d: (d.steps_left, d.name))]

    def _make_or_buy(self, part: str, leader: str, demands: Sequence[Demand], short: dict[Demand, int]) -> None:
        for draft in self._of_part(part):
            for demand in demands:
                self._give(draft, demand, short)
        missing = sum(short[demand] for demand in demands)
        supplies: list[Bin | Draft] = []
        if self.shop.parts[part].made and missing:
            supplies += self._new_batches(part, missing, leader, demands)
        elif missing:
            supplies.append(Bin(missing, missing=True))
        for supply in supplies:
            for demand in demands:
                self._give(supply, demand, short)

    def _give(self, supply: Bin | Draft, demand: Demand, short: dict[Demand, int]) -> None:
        pieces = min(supply.left, short[demand])
        if pieces <= 0:
            return
        supply.left -= pieces
        short[demand] -= pieces
        if isinstance(supply, Draft):
            supply.feeds |= demand.feeds
            self.gifts.append(Gift(demand, pieces, batch=supply.name))
        else:
            self.gifts.append(Gift(demand, pieces, bin=supply))

    # --- batches ------------------------------------------------------------------------------

    def _yield(self, part: str) -> Fraction:
        return quantities.yield_of(self.shop.parts[part].yield_percent)

    def _released(self, batch: OpenBatch) -> None:
        states = step_states(self.shop.routings[batch.part], batch.quantity, batch.progress)
        good = good_to_expect(batch, states, self._yield(batch.part), self.shop.settings.confidence_percent)
        self.drafts[batch.number] = Draft(batch.number, batch.part, batch.quantity, good, good, states, batch)

    def _new_batches(self, part: str, need: int, leader: str, demands: Sequence[Demand]) -> list[Draft]:
        confidence = self.shop.settings.confidence_percent
        share = self._yield(part)
        made = []
        for start in quantities.batch_quantities(need, self.shop.parts[part].rule, share, confidence):
            good = quantities.good_from(start, share, confidence)
            states = step_states(self.shop.routings[part], start)
            draft = Draft(self._name(part, leader, demands[0]), part, start, good, good, states)
            self.drafts[draft.name] = draft
            made.append(draft)
        return made

    def _name(self, part: str, leader: str, first: Demand) -> str:
        stem = first.order or f"{leader or first.batch}/{part}"
        number = 1
        while f"{stem}-{number}" in self.drafts:
            number += 1
        return f"{stem}-{number}"
