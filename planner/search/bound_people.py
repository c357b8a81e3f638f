"""A bound from people's hours: what only they can do, shared out over their time as if it could be cut anywhere.

Settings and hand work take minutes of somebody with the skill, which nobody can use twice. Each minute that is done at some
time keeps an order waiting at least until then and for what is still to come (``sure.py``). An order's lateness is spread over all
its minutes in these hands, so no allowed plan costs less than the cheapest way to share the minutes out. That is a transportation
problem: the bound of Gelders and Kleindorfer for one machine (Operations Research 22:46-60, 1974), here with as many hands as
there are. First-offs are not counted, as some of them may go on beside other work.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from ortools.graph.python.min_cost_flow import SimpleMinCostFlow

from planner.plan import Bound
from planner.search.bound import earliest_ends, least_late, least_setups
from planner.search.sure import AT, ENDS, FAR, LATE, LEAST, ORDER, rest_of
from planner.timetable.timetable import Timetable
from planner.work import Kind, Span, Work

KIND = "hours of the people with a skill: what only they can do, shared out as if it could be cut anywhere"
MOST_ARCS = 100_000  # of steps times spells of time in one problem
LEAST_SPELL = 15  # minutes
SCALE = 1_000  # of costs, which are whole numbers there
NO_END = 1 << 40  # minutes in the last spell, so that all finds room


@dataclass(frozen=True)
class Pool:
    """People, and the skills that nobody but them has."""

    people: tuple[int, ...]
    skills: tuple[int, ...]


def pools(work: Work) -> list[Pool]:
    """Those who have a skill, with all other skills that only they have; and everybody."""
    able = {s: frozenset(i for i, p in enumerate(work.people) if s in p.skills) for s in range(len(work.skills))}
    sets = dict.fromkeys([*able.values(), frozenset().union(*able.values())]) if able else {}
    found = []
    for people in sets:
        skills = tuple(s for s, who in able.items() if who and who <= people)
        if skills:
            found.append(Pool(tuple(sorted(people)), skills))
    return found


class PeopleBound:
    """A problem for each pool, worked out by :meth:`of`. ``table`` holds a plan."""

    def __init__(self, table: Timetable) -> None:
        self.table = table
        self._ends = earliest_ends(table)
        self._alone = np.array([least_late(table.data, row, self._ends) for row in table.data.order], np.int64)
        self._rest = rest_of(table)
        planned = np.flatnonzero(table.data.op["planned"])
        setups = least_setups(table.data, planned)
        self._minutes = {op: self._least_minutes(op, setups) for op in planned.tolist()}

    def _least_minutes(self, op: int, setups: np.ndarray) -> int:
        """Minutes of somebody with its skill that an operation takes at least."""
        row, operation = self.table.data.op[op], self.table.work.operations[op]
        if operation.skill is None or operation.kind not in (Kind.MACHINE, Kind.MANUAL):
            return 0
        ways = range(int(row["alt_lo"]), int(row["alt_hi"]))
        set_min = [int(row["setup_left"]) if row["running"] else int(setups[a]) for a in ways]
        run_min = [int(self.table.data.alt[a]["run_min"]) if operation.kind is Kind.MANUAL else 0 for a in ways]
        return min(map(sum, zip(set_min, run_min, strict=True)), default=0)

    def _begins(self, op: int) -> int:
        """A minute before which nothing of it is done."""
        data = self.table.data
        row = data.op[op]
        if row["running"]:
            return 0
        waits = [int(self._ends[i]) for i in data.need_op[row["need_lo"] : row["need_hi"]]]
        if row["before"] >= 0 and not row["transfer"] and not row["ahead"]:
            waits.append(int(self._ends[row["before"]]))
        return max([0, int(row["earliest"]), *waits])

    def _still(self, op: int) -> int:
        """Minutes from the work of people on it to its end, at least."""
        row, by_machine = self.table.data.op[op], self.table.work.operations[op].kind is Kind.MACHINE
        run_min = self.table.data.alt["run_min"][row["alt_lo"] : row["alt_hi"]]
        return int(row["wait_min"]) + (int(run_min.min()) if by_machine else 0)

    def of(self, pool: Pool) -> Bound:
        """Weighted minutes late that no allowed plan goes below, for what these people have to do."""
        work, rest = self.table.work, self._rest
        ops = [
            op for op, minutes in self._minutes.items()
            if minutes and work.operations[op].skill in pool.skills and rest[op, ORDER] >= 0
        ]  # fmt: skip
        if not ops:
            return Bound(int(self._alone.sum()), KIND)
        weight, orders = self.table.data.order["weight"], rest[ops, ORDER]
        minutes, begins = np.array([self._minutes[op] for op in ops]), np.array([self._begins(op) for op in ops])
        end = int(self.table.ends()[self.table.list].max(initial=0))  # of a plan: few minutes are better put behind it
        spells, there = spells_of([work.people[i].hours for i in pool.people], end, MOST_ARCS // len(ops))
        until = np.append(spells[1:], NO_END)
        soonest = np.maximum(spells, begins[:, None]) + 1  # that a minute of it ends there
        late = self._late(ops, soonest + np.array([self._still(op) for op in ops])[:, None])
        cost = np.maximum(late * weight[orders][:, None], self._alone[orders][:, None])
        shared = np.bincount(orders, minutes)[orders].astype(np.int64)
        least = _cheapest(minutes, there, cost * SCALE // shared[:, None], until > begins[:, None])
        others = int(np.delete(self._alone, np.unique(orders)).sum())
        return Bound(others - (-least // SCALE), KIND)

    def _late(self, ops: Sequence[int], ends: np.ndarray) -> np.ndarray:
        """Minutes that the orders of operations are late at least if those end at ``ends`` (operations x spells)."""
        rest, due = self._rest[ops], self.table.data.order["due"]
        late = np.clip(ends + (rest[:, LEAST] - due[rest[:, ORDER]])[:, None], 0, FAR)
        for k in range(AT):
            known = ends >= rest[:, ENDS + k][:, None]
            late = np.maximum(late, np.where(known, rest[:, LATE + k][:, None], 0))
        return late


def spells_of(hours: Iterable[Sequence[Span]], end: int, most: int) -> tuple[np.ndarray, np.ndarray]:
    """Beginnings of at most so many spells of time up to ``end``, and the minutes that people with these hours are there in
    each; the last spell begins there and has no end."""
    windows = [(max(0, a), min(b, end)) for own in hours for a, b in own if b > 0 and a < end]
    length = LEAST_SPELL
    while True:
        edges = np.arange(0, end, length)
        there = np.zeros(len(edges), np.int64)
        for a, b in windows:
            inside = slice(a // length, -(-b // length))
            there[inside] += np.minimum(edges[inside] + length, b) - np.maximum(edges[inside], a)
        open_ = np.flatnonzero(there)
        if len(open_) < max(2, most):
            return np.append(edges[open_], end), np.append(there[open_], NO_END)
        length *= 2


def _cheapest(minutes: np.ndarray, there: np.ndarray, unit: np.ndarray, fits: np.ndarray) -> int:
    """Least cost of sharing out ``minutes`` of each row over columns with so many ``there``, at ``unit`` costs where it ``fits``."""
    flow, (rows, columns) = SimpleMinCostFlow(), unit.shape
    row, column = np.nonzero(fits)
    flow.add_arcs_with_capacity_and_unit_cost(row, rows + column, minutes[row], unit[row, column])
    ends = np.full(columns, rows + columns)
    flow.add_arcs_with_capacity_and_unit_cost(rows + np.arange(columns), ends, there, np.zeros(columns, np.int64))
    flow.set_nodes_supplies(np.arange(rows), minutes)
    flow.set_node_supply(rows + columns, -int(minutes.sum()))
    if flow.solve() != flow.OPTIMAL:
        return 0  # numbers too large for it: nothing is known
    return flow.optimal_cost()
