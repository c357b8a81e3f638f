"""A small linear program: how much of a product fits in beside other work, month by month, with overtime and work sent out.

Solved by HiGHS through scipy (J. A. J. Hall and others, Mathematical Programming Computation 10:119-142, 2018). Hours are plain
numbers here, of any unit that is the same throughout; costs and worths are per that unit.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from scipy.sparse import csr_matrix


@dataclass(frozen=True)
class Means:
    """What groups have and what it costs. Arrays are groups x months, but for the rates, which are by group.

    ``there`` are hours, ``other`` those that other work takes, ``each`` those that one piece of the product takes;
    ``overtime`` and ``outside`` the most that can be added.
    """

    there: np.ndarray
    other: np.ndarray
    each: np.ndarray
    overtime: np.ndarray
    outside: np.ndarray
    overtime_rate: np.ndarray
    outside_rate: np.ndarray

    @property
    def short(self) -> np.ndarray:
        """Hours that other work lacks whatever is done: no product can be blamed for them."""
        return np.maximum(0.0, self.other - self.there - self.overtime - self.outside)


@dataclass(frozen=True)
class Answer:
    """``made`` by month; hours of overtime and sent out, groups x months; what one hour more would be worth there."""

    made: np.ndarray
    overtime: np.ndarray
    outside: np.ndarray
    worth: np.ndarray
    value: float
    rate: float | None = None  # pieces every month alike, where that was asked for


def most(means: Means, worth_each: float) -> Answer:
    """What is made in each month so that its worth less overtime and work sent out is greatest.

    Parameters
    ----------
    worth_each
        Of a piece, in the unit of the rates; so large that any cost is worth while, for as many as can be.

    Raises
    ------
    ValueError
        When a product takes no hours of any group in some month: then there is no end to it.
    """
    return _solve(means, worth_each, steady=False)


def steady(means: Means, worth_each: float) -> Answer:
    """The same number every month, what is made before being kept for later; ``rate`` is that number."""
    return _solve(means, worth_each, steady=True)


def _solve(means: Means, worth_each: float, steady: bool) -> Answer:
    """Variables: made by month, overtime and outside by group and month, then the rate."""
    groups, months = means.there.shape
    if not (means.each > 0).any(axis=0).all():
        raise ValueError("a piece takes no hours of any group: there is no end to how many can be made")
    cells = groups * months
    size = months + 2 * cells + 1
    costs = np.zeros(size)
    costs[months : months + cells] = np.repeat(means.overtime_rate, months)
    costs[months + cells : months + 2 * cells] = np.repeat(means.outside_rate, months)
    if steady:
        costs[-1] = -worth_each * months
    else:
        costs[:months] = -worth_each
    left = (means.there + means.short - means.other).ravel()
    limits = np.concatenate([left, np.zeros(months)]) if steady else left
    upper = [
        (0, None if i < months or i == size - 1 else float(most_)) for i, most_ in enumerate(_most(means, months))
    ]  # fmt: skip
    from scipy.optimize import linprog  # here, as below: it takes a while to load, and every command would wait for it

    found = linprog(costs, A_ub=_matrix(means, steady), b_ub=limits, bounds=upper, method="highs")
    if found.status != 0:
        raise ValueError(f"the program of months could not be solved: {found.message}")
    x = found.x
    shape = (groups, months)
    return Answer(
        made=x[:months], overtime=x[months : months + cells].reshape(shape),
        outside=x[months + cells : months + 2 * cells].reshape(shape),
        worth=-found.ineqlin.marginals[:cells].reshape(shape), value=-float(found.fun), rate=float(x[-1]) if steady else None,
    )  # fmt: skip


def _most(means: Means, months: int) -> np.ndarray:
    return np.concatenate([np.zeros(months), means.overtime.ravel(), means.outside.ravel(), [0.0]])


def _matrix(means: Means, steady: bool) -> csr_matrix:
    """Hours: each x made - overtime - outside <= left. Steady: rate x (m + 1) - made up to m <= 0."""
    from scipy.sparse import lil_matrix

    groups, months = means.there.shape
    cells = groups * months
    rows = lil_matrix((cells + (months if steady else 0), months + 2 * cells + 1))
    for g in range(groups):
        for m in range(months):
            cell = g * months + m
            rows[cell, m] = means.each[g, m]
            rows[cell, months + cell] = rows[cell, months + cells + cell] = -1.0
    if steady:
        for m in range(months):
            rows[cells + m, : m + 1] = -1.0
            rows[cells + m, -1] = m + 1.0
    return rows.tocsr()
