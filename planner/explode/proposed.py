"""The planner's own proposals: a batch becomes two, or several of a part become one.

They are applied when a part's demands are covered and before the components of its batches are asked for, so that
everything below follows. Only batches that nobody has released, begun, pinned or wants left alone are touched, and only as
their part allows; a proposal that does not fit (any more) is passed over.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from planner.explode import quantities
from planner.explode.clock import Clock
from planner.explode.giving import Demand, Draft, Giver
from planner.explode.left_alone import meant
from planner.explode.progress import step_states
from planner.shop import Shop
from planner.work import Change, Proposal


class ProposedGiver(Giver):
    """A :class:`Giver` whose drafts are as the proposals have them; ``applied`` lists those that fitted.

    A proposal without pieces is given those that the batch rules ask for; one with other pieces does not fit.
    """

    def __init__(self, shop: Shop, clock: Clock, proposals: Sequence[Proposal]) -> None:
        super().__init__(shop, clock)
        self.applied: list[Proposal] = []
        self._clock = clock
        self._wanted = tuple(proposals) if shop.settings.batch_proposals else ()
        self._pinned = {name for pin in shop.pins for name in (pin.batch, pin.after_batch)}
        self._made: set[str] = set()

    def _cover(self, part: str) -> None:
        super()._cover(part)
        for proposal in self._wanted:
            if proposal.part == part and self._untouched(proposal):
                self._split(proposal) if proposal.kind is Change.SPLIT else self._combine(proposal)

    def _untouched(self, proposal: Proposal) -> bool:
        """Are its batches there, for orders to which supplies are given together, nobody's decision, and its names free?"""
        taken = any(name in self.drafts for name in proposal.makes)
        if taken or meant(self.shop.left_alone, proposal.batches):
            return False
        return all(self._free(name, proposal.part) for name in proposal.batches)

    def _free(self, name: str, part: str) -> bool:
        draft = self.drafts.get(name)
        if draft is None or draft.part != part or draft.released is not None:
            return False
        return name not in self._pinned and name not in self._made and name not in self._earlier

    # --- split ------------------------------------------------------------------------------

    def _split(self, proposal: Proposal) -> None:
        whole = self.drafts[proposal.batches[0]]
        part = self.shop.parts[whole.part]
        if part.split_minimum is None or len(proposal.batches) != 1:
            return
        pieces = quantities.split_quantities(
            whole.start, part.rule, part.split_minimum, self._yield(part.number), self.shop.settings.confidence_percent
        )
        if pieces is None:
            return
        halves = [self._draft(name, whole.part, n) for name, n in zip(proposal.makes, pieces, strict=True)]
        if halves[0].good:  # few pieces of a poor yield may bring none that can be counted on
            self._put(proposal, pieces, halves)

    # --- combine ----------------------------------------------------------------------------

    def _combine(self, proposal: Proposal) -> None:
        parts = [self.drafts[name] for name in proposal.batches]
        part = self.shop.parts[proposal.part]
        days = part.combine_within_days
        if days is None or len(set(proposal.batches)) < 2 or not self._within(parts, days):
            return
        confidence = self.shop.settings.confidence_percent
        given = sum(draft.good - draft.left for draft in parts)
        pieces = quantities.combined_quantity(given, part.rule, self._yield(part.number), confidence)
        if pieces is not None:
            self._put(proposal, (pieces,), [self._draft(proposal.makes[0], part.number, pieces)])

    def _within(self, drafts: Sequence[Draft], days: int) -> bool:
        """Are the due dates, each that of the earliest order the batch feeds, so many days apart at most?"""
        if not all(draft.feeds for draft in drafts):
            return False
        dues = [self._clock.day_of(min(self._due[order] for order in draft.feeds)) for draft in drafts]
        return (max(dues) - min(dues)).days <= days

    # --- both -------------------------------------------------------------------------------

    def _draft(self, name: str, part: str, start: int) -> Draft:
        good = quantities.good_from(start, self._yield(part), self.shop.settings.confidence_percent)
        return Draft(name, part, start, good, good, step_states(self.shop.routings[part], start))

    def _put(self, proposal: Proposal, pieces: tuple[int, ...], made: list[Draft]) -> None:
        """Put the drafts in place of the proposal's batches: earlier demands from the first."""
        if proposal.pieces not in ((), pieces):
            return
        for name in proposal.batches:
            del self.drafts[name]
        self.drafts.update((draft.name, draft) for draft in made)
        self._made.update(proposal.makes)
        old, self.gifts = self.gifts, []
        short: dict[Demand, int] = {}
        for gift in old:
            if gift.batch in proposal.batches:
                short[gift.demand] = short.get(gift.demand, 0) + gift.pieces
        for gift in old:
            if gift.batch not in proposal.batches:
                self.gifts.append(gift)
            for draft in made if gift.batch in proposal.batches else ():
                self._give(draft, gift.demand, short)
        self.applied.append(replace(proposal, pieces=pieces))
