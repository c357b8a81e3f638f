"""Planning for one order: it is wanted sooner, and no other order may be hurt more than a change itself does it.

Every other order is due when it is planned to be ready or at its promise (or due time), whichever is later, and counts so much
that the one order gains nothing by making another late.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from planner.answers.feeds import limit_min
from planner.work import Order, Work

# Another order counts GUARD times its own weight, the wanted one WANTED, a place kept its usual price: no minute of another's is worth
# weeks of the wanted one's.
GUARD, WANTED = 10**6, 10


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
