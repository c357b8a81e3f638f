"""Which orders a batch feeds, directly or through the parents it is built into."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property

from planner.plan import Plan, Step
from planner.work import Begun, Order, Work

FOR_STOCK = "for stock"


class Feeds:
    """Orders by batch, found once for one ``Work``."""

    def __init__(self, work: Work) -> None:
        self._work = work

    @cached_property
    def _children(self) -> dict[int, list[int]]:
        children: dict[int, list[int]] = {}
        for need in self._work.needs:
            if need.batch is not None:
                children.setdefault(self._work.operations[need.operation].batch, []).append(need.batch)
        return children

    @cached_property
    def _orders(self) -> list[list[Order]]:
        found: list[list[Order]] = [[] for _ in self._work.batches]
        for order in self._work.orders:
            for batch in self._below([s.batch for s in order.sources if s.batch is not None]):
                found[batch].append(order)
        return [sorted(orders, key=lambda o: (o.due_min, o.number)) for orders in found]

    def _below(self, roots: list[int]) -> set[int]:
        seen: set[int] = set()
        while roots:
            batch = roots.pop()
            if batch not in seen:
                seen.add(batch)
                roots.extend(self._children.get(batch, ()))
        return seen

    def orders(self, batch: int) -> list[Order]:
        """Orders the batch feeds, the earliest due first; none when it only fills the stock."""
        return self._orders[batch]

    def class_of(self, batch: int) -> str:
        """Class of the heaviest order it feeds; 'for stock' without an order."""
        orders = self.orders(batch)
        return max(orders, key=lambda o: (o.weight, o.priority)).priority if orders else FOR_STOCK

    @cached_property
    def classes(self) -> tuple[str, ...]:
        """Classes in use, the heaviest first, and last that of batches without an order."""
        weights = {o.priority: o.weight for o in self._work.orders}
        return (*sorted(weights, key=lambda name: (-weights[name], name)), FOR_STOCK)


def batch_end(work: Work, steps: dict[int, Step], batch: int) -> int | None:
    """When the last step of a batch ends; 0 if all is done, None if the plan has no time for it."""
    left = [i for i in work.batches[batch].operations if work.operations[i].begun is not Begun.DONE]
    if not left:
        return 0
    return steps[left[-1]].end if left[-1] in steps else None


def ready_times(work: Work, plan: Plan) -> dict[str, int]:
    """When each order is ready in a plan, by number; those without a time are left out."""
    steps = plan.step_of()
    found = {order.number: order_finish(work, steps, order) for order in work.orders}
    return {number: finish for number, finish in found.items() if finish is not None}


def limit_min(order: Order, ready: Mapping[str, int]) -> int:
    """Until when an order may move without being hurt: what it is promised for, or when it is ready now if that is later."""
    return max(order.promised_min, ready.get(order.number, order.due_min))


def order_finish(work: Work, steps: dict[int, Step], order: Order) -> int | None:
    """When the whole quantity of an order is there; None if the plan has no time for a part of it."""
    moments = [0]
    for source in order.sources:
        moment = source.at_min if source.batch is None else batch_end(work, steps, source.batch)
        if moment is None:
            return None
        moments.append(moment)
    return max(moments)
