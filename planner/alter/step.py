"""What changes of one step of a routing have in common."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from planner.alter.base import Alteration
from planner.alter.fields import AlterFault, said
from planner.alter.look import step_of, with_step
from planner.counted import listed
from planner.shop import Operation, Shop

ON_MACHINE = ("machine", "manual")
_AT = {"running": "on the machine with it", "part": "part-way through it", "out": "away with it"}


@dataclass(frozen=True)
class OfStep(Alteration):
    """A change of one step of a routing."""

    part: str = said("", "name", "part number", "part")
    operation: int = said("op", "positive", "number of the step")

    @property
    def where(self) -> str:
        return f"{self.part} operation {self.operation}"

    def faults(self, shop: Shop) -> list[AlterFault]:
        found = list(self._unknown(shop))
        if self.part in shop.parts and step_of(shop, self.part, self.operation) is None:
            routing = shop.routings.get(self.part)
            has = listed([str(op.number) for op in routing.operations], 12) if routing else ""
            mend = f"The routing has {has}." if has else "It is bought, and has no routing."
            found.append(self.fault("operation", f"a step in the routing of {self.part}", mend))
        return found or list(self.misfits(shop))

    def step(self, shop: Shop) -> Operation:
        """The step in the shop."""
        found = step_of(shop, self.part, self.operation)
        assert found is not None  # else it is among the faults
        return found

    def with_step(self, shop: Shop, **fields: object) -> Shop:
        return with_step(shop, self.part, self.operation, **fields)

    def _kind_fault(self, shop: Shop, *kinds: str) -> Iterator[AlterFault]:
        kind = self.step(shop).kind
        if kind not in kinds:
            mend = f"It is a step of kind '{kind}'. Name another step."
            yield self.fault("operation", f"a step of kind {listed(kinds, word='or')}", mend)

    def _begun_fault(self, shop: Shop, *states: str) -> Iterator[AlterFault]:
        """Nothing can be decided any more about a step that is under way."""
        for batch in shop.batches.values():
            row = next((p for p in batch.progress if p.operation == self.operation), None)
            if batch.part == self.part and row is not None and row.state in states:
                yield self.fault("operation", "a step that has not begun", f"Batch {batch.number} is {_AT[row.state]}.")
