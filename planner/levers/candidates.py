"""Ways worth planning with: the best of each kind first, by the minutes of the chain that they are for; what does not fit the
shop is left out."""

from __future__ import annotations

from collections import Counter

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
    kinds: Counter[str] = Counter()
    kept: list[tuple[int, tuple[Alteration, ...]]] = []
    for changes in ranked:
        kind = changes[0].kind
        if kinds[kind] < OF_ONE_KIND:
            kept.append((kinds[kind], changes))
        kinds[kind] += 1
    return [changes for _, changes in sorted(kept, key=lambda row: row[0])][:MOST]


def _fits(chain: Binding, changes: tuple[Alteration, ...]) -> bool:
    shop = chain.shop
    for change in changes:
        try:
            shop = change.apply(shop)
        except AlterFaults:
            return False
    return True
