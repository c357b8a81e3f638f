"""What a list does not know, placed into its gaps: everything that is in the list stays where it is.

A plan says more than its list where something stands in gaps that no list gives to the minute: :class:`Start` has both, a list
for a search to begin with and the plan that it stands for.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from planner.answers.feeds import Feeds
from planner.plan import Cost, Listed, Plan, State, Step
from planner.shop import Shop
from planner.timetable import Timetable
from planner.work import Begun, Work

Place = tuple[int | None, int, int]  # machine, start, end


@dataclass(frozen=True)
class Start:
    """A list to begin with. ``steps`` and ``cost`` are those of the plan with all that is new in the gaps of the list kept,
    for work with that ``fingerprint``."""

    listed: list[Listed]
    fingerprint: str = ""
    steps: tuple[Step, ...] = ()
    cost: Cost | None = None

    def is_better_than(self, plan: Plan) -> bool:
        """Is a plan, perhaps for work with other batches, worse than the one in the gaps?"""
        return self.cost is not None and not (plan.complete and _rank(plan.cost) <= _rank(self.cost))

    def at_least(self, plan: Plan) -> Plan:
        """The plan that was found, or the one in the gaps where what was found is no better."""
        if self.cost is None or plan.fingerprint != self.fingerprint:
            return plan
        if plan.complete and _rank(plan.cost) < _rank(self.cost):
            return plan
        state = State.BEST if self.cost.first == plan.bound.value else State.GOOD
        sequence = tuple(row.operation for row in self.listed)
        return replace(plan, steps=self.steps, cost=self.cost, sequence=sequence, state=state, no_time=())


def put(table: Timetable, listed: Iterable[Listed]) -> np.ndarray:
    """Time a list with its machines and what it holds back, and only what is in it; returns it as it was timed."""
    rows = list(listed)
    choice, until = table.taken(rows)
    table.hold(until)
    wanted = {row.operation for row in rows}
    sequence = np.array([i for i in table.repaired(row.operation for row in rows).tolist() if i in wanted], np.int64)
    table.retime(sequence, choice, 0)
    return sequence


def put_with_rest(
    table: Timetable, listed: Iterable[Listed], in_gaps: Mapping[int, int] | None = None, from_min: int = 0
) -> list[int]:
    """Time a list, then what it leaves out of the work, each in the first gap that leaves what follows its start and changeover.

    What is in the list but waits for something that goes into a gap comes after that, in gaps too.

    Parameters
    ----------
    in_gaps
        Operations of the list that go into gaps nevertheless, before what is not in it, and the minute before which each
        goes into none.
    from_min
        The minute before which nothing else goes into a gap.

    Returns
    -------
    list[int]
        What went into gaps. Some of it may be without a place (:meth:`Timetable.unplaced`).
    """
    rows, in_gaps = list(listed), in_gaps or {}
    choice, until = table.taken(rows)
    table.hold(until)
    known = {row.operation for row in rows} | set(table.begun_first.tolist())
    stay = [row.operation for row in rows if row.operation not in in_gaps]
    rest: dict[int, None] = {}
    order = table.repaired([*stay, *sorted(in_gaps, key=lambda op: (in_gaps[op], op))]).tolist()
    for op in order:
        if op not in known or op in in_gaps or any(before in rest for before in table.waits_for(op)):
            rest[op] = None
    first = [op for op in order if op not in rest]
    table.retime(np.array(first, np.int64), choice, 0)
    for op in rest:
        table.data.op["gap_from"][op] = in_gaps.get(op, from_min)
    table.retime(np.array([*first, *rest], np.int64), choice, len(first), placing=True)
    return list(rest)


def let_in(
    listed: Sequence[Listed], own: Sequence[Step], there: Mapping[int, int], later_min: int = 0, hold: bool = False
) -> list[Listed]:
    """A list with steps let in where they stand, or so many minutes later.

    Each goes before the first of the list on its machine (any, where it has none) that starts then or later; ``there``: when
    those in the list start. With ``hold`` it is held back until it starts.
    """
    rows = list(listed)
    for step in sorted(own, key=lambda s: (s.start, s.operation)):
        minute = step.start + later_min
        after = (
            at for at, row in enumerate(rows)
            if step.machine in (None, row.machine) and there.get(row.operation, -1) >= minute
        )  # fmt: skip
        rows.insert(next(after, len(rows)), Listed(step.operation, step.machine, minute if hold else 0, step.named))
    return rows


def start_of(shop: Shop, work: Work, listed: list[Listed]) -> Start:
    """A kept list for a search of ``work``: what it does not know, such as an order that is new, is let in where it has the first
    gap, or the first one behind all changes that have a price, whichever is cheaper; so is what was kept as an enquiry, where that
    is better than its place in the list."""
    known = {row.operation for row in listed}
    table = Timetable(work)
    new = set(np.flatnonzero(table.data.op["planned"]).tolist()) - known - set(table.begun_first.tolist())
    kept = known & of_enquiries(shop, work)
    if not new and not kept:
        return Start(listed)
    without = [row for row in listed if row.operation not in kept]
    own = set(put_with_rest(table, without))
    if table.unplaced():
        return Start(listed)
    steps, cost = table.steps(), table.cost()
    if cost.change:
        put_with_rest(table, without, from_min=_behind_kept(work, steps))
        if not table.unplaced() and _rank(table.cost()) < _rank(cost):
            steps, cost = table.steps(), table.cost()
    lists = [*([] if new else [listed]), *lists_with(listed, steps, own)]
    best = min(lists, key=lambda rows: _fit(table, rows, steps))
    return Start(best, work.fingerprint, steps, cost)


def _behind_kept(work: Work, steps: Iterable[Step]) -> int:
    """The first minute at which no step whose place has a price starts any more."""
    priced = {kept.operation for kept in work.kept}
    return max((step.start + 1 for step in steps if step.operation in priced), default=0)


def of_enquiries(shop: Shop, work: Work) -> set[int]:
    """Operations of batches that feed nothing but orders kept as enquiries; without batches that are begun."""
    feeds = Feeds(work)
    found: set[int] = set()
    for batch in work.batches:
        orders = feeds.orders(batch.index)
        begun = any(work.operations[i].begun is not Begun.NO for i in batch.operations)
        if orders and not begun and all(shop.orders[order.number].after_all for order in orders):
            found.update(batch.operations)
    return found


def lists_with(listed: Sequence[Listed], steps: Iterable[Step], own: set[int]) -> list[list[Listed]]:
    """Lists that may come to the times of ``steps``, of which ``own`` are let in."""
    there = {step.operation: step.start for step in steps}
    mine = [step for step in steps if step.operation in own]
    rest = [row for row in listed if row.operation not in own]
    others = {op: start for op, start in there.items() if op not in own}
    return [let_in(rest, mine, others, hold=hold) for hold in (False, True)]


def _time_all(table: Timetable, listed: Sequence[Listed]) -> None:
    choice, until = table.taken(listed)
    table.hold(until)
    table.retime(table.repaired(row.operation for row in listed), choice, 0)


def _fit(table: Timetable, listed: Sequence[Listed], steps: Iterable[Step]) -> tuple[int, int, int, int]:
    """How far a list is from a plan's times: first what it costs, then how many steps are elsewhere."""
    _time_all(table, listed)
    cost = table.cost()
    now: dict[int, Place] = {s.operation: (s.machine, s.start, s.end) for s in table.steps()}
    moved = sum(now[s.operation] != (s.machine, s.start, s.end) for s in steps)
    return len(table.unplaced()), cost.first, moved, cost.second


def _rank(cost: Cost) -> tuple[int, int]:
    return cost.first, cost.second
