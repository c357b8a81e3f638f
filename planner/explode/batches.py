"""Drafts of batches become the batches, operations, needs and orders of ``Work``."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from planner import shop
from planner.explode.clock import Clock
from planner.explode.giving import NOT_ON_ORDER, Bin, Draft, Gift, Giver
from planner.explode.outside import back_from
from planner.explode.progress import StepState
from planner.explode.quantities import setting_pieces
from planner.explode.resources import Index
from planner.faults import Fault
from planner.work import NEVER, Alternative, Batch, Begun, Given, Kind, Need, Operation, Order, Source

_KINDS = {"machine": Kind.MACHINE, "manual": Kind.MANUAL, "outside": Kind.OUTSIDE, "wait": Kind.WAIT}


@dataclass
class Notes:
    """What comes up on the way: what was taken for granted, and what makes planning impossible."""

    assumptions: list[str]
    faults: list[Fault]


@dataclass(frozen=True)
class Made:
    """Batches with their operations, and how supplies go to demands."""

    batches: tuple[Batch, ...]
    operations: tuple[Operation, ...]
    needs: tuple[Need, ...]
    orders: tuple[Order, ...]
    given: tuple[Given, ...]


class Builder:
    """Numbers what the giving found: batches by earliest due then name, orders by due then number."""

    def __init__(self, shop_: shop.Shop, giver: Giver, index: Index, clock: Clock, notes: Notes) -> None:
        self.shop = shop_
        self.giver = giver
        self.index = index
        self.clock = clock
        self.notes = notes
        self.due = {number: clock.due(order.due) for number, order in shop_.orders.items()}
        self.drafts = sorted(giver.drafts.values(), key=lambda d: (self._due_of(d), d.name))
        self.batch_at = {draft.name: i for i, draft in enumerate(self.drafts)}
        self.operation_at: dict[tuple[str, int], int] = {}
        self.undated_orders: set[str] = set()
        self.undated_batches: set[str] = set()

    def build(self) -> Made:
        operations: list[Operation] = []
        batches = []
        for i, draft in enumerate(self.drafts):
            own = self._operations(draft, i, len(operations))
            operations += own
            batches.append(self._batch(draft, i, own))
        gifts = sorted(self.giver.gifts, key=self._gift_key)
        self._note_undated()
        return Made(
            tuple(batches),
            tuple(operations),
            tuple(self._need(gift) for gift in gifts if gift.demand.batch),
            self._orders(gifts),
            tuple(Given(g.demand.part, g.pieces, str(g), str(g.demand)) for g in gifts),
        )

    def _due_of(self, draft: Draft) -> int:
        return min((self.due[order] for order in self._leading(draft)), default=NEVER)

    def _leading(self, draft: Draft) -> set[str]:
        """Orders that date the batch: all it feeds, but none that comes after all and takes only what is over."""
        return {order for order in draft.feeds if not self.shop.orders[order].after_all} or draft.feeds

    # --- batches and operations -------------------------------------------------------------

    def _batch(self, draft: Draft, i: int, operations: list[Operation]) -> Batch:
        part = self.shop.parts[draft.part]
        return Batch(
            index=i,
            name=draft.name,
            part=part.number,
            revision=part.revision,
            description=part.description,
            start_pieces=draft.start,
            setting_pieces=setting_pieces(self.shop.routings[draft.part].operations),
            good_expected=draft.good,
            release_min=self._release(draft),
            operations=tuple(op.index for op in operations),
            due_min=self._due_of(draft),
            own_product=part.own_product,
            is_open=draft.released is not None,
        )

    def _operations(self, draft: Draft, batch: int, first: int) -> list[Operation]:
        steps = zip(self.shop.routings[draft.part].operations, draft.states, strict=True)
        made = []
        for i, (step, state) in enumerate(steps, first):
            self.operation_at[draft.name, step.number] = i
            made.append(self._operation(step, state, i, batch, draft))
        return made

    def _operation(self, step: shop.Operation, state: StepState, i: int, batch: int, draft: Draft) -> Operation:
        kind = _KINDS[step.kind]
        row = state.row
        outside = kind == Kind.OUTSIDE
        return Operation(
            index=i,
            batch=batch,
            number=step.number,
            description=step.description,
            kind=kind,
            pieces=state.pieces,
            pieces_left=state.pieces_left,
            pieces_per_cycle=step.pieces_per_cycle,
            alternatives=self._alternatives(step),
            family=step.family or "",
            skill=self._skill(step),
            first_off_skill=self.index.skills[step.first_off_skill] if step.first_off_skill else None,
            first_off_min=step.first_off_min,
            unattended_limit_min=step.unattended_limit_min,
            may_pause=step.may_pause,
            transfer_pieces=step.transfer_pieces,
            setup_ahead=step.setup_ahead,
            move_min=step.move_min,
            move_calendar=self.index.moves[step.move_calendar] if step.move_calendar else None,
            wait_min=step.wait_min,
            equipment=self._equipment(step),
            service=self.index.services[step.supplier or "", step.process or ""] if outside else None,
            charge_key=step.charge_key or "",
            piece_price_pence=step.piece_price_pence,
            begun=state.begun,
            begun_machine=self.index.machines[row.machine] if row and row.machine else None,
            begun_person=self.index.people[row.person] if row and row.person else None,
            setup_left_min=row.setup_left_min if row and state.begun == Begun.RUNNING else 0,
            first_off_passed=bool(row and row.first_off_passed),
            back_min=self._back(step, row, draft) if row and state.begun == Begun.OUT else 0,
        )

    def _alternatives(self, step: shop.Operation) -> tuple[Alternative, ...]:
        found = (Alternative(self.index.machines[a.machine], a.setup_min, a.cycle_sec) for a in step.alternatives)
        return tuple(sorted(found, key=lambda a: a.machine))

    def _skill(self, step: shop.Operation) -> int | None:
        """Who does a manual step or sets a machine step: the step's own skill, or the group's setters."""
        if step.kind not in ("machine", "manual"):
            return None
        name = step.skill or (self.shop.groups[step.group].setup_skill if step.group else None)
        return self.index.skills[name] if name else None

    def _equipment(self, step: shop.Operation) -> tuple[tuple[int, int], ...]:
        units: dict[int, int] = {}
        for name, count in step.equipment:
            units[self.index.equipment[name]] = units.get(self.index.equipment[name], 0) + count
        return tuple(sorted(units.items()))

    def _back(self, step: shop.Operation, row: shop.Progress, draft: Draft) -> int:
        if row.collected is None:
            self.notes.faults.append(
                Fault("progress.csv", None, "collected", "", f"when batch {draft.name} operation {step.number} was fetched",
                      "Enter date and time of the collection.")
            )  # fmt: skip
            return 0
        back, overdue = back_from(self.shop, step, row.collected, self.clock)
        if back is None:
            self.notes.faults.append(
                Fault("progress.csv", None, "collected", f"{row.collected:%Y-%m-%d %H:%M}",
                      f"a delivery from {step.supplier} within the known calendars",
                      f"Batch {draft.name} operation {step.number} never comes back: extend calendar "
                      f"'{self.shop.suppliers[step.supplier or ''].calendar}' and the shop calendar, or add deliveries.")
            )  # fmt: skip
            return 0
        if overdue:
            self.notes.assumptions.append(
                f"Batch {draft.name} operation {step.number} should be back from {step.supplier} already: "
                "taken to come with the next delivery."
            )
        return back

    # --- release ----------------------------------------------------------------------------

    def _release(self, draft: Draft) -> int:
        """First minute at which the material is here; 0 where that is taken for granted, and noted."""
        if draft.begun:
            return 0
        if draft.released and draft.released.material_date:
            return self._usable("batches.csv", f"batch {draft.name}", draft.released.material_date)
        dates = {order: self.shop.orders[order].material_date for order in self._leading(draft)}
        self.undated_orders |= {order for order, day in dates.items() if day is None}
        if not dates:
            self.undated_batches.add(draft.name)
        usable = (self._usable("orders.csv", f"order {order}", day) for order, day in dates.items() if day)
        return max(usable, default=0)

    def _usable(self, file: str, whose: str, day: date) -> int:
        minute = self.clock.usable_from(day)
        if minute < NEVER:
            return max(0, minute)
        fault = Fault(
            file, None, "material_date", f"{day} for {whose}", "a day within the known shop calendar",
            f"Enter a later 'known_to' for calendar '{self.shop.settings.shop_calendar}' and its hours up to then, or an earlier date.",
        )  # fmt: skip
        if fault not in self.notes.faults:
            self.notes.faults.append(fault)
        return 0

    def _note_undated(self) -> None:
        for what, names in (("orders", self.undated_orders), ("open batches", self.undated_batches)):
            if names:
                self.notes.assumptions.append(
                    f"No material date, material taken as here at plan start, for {what}: {', '.join(sorted(names))}."
                )

    # --- needs and orders -------------------------------------------------------------------

    def _gift_key(self, gift: Gift) -> tuple[int, int, int, str, str]:
        """By demand; the gifts to one demand stay in the order in which supplies are used."""
        demand = gift.demand
        batch = self.batch_at[demand.batch] if demand.batch else -1
        return (batch, demand.operation, demand.due, demand.order, demand.part)

    def _source(self, gift: Gift) -> Source:
        if gift.batch:
            return Source(gift.pieces, batch=self.batch_at[gift.batch])
        receipt, at = self._bin(gift.bin)
        return Source(gift.pieces, receipt=receipt, at_min=at)

    def _bin(self, supply: Bin | None) -> tuple[str, int]:
        """Reference and minute of pieces that come from no batch."""
        if supply is None or supply.receipt is None:
            return (NOT_ON_ORDER if supply and supply.missing else ""), 0
        return supply.receipt.reference, self._usable("receipts.csv", "date", supply.receipt.due)

    def _need(self, gift: Gift) -> Need:
        operation = self.operation_at[gift.demand.batch, gift.demand.operation]
        source = self._source(gift)
        return Need(operation, gift.demand.part, gift.pieces, source.batch, source.receipt, source.at_min)

    def _orders(self, gifts: list[Gift]) -> tuple[Order, ...]:
        wanted = [order for order in self.shop.orders.values() if order.quantity > 0]
        wanted.sort(key=lambda order: (self.due[order.number], order.number))
        sources: dict[str, list[Source]] = {order.number: [] for order in wanted}
        for gift in gifts:
            if gift.demand.order:
                sources[gift.demand.order].append(self._source(gift))
        return tuple(self._order(order, i, tuple(sources[order.number])) for i, order in enumerate(wanted))

    def _order(self, order: shop.Order, i: int, sources: tuple[Source, ...]) -> Order:
        return Order(
            index=i,
            number=order.number,
            customer=order.customer,
            part=order.part,
            pieces=order.quantity,
            due_min=self.due[order.number],
            weight=self.shop.classes[order.priority].weight,
            priority=order.priority,
            sources=sources,
            promise_min=None if order.promise is None else self.clock.due(order.promise),
            provisional_until=order.provisional_until,
        )
