"""Spreads as a shop's tables state them."""

from __future__ import annotations

from planner.risk.spreads import Spreads
from planner.shop import Shop
from planner.work import Work


def spreads_of(shop: Shop, work: Work) -> Spreads:
    """The spreads of a shop for the work that was made from it; defaults where the shop says nothing."""
    return Spreads()
