"""Ways worth planning with, those for the most minutes of the chain first; what does not fit the shop is left out."""

from __future__ import annotations

from planner.alter.base import Alteration
from planner.alter.fields import AlterFaults
from planner.levers.around import around
from planner.levers.chain import Binding
from planner.levers.inside import inside

MOST = 24  # ways planned with, at most
OF_ONE_KIND = 4


def candidates(chain: Binding) -> list[tuple[Alteration, ...]]:
    """Changes that could bring the order of a chain forward. Each is a guess: only planning tells what it gives."""
    found: dict[tuple[Alteration, ...], int] = {}
    for minutes, changes in (*inside(chain), *around(chain)):
        if _fits(chain, changes):
            found[changes] = max(minutes, found.get(changes, 0))
    ranked = sorted(found, key=lambda c: (-found[c], [a.phrase for a in c]))
    kinds: dict[str, int] = {}
    kept = []
    for changes in ranked:
        kind = changes[0].kind
        kinds[kind] = kinds.get(kind, 0) + 1
        if kinds[kind] <= OF_ONE_KIND:
            kept.append(changes)
    return kept[:MOST]


def _fits(chain: Binding, changes: tuple[Alteration, ...]) -> bool:
    shop = chain.shop
    for change in changes:
        try:
            shop = change.apply(shop)
        except AlterFaults:
            return False
    return True
