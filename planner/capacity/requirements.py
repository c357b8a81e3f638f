"""How many pieces of everything the months ahead ask for: orders and forecast, down through the product structure.

Roughly: a month's parents and their components are wanted in the same month, and neither stock nor work already done is taken off.
Where the work of orders in hand falls is told by ``planner/capacity/in_hand.py``; then only the forecast beyond them comes from here.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date
from graphlib import TopologicalSorter

import numpy as np

from planner.explode.quantities import yield_of
from planner.shop import Shop

Pieces = dict[str, np.ndarray]  # by part, one figure a month


def wanted(shop: Shop, months: Sequence[date]) -> Pieces:
    """Good pieces of each part that somebody wants in each month: the larger of orders due and forecast.

    What is overdue is wanted in the first month; what is wanted after the last is left out.
    """
    orders, forecast = _asked(shop, months)
    return {part: np.maximum(orders[part], forecast[part]) for part in sorted({*orders, *forecast})}


def beyond_orders(shop: Shop, months: Sequence[date]) -> Pieces:
    """Of :func:`wanted`, what the orders in hand do not ask for."""
    orders, forecast = _asked(shop, months)
    return {part: np.maximum(0.0, forecast[part] - orders[part]) for part in sorted(forecast)}


def _asked(shop: Shop, months: Sequence[date]) -> tuple[Pieces, Pieces]:
    """Pieces by orders, and by forecast."""
    place = {month: i for i, month in enumerate(months)}
    orders, forecast = _nothing(len(months)), _nothing(len(months))
    for order in shop.orders.values():
        month = max(date(order.due.year, order.due.month, 1), months[0])
        if month in place:
            orders[order.part][place[month]] += order.quantity
    for row in shop.forecast:
        if row.month in place:
            forecast[row.part][place[row.month]] += row.pieces
    return orders, forecast


def good_pieces(shop: Shop, wanted_: Mapping[str, np.ndarray]) -> Pieces:
    """Good pieces of each made part, those that go into others counted; fractions, since batches are not formed.

    A component is asked for by the start quantity of its parent.
    """
    size = len(next(iter(wanted_.values()))) if wanted_ else 0
    into: dict[str, list[tuple[str, int]]] = defaultdict(list)
    users: dict[str, set[str]] = {part: set() for part in shop.parts}
    for c in shop.structure:
        into[c.parent].append((c.component, c.quantity_per))
        users[c.component].add(c.parent)
    found = _nothing(size)
    for part, pieces in wanted_.items():
        found[part] = found[part] + pieces
    for part in TopologicalSorter(users).static_order():
        if part in found and found[part].any():
            start = found[part] / share_good(shop, part)
            for component, each in into[part]:
                found[component] = found[component] + each * start
    return {part: pieces for part, pieces in found.items() if shop.parts[part].made and pieces.any()}


def share_good(shop: Shop, part: str) -> float:
    """Good share of what is started of a part."""
    return float(yield_of(shop.parts[part].yield_percent))


def products(shop: Shop) -> list[str]:
    """Own products as sold: made parts of an own product that go into nothing else."""
    components = {c.component for c in shop.structure}
    return sorted(p.number for p in shop.parts.values() if p.own_product and p.made and p.number not in components)


def _nothing(size: int) -> defaultdict[str, np.ndarray]:
    return defaultdict(lambda: np.zeros(size))
