"""What customers ask for, day by day: enquiries to be quoted, and hot orders with a date of their own.

Every day has its own random numbers, so that a run with another way of promising sees the same customers.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from replay.world import World


@dataclass(frozen=True)
class Demand:
    """How much is asked for. ``a_day`` is the mean of a Poisson number; it swings by ``swing`` over ``swing_days``."""

    a_day: float = 3.0
    accepted: float = 0.7  # share of enquiries that become orders, whatever date is quoted
    hot_a_day: float = 0.1
    hot_days: tuple[int, int] = (6, 12)  # working days from now in which a hot order is wanted
    later_share: float = 0.2  # of enquiries, whose material comes only some weeks from now
    later_days: tuple[int, int] = (5, 20)
    swing: float = 0.08
    swing_days: float = 170.0


@dataclass(frozen=True)
class Enquiry:
    """One customer's question. ``wanted_days`` is only there for a hot order, which is not quoted."""

    number: str
    day: int
    item: int
    quantity: int
    accepted: bool
    material_days: int
    wanted_days: int | None = None

    @property
    def hot(self) -> bool:
        return self.wanted_days is not None


def enquiries(world: World, demand: Demand, seed: int, day: int) -> list[Enquiry]:
    """The enquiries and hot orders that come on a working day."""
    rng = np.random.default_rng([seed, 2, day])
    shares = np.array([item.weight for item in world.items])
    mean = demand.a_day * (1.0 + demand.swing * np.sin(2.0 * np.pi * day / demand.swing_days))
    made: list[Enquiry] = []

    def ask(mark: str, hot: bool) -> None:
        item = int(rng.choice(len(shares), p=shares / shares.sum()))
        low, high = world.items[item].quantities
        quantity = int(np.clip(rng.gamma(3.0, (low + high) / 6.0), low / 2, 2 * high))
        accepted = bool(rng.random() < demand.accepted) or hot
        later = int(rng.integers(*demand.later_days)) if rng.random() < demand.later_share and not hot else 0
        wanted = int(rng.integers(*demand.hot_days)) if hot else None
        made.append(Enquiry(f"{mark}{day:05}-{len(made) + 1}", day, item, quantity, accepted, later, wanted))

    for _ in range(rng.poisson(demand.hot_a_day)):
        ask("H", True)
    for _ in range(rng.poisson(mean)):
        ask("Q", False)
    return made
