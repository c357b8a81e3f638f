"""A plan timed again many times, each time with what may come otherwise."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from planner.plan import Plan
from planner.risk.hours import calm_hours, no_cuts, with_room
from planner.risk.kernel import Drawn, Fixed, Seen, time_draws
from planner.risk.sample import Sampler
from planner.risk.spreads import Spreads
from planner.search.later import timed_again
from planner.timetable import Timetable
from planner.timetable.state import F_START, make_state
from planner.work import NEVER, Need, Source, Work

LOT = 50  # draws made at once: the same whatever the number of threads
WORKERS = 2
ROOM = 4096  # bookings of one person, at first
DAY_MIN = 1440


@dataclass(frozen=True)
class Draws:
    """What was seen in all draws.

    ``end`` [draw, operation] and ``finish`` [draw, order] are minutes from the plan start in the order of ``work.operations``
    and ``work.orders``; ``NEVER`` beyond the known calendars. ``receipts`` says by reference when each is there [draw].
    ``late_count`` and ``late_added`` [order, operation]: over the draws in which the order is late, how often the
    operation was on the way that decided its finish, and the minutes of delay against the plan that arose there.
    """

    work: Work
    plan: Plan
    end: np.ndarray
    receipts: dict[str, np.ndarray]
    late_count: np.ndarray
    late_added: np.ndarray

    @property
    def draws(self) -> int:
        return len(self.end)

    @cached_property
    def finish(self) -> np.ndarray:
        finish = np.zeros((self.draws, len(self.work.orders)), np.int64)
        for order in self.work.orders:
            for source in order.sources:
                np.maximum(finish[:, order.index], self.there(source), out=finish[:, order.index])
        return finish

    def there(self, supply: Need | Source) -> np.ndarray:
        """When what a ``Source`` or a ``Need`` brings is there [draw]."""
        if supply.batch is not None:
            operations = self.work.batches[supply.batch].operations
            return np.maximum(0, self.end[:, operations[-1]]) if operations else np.zeros(self.draws, np.int64)
        return self.receipts.get(supply.receipt, np.full(self.draws, max(0, supply.at_min), np.int64))

    def on_time(self, order: int) -> float:
        """Share of the draws in which an order (its index) is ready by its due time."""
        return float((self.finish[:, order] <= self.work.orders[order].due_min).mean())

    def at(self, order: int, share: float) -> int:
        """The smallest minute by which at least that share (0 to 1) of the draws have finished an order (its index)."""
        return smallest(self.finish[:, order], share)

    def late_min(self, order: int) -> float:
        """Minutes late on average over all draws, none where an order (its index) is in time; to the end of the known
        calendars at most."""
        finish = np.minimum(self.finish[:, order], self.work.known_to_min)
        return float(np.maximum(0, finish - self.work.orders[order].due_min).mean())


def smallest(minutes: np.ndarray, share: float) -> int:
    """The smallest of the minutes that at least that share (0 to 1) of them does not exceed."""
    place = int(np.ceil(round(share * len(minutes), 9))) - 1
    place = min(max(place, 0), len(minutes) - 1)
    return int(np.partition(minutes, place)[place])


def draw(work: Work, plan: Plan, spreads: Spreads, draws: int = 1000, seed: int = 1, *, passing: bool = True) -> Draws:
    """Time the plan's list again in each draw, on the plan's machines, with what it holds back.

    The running order stays, and nobody plans again: what is delayed delays what stands behind it, which is more than
    a shop would put up with. Who sets, checks and works is chosen in each draw by the timetable's rule, as is the
    collection. With no spread at all each draw is the plan.

    Parameters
    ----------
    draws
        How many. The same seed gives the same draws, on one thread or two.
    passing
        May a machine that waits for what is late do meanwhile what comes later on its list, once its planned start has
        come, all it needs is there, and it delays nothing that stands before it? Else the machine stands idle.

    Raises
    ------
    ValueError
        Where the plan is not what its list of operations comes to: it is not complete, or was altered by hand.
    """
    if draws < 1:
        raise ValueError(f"at least one draw is needed, not {draws}")
    table = timed_again(work, plan)
    last = max([0, *(s.end for s in plan.steps)])
    near = last + max(30 * DAY_MIN, last // 4)  # few draws take longer: those are timed again with all that is known
    sampler = Sampler(table, spreads, near, seed)
    lots = [(number, min(LOT, draws - at)) for number, at in enumerate(range(0, draws, LOT))]
    workers = max(1, min(WORKERS, os.cpu_count() or 1, len(lots)))
    with ThreadPoolExecutor(workers) as pool:
        parts = list(pool.map(lambda w: _part(table, sampler, near, lots[w::workers], passing), range(workers)))
    found = sorted((number, end, receipts) for part in parts for number, end, receipts in part.lots)
    return Draws(
        work, plan, np.concatenate([end for _, end, _ in found]),
        {name: np.concatenate([receipts[name] for _, _, receipts in found]) for name in found[0][2]},
        np.sum([part.count for part in parts], axis=0), np.sum([part.added for part in parts], axis=0),
    )  # fmt: skip


@dataclass
class _Part:
    """What one thread has seen."""

    lots: list[tuple[int, np.ndarray, dict[str, np.ndarray]]]
    count: np.ndarray
    added: np.ndarray


def _part(table: Timetable, sampler: Sampler, near: int, lots: list[tuple[int, int]], passing: bool) -> _Part:
    timer = Timer(table, sampler, near, passing)
    whole: Timer | None = None
    shape = (len(table.work.orders), len(table.work.operations))
    part = _Part([], np.zeros(shape, np.int64), np.zeros(shape, np.int64))
    for number, draws in lots:
        drawn, receipts = sampler.lot(number, draws)
        end, lost = timer.time(drawn, part, keep_lost=False)
        again = np.flatnonzero(lost)
        if len(again):
            whole = whole or Timer(table, sampler, NEVER, passing)
            end[again], _ = whole.time(Drawn(*(values[again] for values in drawn)), part, keep_lost=True)
        part.lots.append((number, end, receipts))
    return part


class Timer:
    """The timetable's arrays for one thread, with hours up to a minute."""

    def __init__(self, table: Timetable, sampler: Sampler, until: int, passing: bool) -> None:
        data, work = table.data, table.work
        self.passing = passing
        self.calm = calm_hours(work, data, until)
        self.cuts = no_cuts(len(work.machines), len(work.people), len(data.lines.lo) - 1, *sampler.room)
        self.data = data._replace(
            lines=with_room(self.calm, self.cuts), op=data.op.copy(), alt=data.alt.copy(), order=data.order.copy(),
            trip=data.trip.copy(), run_room=data.run_room.copy(),
        )  # fmt: skip
        self.data.op["gap_from"] = table.state.res[:, F_START]
        alt = sampler.planned.alt
        named = np.where((alt >= 0) & (table.choice >= 0) & (table.choice != alt), table.choice, -1)
        ends = np.minimum(table.ends(), NEVER)
        self.fixed = Fixed(
            table.list,
            np.where(alt >= 0, alt, table.choice),
            ends,
            alt,
            named,
            sampler.receipt_ops,
            sampler.out_ops,
            data.machine["line"].copy(),
        )
        self.state = make_state(self.data, ROOM)

    def time(self, drawn: Drawn, part: _Part, keep_lost: bool) -> tuple[np.ndarray, np.ndarray]:
        """Ends [draw, operation], and by draw whether something found no place."""
        n = len(drawn.run)
        seen = Seen(np.zeros((n, len(self.data.op)), np.int64), np.zeros(n, np.int64), part.count, part.added)
        at = 0
        while at < n:
            at = time_draws(
                self.data, self.state, self.calm, self.cuts, self.fixed, drawn, seen, at,
                int(self.passing), int(keep_lost),
            )  # fmt: skip
            if self.state.full[0]:
                self.state = make_state(self.data, 4 * self.state.people.at.shape[1])
        return seen.end, seen.lost
