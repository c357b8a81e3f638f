"""Moves tried one after another with the chances of one seed, for tests of what may be dropped before it is timed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from planner.search import climb
from planner.search.climb import Climber
from planner.search.dispatch import RULES, dispatch
from planner.timetable import Timetable
from planner.work import Hours, Work


def begun(work: Work) -> Climber:
    """A list search that has the first rule's list to begin with."""
    table = Timetable(work)
    sequence = dispatch(table, RULES[0])
    choice = table.choice.copy()
    table.reset()
    return Climber(table, sequence, choice, 1)


def tried(work: Work, in_full: int, heat: float) -> tuple[list[int], list[int], float]:
    """List, choices and cost after a few thousand moves, of which one in ``in_full`` at least is timed to its end."""
    c = begun(work)
    table = c.table
    cost, _ = climb._trials(
        table.data, table.state, c.touched, c.window, c.sequence, c.choice, c.best, c.best_choice, c.best_total, c.cost,
        c.best_cost, 3_000, heat, 7, c.weights, np.zeros(climb.BINS), c._latest, c._rest, in_full,
    )  # fmt: skip
    assert not table.state.full[0]
    return c.sequence.tolist(), c.choice.tolist(), cost


def short(work: Work, days: int) -> Work:
    """Machines are known for a few days only, so that some operations may find no place."""
    until = days * 1440
    return replace(work, machines=tuple(
        replace(m, hours=Hours(tuple(w for w in m.hours.attended if w[0] < until), m.hours.unattended)) for m in work.machines
    ))  # fmt: skip
