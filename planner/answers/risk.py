"""How sure each order and each kit is: what many draws of a plan come to, in the manager's words.

The draws themselves are :func:`planner.risk.draw`'s.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import floor

import numpy as np

from planner.answers.feeds import Feeds, order_finish
from planner.answers.kits import NOT_ON_ORDER, supply_name
from planner.answers.wording import BEYOND, DAY_MIN, day_text, elapsed_text, moment_iso, moment_text, step_name
from planner.explode.clock import Clock, clock_of
from planner.faults import PlanFileFault
from planner.plan import Plan
from planner.risk import Draws, Spreads, draw, safe_day, spreads_of
from planner.risk.assumed import assumptions
from planner.risk.draws import smallest
from planner.risk.learning import learned_lines
from planner.shop import Shop
from planner.work import Need, Order, Work

MOST_STEPS = 3  # named for one order
MOST_WORST = 10  # steps named for the whole plan
LEAST_SHARE = 0.05  # of its late draws in which such a step is on its way
SURE_PERCENT = 90
DRAW = (
    "A draw is one way it may go: the plan timed again in its running order, with times, scrap, vans, breakdowns, absence and "
    "deliveries left to chance."
)


@dataclass(frozen=True)
class Governs:
    """A step on the way that decides when an order is late: in ``percent`` of its late draws, with ``lost_min`` of delay
    against the plan arising there in those, on average."""

    step: str
    part: str
    place: str  # machine or outside firm
    percent: int
    lost_min: int
    text: str


@dataclass(frozen=True)
class OrderRisk:
    """One order. Minutes are from the plan start; ``safe`` is the day by which it is ready with the chance asked for."""

    order: str
    customer: str
    part: str
    pieces: int
    priority: str
    due: str
    due_at: str | None
    due_min: int
    planned: str
    planned_min: int
    on_time: float  # share of the draws
    chance: str  # the same in words
    early_min: int  # one draw in ten is ready by then
    likely_min: int  # half of the draws
    safe_min: int
    late_min: int  # nine draws in ten
    likely: str
    likely_at: str | None
    safe: str
    safe_day: str | None
    expected_late_days: float  # minutes late on average over all draws, in days of 24 hours
    weighted_late_min: float  # times the weight of its class
    governs: tuple[Governs, ...]


@dataclass(frozen=True)
class Worst:
    """A step that makes orders late: those that it governs in some draws, the minutes of delay arising there on average over all
    draws (where the order is late), times the weights of the orders, and in words."""

    step: str
    part: str
    place: str
    orders: tuple[str, ...]
    weighted_min: float
    text: str


@dataclass(frozen=True)
class Waited:
    """A component that comes last, and too late, in ``percent`` of the draws in which the kit is not complete in time."""

    component: str
    source: str
    percent: int


@dataclass(frozen=True)
class KitRisk:
    """A batch that is put together: the chance that all its components are there when it is planned to start with them, and
    the minute by which they are with the chance asked for."""

    batch: str
    part: str
    orders: tuple[str, ...]
    start: str
    start_min: int
    full: float
    chance: str
    safe: str
    safe_min: int
    waits_for: tuple[Waited, ...]
    shortages: tuple[str, ...]  # not on order: without a date, taken as here


@dataclass(frozen=True)
class Risk:
    """``orders`` with the most to lose first; ``kits`` with the least sure first; ``worst``: the steps where most is lost; ``record``:
    what became of dates that were given, where that is known (:func:`planner.booked.record_of`)."""

    draws: int
    seed: int
    sure_percent: int
    weighted_late_min: (
        float  # over all orders, on average over the draws: minutes late times the weight of the order's class
    )
    planned_weighted_late_min: int  # the same of the plan
    orders: tuple[OrderRisk, ...]
    kits: tuple[KitRisk, ...]
    worst: tuple[Worst, ...]
    assumptions: tuple[str, ...]
    record: tuple[str, ...] = ()


def risk(
    shop: Shop | None, work: Work, plan: Plan, *, draws: int = 1000, seed: int = 1, sure_percent: int = SURE_PERCENT
) -> Risk:
    """Draw a plan with the spreads of its shop (the defaults where it is None) and read the answer off.

    Raises
    ------
    PlanFileFault
        Where the plan cannot be timed again from its list.
    """
    spreads = Spreads() if shop is None else spreads_of(shop, work)
    return read_off(shop, work, plan, spreads, draws=draws, seed=seed, sure_percent=sure_percent)


def read_off(
    shop: Shop | None, work: Work, plan: Plan, spreads: Spreads, *, draws: int = 1000, seed: int = 1,
    sure_percent: int = SURE_PERCENT,
) -> Risk:  # fmt: skip
    """As :func:`risk`, with spreads of one's own."""
    try:
        found = draw(work, plan, spreads, draws, seed)
    except ValueError as fault:
        raise PlanFileFault(
            "This plan cannot be timed again from its list of operations: it is not complete, or was altered by hand. "
            "Make it again with 'batchwright plan'."
        ) from fault
    steps = _Steps(work, found)
    clock = None if shop is None else clock_of(shop)
    orders = [_order(work, found, order, sure_percent / 100, clock, steps) for order in work.orders]
    return Risk(
        draws, seed, sure_percent, round(sum(found.late_min(o.index) * o.weight for o in work.orders), 1), plan.cost.late,
        tuple(sorted(orders, key=lambda r: (-r.weighted_late_min, r.on_time, r.due_min, r.order))),
        tuple(sorted(_kits(work, found, sure_percent / 100), key=lambda k: (k.full, k.start_min, k.batch))),
        steps.worst(), assumptions(spreads, () if shop is None else learned_lines(shop)),
    )  # fmt: skip


def chance_text(share: float) -> str:
    """'83 %'; near the ends no more is said than the draws can tell."""
    if share > 0.99:
        return "over 99 %"
    return "under 1 %" if share < 0.01 else f"{floor(100 * share + 1e-9)} %"


# --- orders ----------------------------------------------------------------------------------


def _order(work: Work, found: Draws, order: Order, sure: float, clock: Clock | None, steps: _Steps) -> OrderRisk:
    i = order.index
    early, likely, safe, late = (found.at(i, share) for share in (0.1, 0.5, sure, 0.9))
    on_time = found.on_time(i)
    day = None if clock is None else safe_day(clock, safe)
    safe_text = moment_text(work, safe) if clock is None else BEYOND if day is None else day_text(day)
    late_min = found.late_min(i)
    return OrderRisk(
        order=order.number, customer=order.customer, part=order.part, pieces=order.pieces, priority=order.priority,
        due=moment_text(work, order.due_min), due_at=moment_iso(work, order.due_min), due_min=order.due_min,
        planned=moment_text(work, steps.planned[i]), planned_min=steps.planned[i],
        on_time=on_time, chance=chance_text(on_time),
        early_min=early, likely_min=likely, safe_min=safe, late_min=late,
        likely=moment_text(work, likely), likely_at=moment_iso(work, likely),
        safe=safe_text, safe_day=None if day is None else day.isoformat(),
        expected_late_days=round(late_min / DAY_MIN, 2), weighted_late_min=round(late_min * order.weight, 1),
        governs=steps.governing(i),
    )  # fmt: skip


class _Steps:
    """Which steps decide when an order is late."""

    def __init__(self, work: Work, found: Draws) -> None:
        self._work, self._found = work, found
        self._step = found.plan.step_of()
        self._late = (found.finish > np.array([o.due_min for o in work.orders], np.int64)).sum(axis=0)
        self.planned = [order_finish(work, self._step, order) or 0 for order in work.orders]

    def governing(self, order: int) -> tuple[Governs, ...]:
        """Those where most delay arises, over the draws in which the order is late."""
        late = int(self._late[order])
        if not late:
            return ()
        added, count = self._found.late_added[order], self._found.late_count[order]
        most = [int(i) for i in np.argsort(-added, kind="stable")[:MOST_STEPS]]
        return tuple(
            self._one(i, count[i] / late, added[i] / count[i])
            for i in most
            if added[i] >= late and count[i] >= LEAST_SHARE * late
        )

    def _one(self, index: int, share: float, lost_min: float) -> Governs:
        name, part, place, what = self._named(index)
        percent, minutes = round(100 * share), round(lost_min)
        when = (
            "whenever the order is late"
            if share == 1
            else f"in {min(99, percent)} % of the draws in which the order is late"
        )
        text = f"{what}: {elapsed_text(minutes)} lost on average {when}"
        return Governs(name, part, place, percent, minutes, text)

    def _named(self, index: int) -> tuple[str, str, str, str]:
        """Step, part, machine or outside firm, and all of it in words."""
        op, step = self._work.operations[index], self._step[index]
        place = ""
        if op.service is not None:
            place = self._work.services[op.service].supplier
        elif step.machine is not None:
            place = self._work.machines[step.machine].name
        name = step_name(self._work, op)
        return (
            name,
            self._work.batches[op.batch].part,
            place,
            f"{name} ({', '.join(filter(None, (op.description, place)))})",
        )

    def worst(self) -> tuple[Worst, ...]:
        """Steps where most is lost over all orders, by what a late minute of each costs."""
        weights = np.array([o.weight for o in self._work.orders], np.int64)
        lost = self._found.late_added * weights[:, None] / self._found.draws
        total = lost.sum(axis=0)
        return tuple(
            self._worst(int(i), lost[:, i]) for i in np.argsort(-total, kind="stable")[:MOST_WORST] if total[i] >= 1
        )

    def _worst(self, index: int, lost: np.ndarray) -> Worst:
        name, part, place, what = self._named(index)
        orders = tuple(self._work.orders[int(i)].number for i in np.argsort(-lost, kind="stable") if lost[i] >= 1)
        shown = ", ".join(orders[:MOST_STEPS]) + (
            f" and {len(orders) - MOST_STEPS} more" if len(orders) > MOST_STEPS else ""
        )
        total = round(float(lost.sum()), 1)
        text = f"{what}: {total:,.0f} weighted minutes lost on average; makes {shown} late"
        return Worst(name, part, place, orders, total, text)


# --- kits ------------------------------------------------------------------------------------


def _kits(work: Work, found: Draws, sure: float) -> list[KitRisk]:
    steps = found.plan.step_of()
    needs: dict[int, list[Need]] = {}
    for need in work.needs:
        if need.operation in steps:
            needs.setdefault(work.operations[need.operation].batch, []).append(need)
    feeds = Feeds(work)
    return [_kit(work, found, feeds, batch, lines, sure) for batch, lines in needs.items()]


def _kit(work: Work, found: Draws, feeds: Feeds, batch: int, needs: list[Need], sure: float) -> KitRisk:
    steps = found.plan.step_of()
    starts = np.array([steps[n.operation].start for n in needs], np.int64)
    there = np.stack([found.there(n) for n in needs], axis=1)
    short = there > starts
    is_short = short.any(axis=1)
    last = np.argmax(np.where(short, there, -1), axis=1)[is_short]
    share = np.bincount(last, minlength=len(needs)) / max(1, int(is_short.sum()))
    most = [int(i) for i in np.argsort(-share, kind="stable")[:MOST_STEPS] if share[i] >= LEAST_SHARE]
    made = work.batches[batch]
    full = 1 - float(is_short.mean())
    safe = smallest(there.max(axis=1), sure)
    return KitRisk(
        made.name, made.part, tuple(o.number for o in feeds.orders(batch)), moment_text(work, int(starts.min())), int(starts.min()),
        full, chance_text(full), moment_text(work, safe) if safe else "here", safe,
        tuple(Waited(needs[i].part, supply_name(work, needs[i]), round(100 * share[i])) for i in most),
        tuple(sorted({n.part for n in needs if n.receipt == NOT_ON_ORDER})),
    )  # fmt: skip
