"""Work that is not ordered yet: how much longer it makes what is promised beyond the visible load.

A plan shows gaps where nothing has been ordered yet. By the time an order comes to them they are full: what is delayed before
is not caught up there, and orders that press go first. How full a queue gets from empty in the time that a gap has is known
for a queue in heavy traffic (Brownian motion held at zero: Harrison, *Brownian Motion and Stochastic Flow Systems*, 1985,
section 3.6); the longer the gap, the nearer it comes to the wait of Kingman (Mathematical Proceedings of the Cambridge
Philosophical Society 57:902-904, 1961), variability x utilisation x time. All that it needs is booked: how long operations
hold the machines of a group, and how much of their open time that is. ``scripts/replay_shop.py`` shows what it is worth.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from planner.capacity.openings import Openings
from planner.capacity.queueing import vut_wait
from planner.capacity.waiting import Waiting
from planner.plan import Plan
from planner.shop import Shop
from planner.work import NEVER, Batch, Kind, Work
from planner.worktime import OpenTime

FULLEST = 0.97  # utilisation that is reckoned with at most: beyond it a queue never settles
ENOUGH = 20  # bookings (or planned operations) of a group before its queue is reckoned with


@dataclass(frozen=True)
class Station:
    """A machine group as a queue: what orders ask of it in the long run.

    ``job_min`` is how long one operation holds a machine on average, setup included; ``cv2_job`` and ``cv2_gap`` are squared
    coefficients of variation of that and of the time between orders.
    """

    machines: int
    used_share: float
    job_min: float
    cv2_job: float
    cv2_gap: float = 1.0

    @property
    def wait_min(self) -> float:
        """Mean wait in the long run, open minutes."""
        return vut_wait(self.cv2_gap, self.cv2_job, self.used_share, self.job_min, self.machines)

    def queue_min(self, gap_min: float, chance: np.ndarray, normal: np.ndarray) -> np.ndarray:
        """Wait that an empty queue has come to after ``gap_min`` open minutes: one for each chance in (0, 1] and normal number.

        The highest point of Brownian motion up to a moment, given where it is then, has a closed form; it is distributed as
        the queue.
        """
        down = 1 - self.used_share
        spread2 = 2 * down * self.wait_min * max(0.0, gap_min)  # so that in the long run the mean is the wait
        at = -down * gap_min + np.sqrt(spread2) * normal
        return (at + np.sqrt(at**2 - 2 * spread2 * np.log(chance))) / 2


def station_of(machines: int, open_min: float, held_min: Sequence[float]) -> Station | None:
    """A group from what was booked: how long operations held its machines, in ``open_min`` open minutes of all of them.

    None where too little was booked.
    """
    if len(held_min) < ENOUGH or open_min <= 0:
        return None
    held = np.array(held_min, float)
    mean = float(held.mean())
    return Station(machines, min(FULLEST, float(held.sum()) / open_min), mean, float(held.var()) / mean**2)


def stations_of(waiting: Iterable[Waiting]) -> dict[str, Station]:
    """Groups as queues by what is planned on them, where nothing was booked (``planner.capacity.waiting``)."""
    return {
        w.group: Station(w.machines, min(FULLEST, w.at[0].load_percent / 100), w.job_min, w.job_cv2)
        for w in waiting
        if w.jobs >= ENOUGH
    }


def booked_stations(shop: Shop) -> dict[str, Station]:
    """Groups as queues, of which enough was booked (``shop.history``)."""
    found = {g.group: station_of(g.machines, g.open_min, g.held_min) for g in shop.history.groups}
    return {name: station for name, station in found.items() if station is not None}


def later_min(work: Work, plan: Plan, order: int, stations: Mapping[str, Station], draws: int, seed: int) -> np.ndarray:
    """Minutes that work which is not ordered yet adds to an order (its index), one for each draw.

    They are minutes of the shop calendar: what a machine has to itself for sixteen hours a day is waited for in half as many.
    The order's own batches and, of what goes into them, the longest are added up.
    """
    rng = np.random.default_rng([seed, order])
    gaps = _Gaps(work, plan, stations)

    def of(batch: Batch) -> np.ndarray:
        total = np.zeros(draws)
        for i in batch.operations:
            station, gap_min, pace = gaps.before(i)
            if station is not None:
                total += pace * station.queue_min(gap_min, 1 - rng.random(draws), rng.standard_normal(draws))
        parts = [of(work.batches[b]) for b in sorted(_components(work, batch))]
        return total + np.max(parts, axis=0) if parts else total

    own = [of(work.batches[s.batch]) for s in work.orders[order].sources if s.batch is not None]
    return np.max(own, axis=0) if own else np.zeros(draws)


def _components(work: Work, batch: Batch) -> set[int]:
    own = set(batch.operations)
    return {need.batch for need in work.needs if need.operation in own and need.batch is not None}


class _Gaps:
    """Open time before an operation in which nothing is planned on the machines that could do it."""

    def __init__(self, work: Work, plan: Plan, stations: Mapping[str, Station]) -> None:
        self.work, self.stations, self.steps = work, stations, plan.step_of()
        self.open = Openings(work)
        self.shop = shop_hours(work)
        self.held: dict[int, list[tuple[int, int]]] = {}
        for step in plan.steps:
            if step.machine is not None:
                self.held.setdefault(step.machine, []).append((step.start, step.run_end))

    def before(self, operation: int) -> tuple[Station | None, float, float]:
        """The queue it joins, the gap, and minutes of the shop calendar to one of its machine."""
        step, op = self.steps.get(operation), self.work.operations[operation]
        if step is None or step.machine is None or op.kind is Kind.OUTSIDE or op.begun:
            return None, 0.0, 0.0
        group = self.work.groups[self.work.machines[step.machine].group]
        free = [self._free(a.machine, step.start) for a in op.alternatives]
        return self.stations.get(group.name), float(np.mean(free)), self._pace(step.machine)

    def _pace(self, machine: int) -> float:
        hours = self.open.attended(machine)
        end = hours.windows[-1][1]
        return self.shop.open_between(0, end) / max(1, hours.open_between(0, end))

    def _free(self, machine: int, until: int) -> int:
        hours = self.open.attended(machine)
        held = sum(hours.open_between(a, min(b, until)) for a, b in self.held.get(machine, ()) if a < until)
        return max(0, hours.open_between(0, until) - held)


def delayed(finish: np.ndarray, later: np.ndarray, hours: OpenTime) -> np.ndarray:
    """Minutes ``finish`` put off by ``later`` open minutes of the shop calendar's ``hours``; behind them all minutes count."""
    edges = np.array(hours.windows, np.int64)
    worked = np.concatenate([[0], np.cumsum(edges[:, 1] - edges[:, 0])])
    at = np.clip(np.searchsorted(edges[:, 0], finish, side="right") - 1, 0, len(edges) - 1)
    done = worked[at] + np.clip(finish - edges[at, 0], 0, edges[at, 1] - edges[at, 0]) + np.ceil(later)
    to = np.clip(np.searchsorted(worked, done, side="left") - 1, 0, len(edges) - 1)
    return np.where(later > 0, np.maximum(finish, edges[to, 0] + done - worked[to]), finish).astype(np.int64)


def shop_hours(work: Work) -> OpenTime:
    """Hours of the shop calendar; all hours where there is none."""
    calendar = work.shop_calendar
    return OpenTime(((-NEVER, NEVER),) if calendar is None else tuple(work.move_calendars[calendar]))
