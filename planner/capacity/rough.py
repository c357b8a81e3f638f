"""What a batch of a part takes at each step, and hours of groups and people by month: without a plan, for the longer view."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from statistics import fmean

from planner.explode.clock import Clock
from planner.explode.quantities import batch_quantities, pieces_through, run_minutes, yield_of
from planner.shop import BatchRule, Calendar, Operation, Shop
from planner.work import Factors, Span
from planner.worktime import OpenTime, hours_of, midnight, run_hours

WORKED = ("machine", "manual")


@dataclass(frozen=True)
class StepMinutes:
    """One step of one batch; minutes are means over the machines that can do it."""

    number: int
    group: str
    manual: bool
    setup_min: float
    run_min: float
    skill: str | None  # who sets it, or does it
    approver: str | None
    check_min: int

    @property
    def minutes(self) -> float:
        return self.setup_min + self.run_min


def step_minutes(shop: Shop, part: str, batch: int) -> list[StepMinutes]:
    """Machine and manual steps of a part for a batch of so many start pieces, setting pieces and samples counted as in planning."""
    operations = shop.routings[part].operations
    approving = {o.first_off_skill for r in shop.routings.values() for o in r.operations if o.first_off_skill}
    return [_step(shop, operations, i, batch, approving) for i, o in enumerate(operations) if o.kind in WORKED]


def _step(shop: Shop, operations: Sequence[Operation], i: int, batch: int, approving: set[str]) -> StepMinutes:
    op = operations[i]
    assert op.group is not None
    pieces = pieces_through(operations, i, batch)
    run = fmean(run_minutes(pieces, op.pieces_per_cycle, a.cycle_sec) for a in op.alternatives)
    manual = op.kind == "manual"
    if manual and op.skill in approving:
        run = run * shop.settings.inspection_stretch_percent / 100
    return StepMinutes(
        op.number, op.group, manual, fmean(a.setup_min for a in op.alternatives), run,
        op.skill or (None if manual else shop.groups[op.group].setup_skill),
        op.first_off_skill, op.first_off_min if op.first_off_skill else 0,
    )  # fmt: skip


def hourly_pence(shop: Shop, group: str) -> int:
    """What an hour of a group costs: its own rate (0 is one), else the shop's."""
    own = shop.groups[group].hourly_rate_pence
    return shop.settings.hourly_rate_pence if own is None else own


def typical_batch(shop: Shop, part: str, good_a_month: float) -> int:
    """Start quantity of the batches that a month's good pieces are made in, as the part's rule has it: one batch, or several of the
    largest allowed."""
    rule, confidence = shop.parts[part].rule, shop.settings.confidence_percent
    good = max(1, round(good_a_month))
    return max(batch_quantities(good, rule, yield_of(shop.parts[part].yield_percent), confidence))


def within_rule(rule: BatchRule, quantity: float) -> int:
    """The nearest start quantity that a batch rule allows, from below where the maximum binds."""
    least = -(-rule.minimum // rule.multiple) * rule.multiple
    rounded = max(least, round(quantity / rule.multiple) * rule.multiple)
    return rounded if rule.maximum is None else min(rounded, rule.maximum // rule.multiple * rule.multiple)


# --- months ----------------------------------------------------------------------------------------


def months_from(first: date, count: int) -> list[date]:
    """First days of so many months, that of ``first`` being the first."""
    start = first.year * 12 + first.month - 1
    return [date((start + n) // 12, (start + n) % 12 + 1, 1) for n in range(count)]


def month_spans(months: Sequence[date], clock: Clock) -> list[Span]:
    """Months in planning minutes; the first counts only from the plan start."""
    edges = [midnight(m, clock.zone, clock.plan_start) for m in (*months, months_from(months[-1], 2)[1])]
    return [(max(0, a), b) for a, b in pairwise(edges)]


@dataclass(frozen=True)
class MonthHours:
    """Minutes there are in each month. ``counted`` are attended ones after availability and performance, with as much unattended
    time as the steps of the group may use."""

    attended: tuple[int, ...]
    counted: tuple[float, ...]


def group_hours(shop: Shop, clock: Clock, months: Sequence[date]) -> dict[str, MonthHours]:
    """Each group's minutes by month. After a calendar's last known day its weekly hours go on, holidays not known."""
    limits: dict[str, int] = {}
    for routing in shop.routings.values():
        for op in routing.operations:
            if op.kind == "machine" and op.group is not None:
                limits[op.group] = max(limits.get(op.group, 0), op.unattended_limit_min)
    spans, found = month_spans(months, clock), {}
    for name, group in shop.groups.items():
        attended, used = [0] * len(spans), [0] * len(spans)
        for machine in (m for m in shop.machines.values() if m.group == name):
            hours = hours_of(
                _carried_on(shop, machine.calendar, months), clock.zone, clock.plan_start, machine.downtime
            )
            _add(attended, hours.attended, spans)
            _add(used, run_hours(hours, limits.get(name, 0)), spans)
        share = Factors(group.availability_percent, group.performance_percent).share
        found[name] = MonthHours(tuple(attended), tuple(share * u for u in used))
    return found


def skill_hours(shop: Shop, clock: Clock, months: Sequence[date]) -> dict[str, MonthHours]:
    """Minutes by month of the people who have each skill; who has several counts in each."""
    spans = month_spans(months, clock)
    totals: dict[str, list[int]] = {}
    for person in shop.people.values():
        hours = hours_of(_carried_on(shop, person.calendar, months), clock.zone, clock.plan_start, person.leave)
        for skill in person.skills:
            _add(totals.setdefault(skill, [0] * len(spans)), hours.attended, spans)
    return {skill: MonthHours(tuple(t), tuple(float(m) for m in t)) for skill, t in totals.items()}


def _carried_on(shop: Shop, calendar: str, months: Sequence[date]) -> Calendar:
    known = shop.calendars[calendar]
    end = months_from(months[-1], 2)[1]
    return known if known.known_to >= end else replace(known, known_to=end)


def _add(into: list[int], windows: Iterable[Span], spans: Sequence[Span]) -> None:
    open_time = OpenTime(tuple(windows))
    for i, (a, b) in enumerate(spans):
        into[i] += open_time.open_between(a, b)


def known_to(shop: Shop) -> date:
    """The last day to which all calendars in use are known."""
    in_use = {m.calendar for m in shop.machines.values()} | {p.calendar for p in shop.people.values()}
    return min(shop.calendars[c].known_to for c in in_use)
