"""Starts no earlier than sensible: held back where nothing is lost by it, with a safety time left in hand.

The list and the machines are settled when this begins. Batches are looked at from the last to start to the first, so that
one finds those behind it already where they will be.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from planner.plan import Listed, Plan
from planner.search.holding import Limits, Safety, hold_bounds, hold_starts, latest_holds
from planner.search.moves import make_window
from planner.timetable import Timetable
from planner.timetable.arrays import WHY_HELD
from planner.timetable.changes import Touched, count_costs, make_touched
from planner.timetable.lines import Lines, before, build_lines
from planner.timetable.state import F_END, F_START
from planner.work import NEVER, Begun, Work

CHUNK = 4  # batches between two looks at the clock


class Leeway:
    """What can be moved in a plan: the latest start of each operation, found by exact timing.

    Parameters
    ----------
    table
        A timetable that holds the plan, with a machine chosen for every operation that needs one.
    """

    def __init__(self, table: Timetable) -> None:
        self.table, self.work = table, table.work
        self.hours, self.safety_min = _safety_hours(self.work), self.work.safety_min
        self._found = np.full(len(self.work.operations), -NEVER, np.int64)
        self._start_over()

    def _start_over(self) -> None:
        """Look at the plan as it is timed now."""
        self.limits = _limits(self.table)
        self.touched: Touched = make_touched(self.table.data, self.table.state)
        count_costs(self.table.data, self.table.state, self.touched)
        self.starts, self.ends = np.full((2, len(self.work.operations)), NEVER, np.int64)
        self._bound()

    def _bound(self) -> None:
        """What :func:`hold_bounds` says, from the order on machines as it is now."""
        t = self.table
        hold_bounds(t.data, t.state, t.list, self.limits, True, self.starts, self.ends)

    def latest(self, ops: np.ndarray) -> np.ndarray:
        """Latest minute to which each of ``ops`` (indices) can be held, all else kept, so that no order becomes late and
        none that is late gets later; what feeds no order ends no later than planned. For outside work it is a cut-off."""
        t, wanted = self.table, ops[self._found[ops] == -NEVER]
        while len(wanted):
            latest_holds(
                t.data, t.state, self.touched, t.list, t.choice, self.limits, wanted, self.starts, self.ends, self._found
            )  # fmt: skip
            if not t.state.full[0]:
                break
            self._make_room()
        return self._found[ops]

    def _make_room(self) -> None:
        """More room for bookings; times stay what they are."""
        self.table.retime(self.table.list, self.table.choice, 0)
        self.touched = make_touched(self.table.data, self.table.state)
        count_costs(self.table.data, self.table.state, self.touched)

    def hold_back(self, done: Callable[[], bool]) -> np.ndarray:
        """Hold starts back until ``done``, in this very timetable. By operation the minute it is held to, or 0."""
        t, p = self.table, self.work.prices
        weights = np.array([p.wip_weight, p.setup_weight, p.charge_weight], np.int64)
        safety = Safety(self.hours, np.array([self.safety_min]), weights)
        safe, window = self._safe_limits(), make_window(t.data)
        safe_starts, safe_ends = np.full((2, len(self.starts)), NEVER, np.int64)
        hold_bounds(t.data, t.state, t.list, safe, False, safe_starts, safe_ends)
        ops = _may_be_held(self.work, t)
        at = 0
        while at < len(ops) and not done():
            hold_starts(
                t.data, t.state, self.touched, window, t.list, t.choice, self.limits, safe, safety,
                ops[at : at + CHUNK], self.starts, self.ends, safe_ends,
            )  # fmt: skip
            if t.state.full[0]:
                self._make_room()  # and the same once more
            else:
                at += CHUNK
            self._bound()
        return np.where(t.data.op["earliest_why"] == WHY_HELD, t.data.op["earliest"], 0)

    def _safe_limits(self) -> Limits:
        """An order ends the safety time before it is due, or no later than planned."""
        safe = [self.sooner(int(order["due"])) for order in self.table.data.order]
        return Limits(np.maximum(_order_ends(self.table), np.array(safe, np.int64)), self.limits.planned)

    def sooner(self, minute: int) -> int:
        """The safety time before ``minute``."""
        return int(before(self.hours, 0, minute, self.safety_min))


def start_later(
    work: Work, plan: Plan, *, seconds: float | None = None, stop: Callable[[], bool] | None = None
) -> Plan:
    """The plan with starts held back where nothing is lost by it.

    No tier of the cost is higher, no order is ready later than before unless it still is the safety time before its
    due time, and no component is ready less than that before its use. Begun and pinned work is left alone.

    Parameters
    ----------
    seconds
        Limit; without one everything is looked at, and the same plan gives the same again.
    stop
        Asked between batches; True ends it with what is held back so far.
    """
    if work.start_early or not plan.complete:
        return plan
    began = time.monotonic()

    def done() -> bool:
        spent = time.monotonic() - began
        return (seconds is not None and spent >= seconds) or (stop is not None and stop())

    leeway = Leeway(timed_again(work, plan))
    until = leeway.hold_back(done)
    table, sequence, choice = leeway.table, leeway.table.list, leeway.table.choice
    table.hold(until)
    table.retime(sequence, choice, 0)
    spent = round(plan.seconds + time.monotonic() - began, 3)
    order = tuple(int(i) for i in sequence)
    return replace(plan, steps=table.steps(), sequence=order, cost=table.cost(), seconds=spent)


def _safety_hours(work: Work) -> Lines:
    """The hours in which the safety time is counted: the shop calendar's, or all hours where there is none."""
    always = ((-NEVER, NEVER),)
    spans = always if work.shop_calendar is None else work.move_calendars[work.shop_calendar]
    return build_lines([spans], 0)


def timed_again(work: Work, plan: Plan) -> Timetable:
    """The plan's list on the plan's machines, with what it holds back, timed again.

    Raises
    ------
    ValueError
        Where that does not give the plan: it is not complete, or was altered by hand.
    """
    table = Timetable(work)
    choice, until = table.taken(Listed(s.operation, s.machine, s.held_until or 0, s.named) for s in plan.steps)
    choice[table.data.op["running"] != 0] = -1
    table.hold(until)
    if table.time(table.repaired(plan.sequence), choice) or table.steps() != plan.steps:
        raise ValueError("the plan is not what its list of operations comes to")
    return table


def _order_ends(table: Timetable) -> np.ndarray:
    return np.array([table.order_end(i) for i in range(len(table.data.order))], np.int64)


def _limits(table: Timetable) -> Limits:
    """No order later than it is due or planned; what feeds nothing no later than planned."""
    data, state = table.data, table.state
    last = np.where(data.batch["lo"] < data.batch["hi"], data.batch["hi"] - 1, -1)
    planned = np.array([state.res[data.batch_op[i], F_END] if i >= 0 else 0 for i in last], np.int64)
    return Limits(np.maximum(_order_ends(table), data.order["due"]), planned)


def _may_be_held(work: Work, table: Timetable) -> np.ndarray:
    """The first step of each batch that is neither begun nor pinned, the last to start first."""
    planned = [b.operations for b in work.batches if all(work.operations[i].begun is Begun.NO for i in b.operations)]
    first = [work.operations[ops[0]] for ops in planned if ops]
    free = [o.index for o in first if o.pin_machine is None and o.pin_person is None and not o.not_before_min]
    return np.array(sorted(free, key=lambda i: (-int(table.state.res[i, F_START]), i)), np.int64)
