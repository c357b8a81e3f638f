"""Orders as trees of work: each order with all that it waits for, so that every operation is in one tree only.

Where one batch serves several orders or consumers, one tree has it; the others only know that it does
not end before its earliest end.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from planner.search.bound import earliest_ends
from planner.search.bound_kernel import FIXED, JOIN, ON_MACHINE, OUTSIDE, PASSING
from planner.search.bound_ways import Ways
from planner.timetable.arrays import ints, ragged, records
from planner.timetable.timetable import Timetable
from planner.work import NEVER, Kind


@dataclass
class Trees:
    """Nodes in the order in which they can be worked out: ``tree_lo`` says where each tree begins; its last is the root.

    ``node``: what (see above), op (-1: JOIN), lower (no start before), before (node of the step before it, or -1),
    sublots (1: only its end waits for the step before), move_min, idle_line, wait_min, end (FIXED), service, pieces,
    way_lo..way_hi, need_lo..need_hi in ``need``. ``due``: at, due, weight of the orders that a tree's root finishes,
    rows ``due_lo[k]:due_lo[k + 1]``. ``begin``: by tree, a moment before which nothing of it happens; ``largest``: nodes of
    the largest. ``constant``: weighted minutes late of orders that no tree has.
    """

    node: np.ndarray
    need: np.ndarray
    tree_lo: np.ndarray
    due: np.ndarray
    due_lo: np.ndarray
    constant: int
    largest: int = field(init=False)
    begin: np.ndarray = field(init=False)

    def __post_init__(self) -> None:
        self.largest = int(np.diff(self.tree_lo).max(initial=1))
        first = np.where(self.node["what"] == FIXED, 0, self.node["lower"])
        first = np.where(self.node["what"] == JOIN, NEVER, first)
        self.begin = np.array([first[a:b].min() for a, b in pairwise(self.tree_lo.tolist())], np.int64)


def build_trees(table: Timetable, ways: Ways) -> Trees:
    """Trees of all orders that wait for planned work."""
    return _Planter(table, ways).trees()


NODE_FIELDS = (
    "what", "op", "lower", "before", "sublots", "move_min", "idle_line", "wait_min", "end", "service", "pieces",
    "way_lo", "way_hi",
)  # fmt: skip


class _Planter:
    def __init__(self, table: Timetable, ways: Ways) -> None:
        self.table, self.data, self.ways = table, table.data, ways
        self.ends = earliest_ends(table)
        self.sources = [sorted({int(i) for i in self.data.source_op[r["lo"] : r["hi"]]}) for r in self.data.order]
        self.alone: dict[int, list[int]] = {}  # operation: orders that only it finishes
        for i, source in enumerate(self.sources):
            if len(source) == 1:
                self.alone.setdefault(source[0], []).append(i)
        self.taken: set[int] = set(self.alone)  # operations that are in some tree, or a root
        self.rows: list[dict[str, int]] = []
        self.needs: list[list[int]] = []
        self.tree_lo: list[int] = [0]
        self.dues: list[list[tuple[int, int]]] = []  # by tree: when what is not planned is there, and the order
        self.constant = 0

    def trees(self) -> Trees:
        for root, orders in self.alone.items():
            self._plant(root)
            self._close([(int(self.data.order[i]["at"]), i) for i in orders])
        for i, source in enumerate(self.sources):
            if len(source) != 1:
                self._join(i, source)
        due_lo, _ = ragged([range(len(d)) for d in self.dues])
        dues = [x for d in self.dues for x in d]
        need_lo, need = ragged(self.needs)
        columns = {name: ints(r[name] for r in self.rows) for name in NODE_FIELDS}
        order_rows = self.data.order
        return Trees(
            node=records(**columns, need_lo=need_lo[:-1], need_hi=need_lo[1:]),
            need=need,
            tree_lo=ints(self.tree_lo),
            due=records(
                at=ints(at for at, _ in dues),
                due=ints(order_rows[i]["due"] for _, i in dues),
                weight=ints(order_rows[i]["weight"] for _, i in dues),
            ),
            due_lo=due_lo,
            constant=self.constant,
        )

    def _close(self, dues: list[tuple[int, int]]) -> None:
        self.tree_lo.append(len(self.rows))
        self.dues.append(dues)

    def _join(self, i: int, source: list[int]) -> None:
        """An order of several batches, or of stock and receipts alone."""
        at = int(self.data.order[i]["at"])
        at = max([at, *(int(self.ends[op]) for op in source)])
        own = self._claim(source)
        if own:
            parts = [self._plant(op) for op in own]
            self.rows.append(dict.fromkeys(NODE_FIELDS, 0) | {"what": JOIN, "op": -1, "before": -1})
            self.needs.append(parts)
            self._close([(at, i)])
        else:
            order = self.data.order[i]
            self.constant += int(order["weight"]) * max(0, at - int(order["due"]))

    def _claim(self, wanted: list[int]) -> list[int]:
        """Those that no tree has yet; they are this one's from now on."""
        own = [op for op in dict.fromkeys(wanted) if op not in self.taken]
        self.taken.update(own)
        return own

    def _plant(self, root: int) -> int:
        """Nodes of ``root`` and all that it waits for, what is waited for first. Returns the root's node."""
        at: dict[int, int] = {}
        stack: list[tuple[int, list[int] | None]] = [(root, None)]
        while stack:
            op, needs = stack.pop()
            if needs is not None:
                at[op] = self._add(op, needs, at)
                continue
            row = self.data.op[op]
            fixed = bool(row["running"] or row["out"])
            wanted = [] if fixed else self.data.need_op[row["need_lo"] : row["need_hi"]].tolist()
            own = self._claim(wanted)
            stack.append((op, own))
            before = [int(row["before"])] if row["before"] >= 0 and not fixed else []
            stack += [(i, None) for i in [*before, *own]]
        return at[root]

    def _add(self, op: int, own: list[int], at: dict[int, int]) -> int:
        row = self.data.op[op]
        needs = self.data.need_op[row["need_lo"] : row["need_hi"]].tolist()
        lower = max([int(row["earliest"]), *(int(self.ends[i]) for i in needs)])
        self.rows.append(
            {
                "what": self._what(op), "op": op, "lower": lower, "before": at.get(int(row["before"]), -1),
                "sublots": int(row["transfer"] > 0), "move_min": int(row["move_min"]),
                "idle_line": int(self.ways.idle_line[op]), "wait_min": int(row["wait_min"]), "end": int(self.ends[op]),
                "service": int(row["service"]), "pieces": int(row["pieces"]),
                "way_lo": int(row["alt_lo"]), "way_hi": int(row["alt_hi"]),
            }
        )  # fmt: skip
        self.needs.append([at[i] for i in own])
        return len(self.rows) - 1

    def _what(self, op: int) -> int:
        row = self.data.op[op]
        if row["running"] or row["out"]:
            return FIXED
        if row["kind"] == Kind.OUTSIDE:
            return OUTSIDE
        return ON_MACHINE if row["alt_lo"] < row["alt_hi"] else PASSING
