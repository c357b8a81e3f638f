"""Where a split or a combination could pay: what is tried first is a guess, what is kept is decided by exact cost."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise, zip_longest

from planner.answers.feeds import Feeds, order_finish
from planner.plan import Plan
from planner.proposals.held import held_batches
from planner.shop import Shop
from planner.work import Batch, Change, Kind, Operation, Proposal, Work


def may_propose(shop: Shop) -> bool:
    """Is it switched on, and is there a part whose batches may be split or combined?"""
    parts = shop.parts.values()
    allowed = any(p.split_minimum is not None or p.combine_within_days is not None for p in parts)
    return shop.settings.batch_proposals and allowed


@dataclass(frozen=True)
class _Unit:
    """What may be run as one with another: a batch, or batches that are run as one already."""

    batch: Batch
    names: tuple[str, ...]


def candidates(shop: Shop, work: Work, plan: Plan) -> list[Proposal]:
    """Proposals that could make the plan better, those that promise most first; splits and combinations by turns.

    Batches of the manager (released, pinned, to be left alone, or with a place in the accepted plan in the days in which
    change has a price) are not among them.
    """
    return _Candidates(shop, work, plan).all()


class _Candidates:
    def __init__(self, shop: Shop, work: Work, plan: Plan) -> None:
        self.shop, self.work = shop, work
        self.steps = plan.step_of()
        self.feeds = Feeds(work)
        self.late = {o.index: late for o in work.orders if (late := self._late_min(o.index)) > 0}
        self.made = {name: p for p in work.proposals for name in p.makes}
        held = held_batches(shop, work)
        self.free = [b for b in work.batches if not (b.is_open or b.name in held)]

    def all(self) -> list[Proposal]:
        turns = zip_longest(self._best(self._splits()), self._best(self._combinations()))
        return [proposal for turn in turns for proposal in turn if proposal is not None]

    def _best(self, found: Iterator[tuple[int, Proposal]]) -> list[Proposal]:
        return [proposal for _, proposal in sorted(found, key=lambda f: (-f[0], f[1].batches))]

    def _late_min(self, order: int) -> int:
        finish = order_finish(self.work, self.steps, self.work.orders[order])
        return 0 if finish is None else finish - self.work.orders[order].due_min

    # --- split ------------------------------------------------------------------------------

    def _splits(self) -> Iterator[tuple[int, Proposal]]:
        """Batches of late orders that have a choice of machines, by what half of their longest such run is worth."""
        for batch in self.free:
            least = self.shop.parts[batch.part].split_minimum
            if least is None or batch.start_pieces < 2 * least or batch.name in self.made:
                continue
            half = max((self._run_min(op) // 2 for op in self._with_choice(batch)), default=0)
            gain = sum(o.weight * min(half, self.late.get(o.index, 0)) for o in self.feeds.orders(batch.index))
            if gain > 0:
                yield gain, Proposal(Change.SPLIT, batch.part, (batch.name,), ())

    def _with_choice(self, batch: Batch) -> Iterator[Operation]:
        ops = (self.work.operations[i] for i in batch.operations)
        return (op for op in ops if op.kind is Kind.MACHINE and len(op.alternatives) > 1)

    def _run_min(self, op: Operation) -> int:
        return self.steps[op.index].run_end - self.steps[op.index].run_start if op.index in self.steps else 0

    # --- combine ----------------------------------------------------------------------------

    def _combinations(self) -> Iterator[tuple[int, Proposal]]:
        """Neighbours by due date, by what the setup of the later one holds up on machines of late orders."""
        for part, units in self._units().items():
            days = self.shop.parts[part].combine_within_days
            for a, b in pairwise(units):
                setup = self._setup_min(b.batch)
                if days is not None and setup and self._days(a.batch, b.batch) <= days:
                    yield setup, Proposal(Change.COMBINE, part, (*a.names, *b.names), ())

    def _units(self) -> dict[str, list[_Unit]]:
        units: dict[str, list[_Unit]] = {}
        for batch in self.free:
            made = self.made.get(batch.name)
            if self.feeds.orders(batch.index) and (made is None or made.kind is Change.COMBINE):
                names = (batch.name,) if made is None else made.batches
                units.setdefault(batch.part, []).append(_Unit(batch, names))
        return units

    def _days(self, a: Batch, b: Batch) -> int:
        return (self.work.local(b.due_min).date() - self.work.local(a.due_min).date()).days

    def _setup_min(self, batch: Batch) -> int:
        """Setup minutes of the batch, each once more for the late orders on its machine, by their weight."""
        total = 0
        for i in batch.operations:
            step = self.steps.get(i)
            if step is not None and step.machine is not None:
                total += step.setup_min * (1 + self._late_weight.get(step.machine, 0))
        return total

    @cached_property
    def _late_weight(self) -> dict[int, int]:
        """By machine, the weights of the late orders that have a step on it."""
        late: dict[int, set[int]] = {}
        for i, step in self.steps.items():
            if step.machine is not None:
                orders = self.feeds.orders(self.work.operations[i].batch)
                late.setdefault(step.machine, set()).update(o.index for o in orders if o.index in self.late)
        return {machine: sum(self.work.orders[o].weight for o in orders) for machine, orders in late.items()}
