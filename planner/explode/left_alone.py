"""Batches that somebody wants left as they are: neither split nor run as one with others.

They are named as the manager sees them: by a batch's own name, by that of a half of it ('B7/1'), or by that of what several are run
as ('B7+B9'), which means each of those.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from planner.counted import listed
from planner.intake.nearest import did_you_mean
from planner.shop import Shop
from planner.work import Work


class UnknownBatch(ValueError):
    """A name that means no batch; the message says which there are."""


def meant(names: Iterable[str], known: Collection[str]) -> frozenset[str]:
    """Which of the batches in ``known`` are meant by the names."""
    return frozenset(batch for name in names for batch in _meant(name, known))


def _meant(name: str, known: Collection[str]) -> set[str]:
    for one in (name, name.removesuffix("/1"), name.removesuffix("/2")):
        if one in known:
            return {one}
    return {batch for batch in known if f"+{batch}+" in f"+{name}+"}


def not_left_alone(shop: Shop, known: Collection[str]) -> list[str]:
    """A line for each name that comes to nothing: there is no such batch, or what was made of it is released.

    Parameters
    ----------
    known
        Names of all batches, those that proposals are about as they would be without them.
    """
    lines = []
    for name in sorted(set(shop.left_alone)):
        made = released_of(shop, name)
        if made:
            are = "is" if len(made) == 1 else "are"
            lines.append(f"Batch {name} cannot be left as it is: {listed(made)} {are} released already, and so stays.")
        elif not _meant(name, known):
            lines.append(f"Batch {name}, to be left as it is: there is no such batch.")
    return lines


def released_of(shop: Shop, name: str) -> list[str]:
    """Released batches that are halves of a batch, or what it was run as with others."""
    changed = [batch for batch in sorted(shop.batches) if batch.endswith(("/1", "/2")) or "+" in batch]
    return [batch for batch in changed if batch == name or _meant(batch, {name})]


def ensure_known(names: Sequence[str], shop: Shop, work: Work) -> None:
    """See that each name means a batch of the work.

    Raises
    ------
    UnknownBatch
        With the nearest name, and all those whose part may be split or run as one.
    """
    plain = plain_names(work)
    for name in names:
        if not _meant(name, plain) and not released_of(shop, name):
            free = sorted(n for n, part in plain.items() if _may_change(shop, part) and n not in shop.batches)
            raise UnknownBatch(f"there is no batch '{name}'. {_possible(name, free)}")


def _possible(name: str, free: Sequence[str]) -> str:
    if not free:
        return "No batch may be split or run as one here."
    return did_you_mean(name, free, "choose one that may be split or run as one.") + f" These may be: {listed(free)}."


def plain_names(work: Work) -> dict[str, str]:
    """The part of every batch by name, those that proposals are about as they would be without them."""
    made = {name for proposal in work.proposals for name in proposal.makes}
    found = {batch.name: batch.part for batch in work.batches if batch.name not in made}
    return found | {name: proposal.part for proposal in work.proposals for name in proposal.batches}


def _may_change(shop: Shop, part: str) -> bool:
    rules = shop.parts[part]
    return rules.split_minimum is not None or rules.combine_within_days is not None
