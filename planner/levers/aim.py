"""Planning for one order: it is wanted sooner, and no other order may be hurt more than a change itself does it.

Every other order is due when it is planned to be ready or at its promise (or due time), whichever is later, and counts so much
that the one order gains nothing by making another late.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from planner.answers.feeds import limit_min
from planner.work import Order, Work

GUARD = (
    10**6
)  # times its own weight is what another order counts, where the wanted one counts WANTED: more than there are minutes
WANTED = 1


def aimed(wanted: str, by_min: int, ready: dict[str, int]) -> Callable[[Work], Work]:
    """What makes of some work the same, planned for one order.

    Parameters
    ----------
    wanted
        Number of the order.
    by_min
        When it is wanted, in minutes from the plan start.
    ready
        When every order is ready in the plan that is kept to.
    """

    def one(order: Order) -> Order:
        if order.number == wanted:
            return replace(order, due_min=by_min, weight=WANTED)
        return replace(order, due_min=limit_min(order, ready), weight=GUARD * max(1, order.weight))

    return lambda work: replace(work, orders=tuple(one(o) for o in work.orders))
