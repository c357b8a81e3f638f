"""The cheapest plan of a tiny shop, by trying lists; and shops in which some work waits for no reason."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import permutations

import numpy as np

from planner.timetable import Timetable
from planner.work import Work


def least_cost(work: Work, rng: random.Random, most: int = 1500) -> int:
    """Least first-tier cost over orders of the list and machine choices: all of them, or ``most`` at random."""
    table, best = Timetable(work), 1 << 60
    planned = np.flatnonzero(table.data.op["planned"]).tolist()
    lists = permutations(planned) if len(planned) <= 6 else (rng.sample(planned, len(planned)) for _ in range(most))
    seen = set()
    for wish in lists:
        order = table.repaired(wish)
        if tuple(order) in seen:
            continue
        seen.add(tuple(order))
        choice = np.array([rng.randrange(-1, int(r["alt_hi"] - r["alt_lo"])) for r in table.data.op], np.int64)
        choice = np.where(choice >= 0, choice + table.data.op["alt_lo"], -1)
        for taken in (choice, np.full(len(choice), -1, np.int64)):
            for placing in (False, True):
                if table.retime(order, taken, 0, placing) == 0:
                    best = min(best, table.cost().first)
    return best


def delayed(work: Work, rng: random.Random) -> Work:
    """The same work with some operations that may not start before some moment."""
    return replace(
        work,
        operations=tuple(
            replace(o, not_before_min=max(o.not_before_min, rng.choice([0, 0, 0, rng.randrange(2000)])))
            for o in work.operations
        ),
    )
