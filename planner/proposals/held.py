"""Batches that are the manager's, or the accepted plan's: no proposal touches them, nor what they are made of."""

from __future__ import annotations

from planner.explode.left_alone import meant, plain_names
from planner.shop import Shop
from planner.work import Work


def held_batches(shop: Shop, work: Work) -> frozenset[str]:
    """Names of batches that are pinned, have something decided to be right after them, are to be left alone, or have a place in the
    accepted plan in the days in which change has a price."""
    pinned = {name for pin in shop.pins for name in (pin.batch, pin.after_batch) if name}
    left_alone = meant(shop.left_alone, plain_names(work))
    return frozenset(
        pinned | left_alone | {work.batches[work.operations[kept.operation].batch].name for kept in work.kept}
    )


def keeps(shop: Shop, before: Work, after: Work) -> bool:
    """Are all held batches of the one work in the other, with as many pieces?"""
    now = {batch.name: batch.start_pieces for batch in after.batches}
    held = held_batches(shop, before)
    return all(now.get(batch.name) == batch.start_pieces for batch in before.batches if batch.name in held)
