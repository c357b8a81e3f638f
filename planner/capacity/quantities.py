"""What quantity to make a part in: setups against stock, the hours of the group that limits, minimum charges, bars, scrap.

For each own-product part (or any that is named): the economic batch with its make rate, the same with setups charged what an hour of the
limiting group is worth where its hours would not hold them all, the quantity at which an outside firm's minimum charge stops
costing more, bars, and start quantities by how sure one wants to be. What is suggested costs least of all quantities that the part's
batch rule allows, outside charges counted. Money is in pence, a year is a year of the demand found.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeVar

import numpy as np

from planner.capacity.adding import GROUP
from planner.capacity.bars import bars_needed, kg_of, parts_of, pieces_of_bar
from planner.capacity.lots import Lot, dearer, hour_price
from planner.capacity.months import View, made_parts
from planner.capacity.quantities_told import Bars, Charge, Point, Quantities, Quantity, Start
from planner.capacity.requirements import share_good
from planner.capacity.rough import group_hours, step_minutes, typical_batch, within_rule
from planner.explode.clock import clock_of
from planner.explode.quantities import chance_enough, setting_pieces, start_quantity, yield_of
from planner.shop import Operation, Shop

Amount = TypeVar("Amount", float, np.ndarray)

CONFIDENCES = (50, 80, 90, 95)
POINTS = 60  # of a cost curve
TRIED = 20_000  # quantities of one part at most
NEAR = 0.05  # a batch is nearly as good as the best while it costs so much more a year at most


def quantities(shop: Shop, parts: Sequence[str] = ()) -> Quantities:
    """Batch quantities of the own products' parts, or of those named.

    Raises
    ------
    UnknownPart
        For a part that is not made here.
    """
    return _Finder(shop, made_parts(shop, parts)).answer()


@dataclass(frozen=True)
class _Item:
    """A part with what its lot is made of; a setup's hours are those on the limiting group."""

    part: str
    lot: Lot
    hours: float
    run_hours: float  # on the limiting group, a piece


class _Finder:
    def __init__(self, shop: Shop, parts: tuple[str, ...]) -> None:
        self.shop, self.clock = shop, clock_of(shop)
        view = View(shop)
        self.months, self.good, self.loads = view.months, view.good, view.loads_of_demand()
        own = (p.number for p in shop.parts.values() if p.own_product and p.made)
        self.parts = tuple(p for p in parts or sorted(own) if p in self.good)
        self.unasked = tuple(p for p in parts if p not in self.good)
        self.hours = group_hours(shop, self.clock, self.months)
        self.limit, self.percent = self._limiting()
        self.value = lru_cache(maxsize=None)(self._value)

    def answer(self) -> Quantities:
        items = [self._item(p) for p in self.parts]
        left = self._hours_left(items)
        price = hour_price([i.lot for i in items], [i.hours for i in items], left)
        rows = tuple(self._quantity(i, price) for i in items)
        return Quantities(
            rows, self.limit, self.percent, round(left, 1), None if price is None else round(price), tuple(self._assumptions())
        )  # fmt: skip

    # --- what the shop's figures say -------------------------------------------------------------------

    @property
    def a_year(self) -> float:
        """From the months looked at to a year."""
        return 12 / len(self.months)

    def _limiting(self) -> tuple[str, float | None]:
        """The group that is fullest over all the months."""
        shares = {}
        for group in self.shop.groups:
            rows = [r for r in self.loads if (r.kind, r.name) == (GROUP, group)]
            there = sum(r.counted_min for r in rows)
            shares[group] = 100 * sum(r.needed_min for r in rows) / there if there else 0.0
        name = max(shares, key=lambda g: (shares[g], g))
        return name, round(shares[name], 1)

    def _hours_left(self, items: Sequence[_Item]) -> float:
        """Hours a year of the limiting group that are left for these parts' setups by all else and by their running."""
        rows = [r for r in self.loads if (r.kind, r.name) == (GROUP, self.limit)]
        there = sum(r.counted_min for r in rows) / 60 * self.a_year
        all_work = sum(r.needed_min for r in rows) / 60 * self.a_year
        setups = sum(i.lot.demand / self._present(i.part) * i.hours for i in items)
        return there - (all_work - setups)

    def _present(self, part: str) -> int:
        return typical_batch(self.shop, part, float(self.good[part].mean()))

    def _rate(self, group: str) -> int:
        own = self.shop.groups[group].hourly_rate_pence
        return self.shop.settings.hourly_rate_pence if own is None else own

    def _value(self, part: str) -> float:
        """Pence of a finished piece: as given, else its own work at the hourly rates, outside work and components; material is not in it."""
        record = self.shop.parts[part]
        if record.piece_value_pence is not None or not record.made:
            return float(record.piece_value_pence or 0)
        batch = self._present(part) if part in self.good else 1
        work = sum(s.run_min / batch / 60 * self._rate(s.group) for s in step_minutes(self.shop, part, batch))
        sent = sum(o.piece_price_pence for o in self._outside(part))
        return (
            work + sent + sum(c.quantity_per * self.value(c.component) for c in self.shop.structure if c.parent == part)
        )

    def _outside(self, part: str) -> list[Operation]:
        return [o for o in self.shop.routings[part].operations if o.kind == "outside"]

    def _item(self, part: str) -> _Item:
        """The lot in start pieces a year and pence."""
        batch = self._present(part)
        steps = step_minutes(self.shop, part, batch)
        demand = float(self.good[part].sum()) / share_good(self.shop, part) * self.a_year
        setup = sum((s.setup_min + s.check_min) / 60 * self._rate(s.group) for s in steps)
        setup += setting_pieces(self.shop.routings[part].operations) * self.value(part)
        holding = max(self.value(part), 1.0) * max(self.shop.settings.holding_percent, 1) / 100
        on = [s for s in steps if s.group == self.limit]
        return _Item(
            part, Lot(demand, setup, holding, max(self._make_rate(part, batch), 1.001 * demand)),
            sum(s.setup_min for s in on) / 60, sum(s.run_min for s in on) / batch / 60,
        )  # fmt: skip

    def _make_rate(self, part: str, batch: int) -> float:
        """Pieces a year if one machine of its slowest step did nothing else."""
        rates = []
        for step in step_minutes(self.shop, part, batch):
            machines = sum(m.group == step.group for m in self.shop.machines.values())
            if step.run_min:
                rates.append(sum(self.hours[step.group].counted) / machines * self.a_year / (step.run_min / batch))
        return min(rates, default=1e9)

    # --- one part ------------------------------------------------------------------------------------------

    def _quantity(self, item: _Item, price: float | None) -> Quantity:
        shop, part, lot = self.shop, item.part, item.lot
        record, present = shop.parts[part], self._present(part)
        charged = dearer(lot, (price or 0.0) * item.hours)
        quantities_ = self._allowed(part, lot)
        costs = charged.cost(quantities_) + self._sent(part, lot, quantities_)
        best = int(costs.argmin())
        near = quantities_[costs <= costs[best] * (1 + NEAR)]
        suggested = int(quantities_[best])
        steps = step_minutes(shop, part, present)
        setup = sum(s.setup_min for s in steps)
        yield_ = yield_of(record.yield_percent)
        good = max(1, int(suggested * yield_))
        plain = start_quantity(good, yield_)
        now = lot.cost(present) + self._sent(part, lot, present)
        return Quantity(
            part, record.description, round(float(self.good[part].sum()) * self.a_year), present, round(setup),
            round(sum(s.run_min for s in steps) / present, 2), self._share(part, present), round(lot.setup_cost),
            round(self.value(part)), round(lot.holding, 2), round(min(lot.make_rate, 1e9)), round(lot.economic),
            None if price is None else round(charged.economic), self._charges(part), suggested,
            self._because(part, suggested, charged, price), int(near[0]), int(near[-1]), self._share(part, suggested),
            round(now - lot.cost(suggested) - self._sent(part, lot, suggested)), self._bars(part, suggested),
            (Start(0, plain, _chance(plain, good, part, shop)), *(self._start(part, good, c) for c in CONFIDENCES)),
            self._curve(part, lot, quantities_),
        )  # fmt: skip

    def _allowed(self, part: str, lot: Lot) -> np.ndarray:
        """Quantities that the batch rule allows, up to a year's need or four times the economic batch; not each of very many."""
        rule = self.shop.parts[part].rule
        most = within_rule(rule, max(lot.demand, 4 * lot.economic, rule.minimum))
        least = within_rule(rule, rule.minimum)
        steps = 1 + (max(most, least) - least) // rule.multiple // TRIED
        return np.arange(least, max(most, least) + 1, steps * rule.multiple)

    def _sent(self, part: str, lot: Lot, quantity: Amount) -> Amount:
        """Pence a year for outside work, each batch by itself on its collection."""
        charges = self._charges(part)
        each = [np.maximum(c.minimum_pence, quantity * c.piece_pence) + c.line_fee_pence for c in charges]
        return lot.demand / quantity * sum(each)

    def _charges(self, part: str) -> tuple[Charge, ...]:
        found = []
        for op in self._outside(part):
            assert op.supplier is not None
            process = next(p for p in self.shop.suppliers[op.supplier].processes if p.name == op.process)
            pieces = -(-process.minimum_pence // op.piece_price_pence) if op.piece_price_pence else None
            found.append(
                Charge(process.name, process.minimum_pence, process.line_fee_pence, op.piece_price_pence, pieces)
            )
        return tuple(found)

    def _because(self, part: str, suggested: int, charged: Lot, price: float | None) -> str:
        rule, words = self.shop.parts[part].rule, []
        if suggested == within_rule(rule, rule.minimum) and charged.economic < suggested:
            words.append("the smallest that the batch rule allows")
        elif rule.maximum is not None and suggested == within_rule(rule, rule.maximum) and charged.economic > suggested:
            words.append("the largest that the batch rule allows")
        else:
            words.append("setups, stock and outside charges cost least together")
        if price:
            words.append(
                f"with setting on {self.limit} charged {price / 100:.2f} pounds an hour more, so that its hours hold all setups"
            )
        if price is None:
            words.append(f"though {self.limit} has no hours left for setups")
        return ", ".join(words)

    def _share(self, part: str, quantity: int) -> float:
        """Setup minutes in all minutes of a batch, per cent."""
        steps = step_minutes(self.shop, part, quantity)
        setup, all_ = sum(s.setup_min for s in steps), sum(s.minutes for s in steps)
        return round(100 * setup / all_, 1) if all_ else 0.0

    def _bars(self, part: str, quantity: int) -> Bars | None:
        bar = self.shop.bars.get(part)
        if bar is None:
            return None
        operations = self.shop.routings[part].operations
        a_bar = parts_of(bar)
        bars = bars_needed(pieces_of_bar(operations, quantity), a_bar)
        kg = kg_of(bar, bars)
        return Bars(a_bar, bars, bars * a_bar - setting_pieces(operations), None if kg is None else round(kg, 1))

    def _start(self, part: str, good: int, confidence: int) -> Start:
        pieces = start_quantity(good, yield_of(self.shop.parts[part].yield_percent), confidence)
        return Start(confidence, pieces, _chance(pieces, good, part, self.shop))

    def _curve(self, part: str, lot: Lot, allowed: np.ndarray) -> tuple[Point, ...]:
        first = int(allowed[0])
        last = min(int(allowed[-1]), round(max(4 * lot.economic, 2 * self._present(part))))
        places = np.unique(np.rint(np.geomspace(first, max(last, first + 1), POINTS)).astype(int))
        return tuple(
            Point(int(q), round(lot.setups(q)), round(lot.stock(q)), round(self._sent(part, lot, int(q)))) for q in places
        )  # fmt: skip

    def _assumptions(self) -> list[str]:
        shop, settings, lines = self.shop, self.shop.settings, []
        lines.append(
            f"A year's demand is that of the {len(self.months)} months looked at, scaled to twelve; stock in hand is not taken off."
            if any(f.month >= self.months[0] for f in shop.forecast)
            else "Nothing is forecast: a year's demand is taken from the orders in hand alone."
        )  # fmt: skip
        lines.append(f"Stock costs {settings.holding_percent} % of its value a year (setting 'holding_percent').")
        bare = [g.name for g in shop.groups.values() if g.hourly_rate_pence is None]
        if bare:
            lines.append(
                f"An hour of {', '.join(bare)} costs {settings.hourly_rate_pence / 100:.2f} pounds (setting 'hourly_rate_pence')."
            )
        if any(shop.parts[p].piece_value_pence is None for p in self.parts):
            lines.append(
                "Where parts.csv has no piece_value, a piece is worth its own work at the hourly rates, outside work and components."
            )
        lines.append(
            "Each batch is alone on its collection; changeovers by what ran before are not known and not counted."
        )
        lines += [f"Nothing is ordered or forecast of {part}: left out." for part in self.unasked]
        return lines


def _chance(pieces: int, good: int, part: str, shop: Shop) -> float:
    return round(float(chance_enough(pieces, good, yield_of(shop.parts[part].yield_percent))), 4)
