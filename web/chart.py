"""What the plan chart draws: rows, open hours, bars with their worked spans, and how they follow each other.

All positions are whole minutes from the plan start; ticks and texts carry the local clock, so
that the browser computes no times.
"""

from __future__ import annotations

from dataclasses import dataclass

from planner.answers.spent import cut
from planner.plan import Step
from planner.work import Operation, Span
from planner.worktime import stretches
from web.clock import Day, HourMark
from web.site import Site
from web.waits import waited_text

Worked = tuple[str, int, int]  # 'setup', 'run', 'check', 'away' or 'wait'; from, to

NO_MACHINE = "No machine"
AWAY = "Outside firms"


@dataclass(frozen=True)
class Row:
    """``hours`` indexes ``Chart.hours``; None for rows that are always open. ``lanes`` bars may be side by side."""

    name: str
    group: str
    hours: int | None
    lanes: int


@dataclass(frozen=True)
class OpenHours:
    attended: tuple[Span, ...]
    unattended: tuple[Span, ...]


@dataclass(frozen=True)
class ChartOrder:
    number: str
    customer: str
    part: str
    priority: str
    late: bool
    text: str  # 'due ..., ready ..., 2 days late'


@dataclass(frozen=True)
class ChartBatch:
    name: str
    part: str
    description: str
    orders: tuple[int, ...]  # into Chart.orders, those late first, then by due date
    priority: int  # into Chart.classes; of the most urgent order
    late: bool


@dataclass(frozen=True)
class Bar:
    """One operation. ``what`` is its description; ``next_op`` the batch's next operation that is planned."""

    op: int
    batch: int
    row: int
    lane: int
    start: int
    end: int
    worked: tuple[Worked, ...]
    first_off: int | None
    number: int
    what: str
    pieces: int
    from_text: str
    to_text: str
    waited: str
    next_op: int | None


@dataclass(frozen=True)
class Chart:
    """Minutes count from the plan start (0). ``links``: last operation of a component's batch, and what consumes it. ``plan`` tells
    this plan from others."""

    plan: str
    shop: str
    from_min: int
    until_min: int
    days: tuple[Day, ...]
    hour_marks: tuple[HourMark, ...]
    groups: tuple[str, ...]
    classes: tuple[str, ...]
    hours: tuple[OpenHours, ...]
    rows: tuple[Row, ...]
    orders: tuple[ChartOrder, ...]
    batches: tuple[ChartBatch, ...]
    bars: tuple[Bar, ...]
    links: tuple[tuple[int, int], ...]


def chart(site: Site) -> Chart:
    """All that the plan chart page needs."""
    work, clock = site.work, site.clock
    until = max((s.end for s in site.plan.steps), default=0)
    days = clock.days(until)
    span = (days[0].start, clock.minute_of_next_day(until))
    rows, lanes = _rows(site)
    hours, hours_of = _hours(site, *span)
    return Chart(
        plan=site.mark, shop=work.shop, from_min=span[0], until_min=span[1], days=days, hour_marks=clock.hours(span[1]),
        groups=tuple(dict.fromkeys(g for _, g, _ in rows)), classes=site.feeds.classes, hours=hours,
        rows=tuple(
            Row(name, group, None if machine is None else hours_of[machine], lanes.count(n))
            for n, (name, group, machine) in enumerate(rows)
        ),
        orders=_orders(site), batches=_batches(site), bars=lanes.bars, links=_links(site),
    )  # fmt: skip


@dataclass(frozen=True)
class Lanes:
    """Bars with their place, and how many lanes each row came to."""

    bars: tuple[Bar, ...]
    taken: dict[int, int]

    def count(self, row: int) -> int:
        return self.taken.get(row, 1)


def _rows(site: Site) -> tuple[list[tuple[str, str, int | None]], Lanes]:
    """Machines by group, then a row for each outside firm, then one for what needs no machine."""
    work = site.work
    machines = [(work.machines[m].name, g.name, m) for g in work.groups for m in g.machines]
    place = {m: n for n, (_, _, m) in enumerate(machines)}
    rows: list[tuple[str, str, int | None]] = list(machines)
    other: dict[str, int] = {}
    bars: list[Bar] = []
    free: dict[int, list[int]] = {}
    for step in sorted(site.plan.steps, key=lambda s: (_held(s)[0], s.operation)):
        op = work.operations[step.operation]
        if step.machine is None:
            name = work.services[op.service].supplier if op.service is not None else NO_MACHINE
            row = other.setdefault(name, len(rows))
            if row == len(rows):
                rows.append((name, AWAY if op.service is not None else NO_MACHINE, None))
        else:
            row = place[step.machine]
        bars.append(_bar(site, op, step, row, _lane(free.setdefault(row, []), *_held(step))))
    return rows, Lanes(tuple(bars), {row: len(lanes) for row, lanes in free.items()})


def _held(step: Step) -> Span:
    """What the bar covers: machine time, the time away, or the wait."""
    if step.machine is not None:
        return step.start, step.run_end
    return (step.run_start, step.run_end) if step.trip is not None or step.run_end > step.start else (step.start, step.end)  # fmt: skip


def _lane(free_from: list[int], start: int, end: int) -> int:
    for n, free in enumerate(free_from):
        if free <= start:
            free_from[n] = end
            return n
    free_from.append(end)
    return len(free_from) - 1


def _bar(site: Site, op: Operation, step: Step, row: int, lane: int) -> Bar:
    start, end = _held(step)
    return Bar(
        op=op.index, batch=op.batch, row=row, lane=lane, start=start, end=end, worked=_worked(site, step),
        first_off=step.first_off.start if step.first_off else None, number=op.number, what=op.description,
        pieces=op.pieces_left, from_text=site.clock.text(start), to_text=site.clock.text(end),
        waited=waited_text(site, step), next_op=site.next_op.get(op.index),
    )  # fmt: skip


def _worked(site: Site, step: Step) -> tuple[Worked, ...]:
    if step.machine is None:
        return (("wait" if site.work.operations[step.operation].service is None else "away", *_held(step)),)
    spans: list[Worked] = []
    for s in site.minutes.of(step):
        if spans and spans[-1][0] == s.what and spans[-1][2] == s.start:
            spans[-1] = (s.what, spans[-1][1], s.end)
        else:
            spans.append((s.what, s.start, s.end))
    return tuple(spans)


def _hours(site: Site, start: int, end: int) -> tuple[tuple[OpenHours, ...], list[int]]:
    """Distinct open hours, and by machine which of them it has."""
    found: dict[OpenHours, int] = {}
    of = []
    for machine in site.work.machines:
        own = machine.hours
        seen = OpenHours(
            tuple(cut(stretches(own.attended, 0), start, end)), tuple(cut(stretches(own.unattended, 0), start, end))
        )
        of.append(found.setdefault(seen, len(found)))
    return tuple(found), of


def _orders(site: Site) -> tuple[ChartOrder, ...]:
    return tuple(
        ChartOrder(o.number, o.customer, o.part, o.priority, site.is_late(o.index), site.order_text(o.index))
        for o in site.work.orders
    )


def _batches(site: Site) -> tuple[ChartBatch, ...]:
    found = []
    for batch in site.work.batches:
        orders = site.orders_of(batch.index)
        priority = site.feeds.classes.index(site.feeds.class_of(batch.index))
        late = any(site.is_late(o) for o in orders)
        found.append(ChartBatch(batch.name, batch.part, batch.description, orders, priority, late))
    return tuple(found)


def _links(site: Site) -> tuple[tuple[int, int], ...]:
    work, planned = site.work, site.steps
    ends = ((work.batches[n.batch].operations, n.operation) for n in work.needs if n.batch is not None)
    return tuple(dict.fromkeys((ops[-1], to) for ops, to in ends if ops and ops[-1] in planned and to in planned))
