"""The cheapest plan of a tiny shop, by trying lists; and shops in which some work waits for no reason."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from itertools import permutations, product

import numpy as np

from planner.timetable import Timetable
from planner.timetable.kernel import change_cost, late_cost
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


def least_of_all(work: Work) -> int | None:
    """Least first-tier cost over every list with every choice of machines and people; None where no list has a time for all."""
    table, best = Timetable(work), None
    lists = list(every_list(table))
    for choice in every_choice(table):
        for order in lists:
            if table.time(order, choice) == 0:
                late, change = late_cost(table.data, table.state), change_cost(table.data, table.state)
                cost = int(late + change)  # the second tier is not asked for
                best = cost if best is None else min(best, cost)
    return best


def every_list(table: Timetable) -> Iterator[np.ndarray]:
    """Every order of the planned operations in which begun work is first and nothing before what it waits for."""
    planned = np.flatnonzero(table.data.op["planned"]).tolist()
    before = {op: set(table.waits_for(op)) for op in planned}

    def longer(order: list[int]) -> Iterator[np.ndarray]:
        if len(order) == len(planned):
            yield np.array(order, np.int64)
        for op in planned:
            if op not in order and before[op] <= set(order):
                yield from longer([*order, op])

    yield from longer(table.begun_first.tolist())


def every_choice(table: Timetable) -> Iterator[np.ndarray]:
    """Every choice of an alternative for each operation that has any (running ones have none): its machines, and each of them
    with everybody by name who may set it up there or do it by hand."""
    rows = table.data.op
    free = [r["planned"] and not r["running"] and r["alt_lo"] < r["alt_hi"] for r in rows]
    ways = [[*range(r["alt_lo"], r["alt_hi"]), *range(r["own_lo"], r["own_hi"])] for r in rows]
    for taken in product(*(w if f else (-1,) for w, f in zip(ways, free, strict=True))):
        yield np.array(taken, np.int64)


def delayed(work: Work, rng: random.Random) -> Work:
    """The same work with some operations that may not start before some moment."""
    return replace(
        work,
        operations=tuple(
            replace(o, not_before_min=max(o.not_before_min, rng.choice([0, 0, 0, rng.randrange(2000)])))
            for o in work.operations
        ),
    )
