"""Yield of a part, and setting on a group of machines."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from planner.alter.base import Alteration, with_one
from planner.alter.fields import AlterFault, said
from planner.shop import Shop


@dataclass(frozen=True)
class Yield(Alteration):
    """More or fewer pieces of a part come out good."""

    kind = "yield"
    title = "Another yield"

    part: str = said("", "name", "part number", "part")
    percent: float = said("to", "percent", "good pieces out of the whole routing")

    @property
    def text(self) -> str:
        return f"{self.part} with {self.percent:g} % of the pieces good."

    def misfits(self, shop: Shop) -> Iterator[AlterFault]:
        if not shop.parts[self.part].made:
            yield self.fault("part", "a part that is made here", "It is bought: name another.")

    def changed(self, shop: Shop) -> Shop:
        part = replace(shop.parts[self.part], yield_percent=self.percent)
        return replace(shop, parts=with_one(shop.parts, self.part, part))


@dataclass(frozen=True)
class SetupCut(Alteration):
    """Setting takes less time on a group of machines, changeovers included."""

    kind = "setup"
    title = "Shorter setting"

    group: str = said("", "name", "machine group", "group")
    percent: float = said("by", "percent", "percent less; what is left is rounded up to minutes")

    @property
    def text(self) -> str:
        return f"Setting on the {self.group} takes {self.percent:g} % less."

    def changed(self, shop: Shop) -> Shop:
        own = {m.name for m in shop.machines.values() if m.group == self.group}
        routings = {
            part: replace(
                routing,
                operations=tuple(
                    replace(op, alternatives=tuple(
                        replace(a, setup_min=self._less(a.setup_min)) if a.machine in own else a for a in op.alternatives
                    ))
                    for op in routing.operations
                ),
            )
            for part, routing in shop.routings.items()
        }  # fmt: skip
        changeovers = {
            key: self._less(minutes) if key[0] == self.group else minutes for key, minutes in shop.changeovers.items()
        }
        return replace(shop, routings=routings, changeovers=changeovers)

    def _less(self, minutes: int) -> int:
        thousandths = round((100 - self.percent) * 1000)
        return -(-minutes * thousandths // 100_000)
