"""Batches split, run as one, or of another size."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from planner.alter.base import Alteration, with_one
from planner.alter.fields import AlterFault, said
from planner.answers.proposals import SPLIT_CAUTION
from planner.counted import counted, listed
from planner.explode import without_lapsed
from planner.explode.clock import clock_of
from planner.explode.giving import Draft, Giver
from planner.explode.left_alone import meant
from planner.intake.nearest import did_you_mean
from planner.shop import BatchRule, Shop
from planner.work import Change, Proposal

ANY_DAYS = 10_000  # due dates of batches run as one may be so far apart: no limit


def drafts_of(shop: Shop) -> dict[str, Draft]:
    """Batches as they are without any proposal, by name."""
    clock = clock_of(shop)
    firm, _ = without_lapsed(shop, clock)
    giver = Giver(firm, clock)
    giver.run()
    return giver.drafts


def _batch_faults(
    change: Alteration, shop: Shop, names: tuple[str, ...], drafts: dict[str, Draft]
) -> Iterator[AlterFault]:
    pinned = {pin.batch for pin in shop.pins}
    left_alone = meant(shop.left_alone, drafts)
    for name in names:
        if name not in drafts:
            free = sorted(n for n, d in drafts.items() if d.released is None)
            yield change.fault(
                "batches", "a batch of the plan", did_you_mean(name, free, "the orders page names the batches."), name
            )
        elif drafts[name].released is not None:
            yield change.fault(
                "batches", "a batch that has not been released", "Released batches stay as they are.", name
            )
        elif name in pinned:
            yield change.fault("batches", "a batch that is not pinned", "Remove its row from pins.csv first.", name)
        elif name in left_alone:
            mend = "Remove its row from left_alone.csv first."
            yield change.fault("batches", "a batch that is not to be left alone", mend, name)


@dataclass(frozen=True)
class Split(Alteration):
    """A batch is run as two halves."""

    kind = "split"
    title = "Batch split"

    batches: tuple[str, ...] = said("", "names", "the batch")
    part: str = said("of", "name", "its part number", "part")

    @property
    def text(self) -> str:
        return f"Batch {listed(self.batches)} of {self.part} run as two halves."

    @property
    def caution(self) -> str:
        return SPLIT_CAUTION

    @property
    def proposals(self) -> tuple[Proposal, ...]:
        return (Proposal(Change.SPLIT, self.part, self.batches, ()),)

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        drafts = drafts_of(shop)
        if len(self.batches) != 1:
            yield self.fault("batches", "one batch", "Split each with an option of its own.")
        yield from _batch_faults(self, shop, self.batches, drafts)
        for draft in (drafts[n] for n in self.batches if n in drafts):
            if draft.part != self.part:
                yield self.fault("part", f"the part of the batch, {draft.part}", "Mend one of the two.")
            elif draft.start < 2 * shop.parts[self.part].rule.minimum or draft.start < 2:
                least = max(1, shop.parts[self.part].rule.minimum)
                mend = f"It has {counted(draft.start, 'piece')}; a batch of {self.part} has at least {least}."
                yield self.fault("batches", "a batch with pieces enough for two", mend)

    def changed(self, shop: Shop) -> Shop:
        part = replace(shop.parts[self.part], split_minimum=1)
        settings = replace(shop.settings, batch_proposals=True)
        return replace(shop, settings=settings, parts=with_one(shop.parts, self.part, part))


@dataclass(frozen=True)
class Combine(Alteration):
    """Batches of one part are run as one."""

    kind = "combine"
    title = "Batches run as one"

    batches: tuple[str, ...] = said("", "names", "the batches")
    part: str = said("of", "name", "their part number", "part")

    @property
    def text(self) -> str:
        return f"Batches {listed(self.batches)} of {self.part} run as one."

    @property
    def proposals(self) -> tuple[Proposal, ...]:
        return (Proposal(Change.COMBINE, self.part, self.batches, ()),)

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        drafts = drafts_of(shop)
        if len(self.batches) < 2:
            yield self.fault("batches", "two batches or more", "Name all of them, separated by commas.")
        yield from _batch_faults(self, shop, self.batches, drafts)
        others = sorted({drafts[n].part for n in self.batches if n in drafts} - {self.part})
        if others:
            yield self.fault("batches", f"batches of {self.part}", f"There are some of {listed(others)} among them.")

    def changed(self, shop: Shop) -> Shop:
        part = replace(shop.parts[self.part], combine_within_days=ANY_DAYS)
        settings = replace(shop.settings, batch_proposals=True)
        return replace(shop, settings=settings, parts=with_one(shop.parts, self.part, part))


@dataclass(frozen=True)
class Lot(Alteration):
    """Batches of a part are made in other quantities."""

    kind = "lot"
    title = "Another batch quantity"

    part: str = said("", "name", "part number", "part")
    minimum: int = said("from", "positive", "smallest start quantity")
    multiple: int = said("by", "positive", "start quantity is a multiple of this", default=1)
    maximum: int | None = said("to", "positive", "largest start quantity", default=None)

    @property
    def text(self) -> str:
        multiple = f", in multiples of {self.multiple}" if self.multiple > 1 else ""
        most = f", at most {self.maximum}" if self.maximum else ""
        return f"Batches of {self.part} from {counted(self.minimum, 'piece')} on{multiple}{most}."

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        if self.maximum is not None and self.maximum < self.minimum:
            yield self.fault("maximum", f"a quantity not below {self.minimum}", "Exchange the two, or mend one.")

    def changed(self, shop: Shop) -> Shop:
        part = replace(shop.parts[self.part], rule=BatchRule(self.minimum, self.multiple, self.maximum))
        return replace(shop, parts=with_one(shop.parts, self.part, part))
