"""Hours needed and hours there are, by ISO week or day, seen in one of three ways.

*As planned*: where the plan has each operation. *Before levelling*: each operation at its latest dates, so that a week shows
what the orders ask of it (``planner/capacity/latest.py``); what should have begun before the plan start is in a row named
``overdue``. *Backlog*: running totals of that from the plan start on, against all hours to the end of each period: above 100 per
cent no levelling can help.

A week is local Monday 00:00 to the next, so 167 or 169 hours long when the clocks change; the first counts only from
the plan start. ``setup_min`` (with handovers) and ``run_min`` are working minutes that
fall in the period. Percent is what is worked in attended time against effective minutes: attended minutes times the group's
availability and performance, applied here and nowhere else. Unattended running is shown beside it and counts against nothing.
Percent above 100 is shown as it is. Closed days, leave and downtime are no hours.

A person counts in the hours of each skill they have; the skill an operation asks for gets the load. Equipment is
counted in the attended hours of the machines that use it, times how many there are.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

from planner.answers.feeds import Feeds
from planner.answers.spent import RUN, Spent, cut
from planner.capacity.demand import Demand, as_planned, skill_of
from planner.capacity.indicators import UnitTimes
from planner.capacity.latest import at_latest
from planner.capacity.share import Share, percent, shares
from planner.capacity.tally import ByPeriod, Periods, Tally, Whose
from planner.capacity.vans import VanLoad, van_loads
from planner.plan import Plan
from planner.work import Span, Work
from planner.worktime import day_spans, stretches, united, week_spans

MACHINE, GROUP, SKILL, PERSON, EQUIPMENT = "machine", "group", "skill", "person", "equipment"
OVERDUE = "overdue"
FULL = 100.0  # per cent


class View(StrEnum):
    """How demand is seen."""

    PLANNED = "planned"
    LATEST = "latest"
    BACKLOG = "backlog"


class By(StrEnum):
    """What it is added up by."""

    WEEK = "week"
    DAY = "day"


@dataclass(frozen=True)
class LoadRow:
    """One machine, group, skill, person or piece of equipment in one period; all in whole minutes.

    ``own_min`` (own product) and ``released_min`` (batches already released) are shares of what is needed, the rest being core
    work and work not released yet.
    """

    kind: str  # 'machine', 'group', 'skill', 'person' or 'equipment'
    name: str
    week: str  # ISO year and week, e.g. '2026-W13', by day the date, e.g. '2026-03-23'; or 'overdue'
    attended_min: int  # there is
    unattended_min: int
    setup_min: int  # is needed
    run_min: Mapping[str, int]  # by class of work, unattended running included
    check_min: int  # first-off approvals; people only
    unattended_run_min: int  # share of run_min
    waiting_min: int  # attended minutes in which a machine is held and neither set nor running; as planned only
    percent: float | None  # None where there is no attended time; not cut off at 100
    effective_min: int = 0  # attended_min times availability and performance
    own_min: int = 0
    released_min: int = 0
    batches: tuple[Share, ...] = ()  # minutes of each, the most first; of running totals only above 100 per cent

    @property
    def needed_min(self) -> int:
        return self.setup_min + sum(self.run_min.values()) + self.check_min

    @property
    def by_day_min(self) -> int:
        """What is needed in attended time."""
        return self.needed_min - self.unattended_run_min

    @property
    def times(self) -> UnitTimes:
        """In the terms of ISO 22400-2; planned values, attended time only."""
        run = self.by_day_min - self.setup_min - self.check_min
        return UnitTimes(self.attended_min, run, self.setup_min, self.waiting_min)


@dataclass(frozen=True)
class Load:
    rows: tuple[LoadRow, ...]
    vans: tuple[VanLoad, ...]
    view: View = View.PLANNED
    by: By = By.WEEK


Tallies = dict[tuple[str, str], Tally]


def load(work: Work, plan: Plan, view: View = View.PLANNED, by: By = By.WEEK) -> Load:
    """Load of every machine, group, skill, person, piece of equipment and outside firm.

    As planned it goes to the plan's end, otherwise also to the last of the latest dates.
    """
    demands = list(as_planned(work, plan)) if view is View.PLANNED else at_latest(work, plan)
    last = max([1, *(step.end for step in plan.steps), *(d.run_end for d in demands)])
    periods = Periods((week_spans if by is By.WEEK else day_spans)(0, last, work.zone, work.plan_start))
    tallies: Tallies = {key: Tally() for key in _names(work)}
    users = _equipment_hours(work)
    _add_hours(work, periods, tallies, users)
    feeds = Feeds(work)
    for demand in demands:
        if demand.machine is not None:
            _add_demand(work, periods, tallies, demand, feeds, users)
    rows = (
        row
        for (kind, name), tally in tallies.items()
        for row in _rows(kind, name, tally, periods, feeds.classes, _factor(work, kind, name), view)
    )
    return Load(tuple(rows), tuple(van_loads(work, demands, periods, view is View.BACKLOG)), view, by)


def limiting(work: Work, plan: Plan) -> LoadRow | None:
    """The machine group with the highest load in its worst week; the earlier week and name where equal."""
    return highest(load(work, plan))


def highest(answer: Load) -> LoadRow | None:
    """The group and week with the highest percentage of a load already found."""
    groups = [row for row in answer.rows if row.kind == GROUP and row.percent]
    return min(groups, key=lambda r: (-(r.percent or 0), r.week, r.name), default=None)


def _names(work: Work) -> Iterator[tuple[str, str]]:
    yield from ((GROUP, g.name) for g in work.groups)
    yield from ((MACHINE, m.name) for m in work.machines)
    yield from ((SKILL, name) for name in work.skills)
    yield from ((PERSON, p.name) for p in work.people)
    yield from ((EQUIPMENT, e.name) for e in work.equipment)


# --- what there is ---------------------------------------------------------------------------


def _add_hours(work: Work, periods: Periods, tallies: Tallies, users: dict[int, list[Span]]) -> None:
    for machine in work.machines:
        for key in ((MACHINE, machine.name), (GROUP, work.groups[machine.group].name)):
            tallies[key].there(periods, machine.hours.attended, machine.hours.unattended)
    for person in work.people:
        for key in ((PERSON, person.name), *((SKILL, work.skills[s]) for s in person.skills)):
            tallies[key].there(periods, person.hours)
    for e, hours in users.items():
        tallies[EQUIPMENT, work.equipment[e].name].there(periods, hours, times=work.equipment[e].count)


def _equipment_hours(work: Work) -> dict[int, list[Span]]:
    """By piece of equipment, when any machine that may use it is attended."""
    machines: dict[int, set[int]] = {}
    for op in work.operations:
        for e, _ in op.equipment:
            machines.setdefault(e, set()).update(a.machine for a in op.alternatives)
    return {
        e: stretches(united(w for m in found for w in work.machines[m].hours.attended), 0)
        for e, found in machines.items()
    }


def _factor(work: Work, kind: str, name: str) -> float:
    """Share of a machine's or group's attended hours that counts."""
    group = next((g for g, x in enumerate(work.groups) if kind == GROUP and x.name == name), None)
    if kind == MACHINE:
        group = next(m.group for m in work.machines if m.name == name)
    return 1.0 if group is None or not work.factors else work.factors[group].share


# --- what is needed --------------------------------------------------------------------------


def _add_demand(
    work: Work, periods: Periods, tallies: Tallies, demand: Demand, feeds: Feeds, users: dict[int, list[Span]]
) -> None:
    op, whose = work.operations[demand.operation], whose_of(work, demand, feeds)
    assert demand.machine is not None
    machine = work.machines[demand.machine]
    places = [tallies[MACHINE, machine.name], tallies[GROUP, work.groups[machine.group].name]]
    for span in demand.spent:
        skill = skill_of(op, span)
        people = [] if skill is None else [tallies[SKILL, work.skills[skill]]]
        if span.person is not None:
            people.append(tallies[PERSON, work.people[span.person].name])
        for tally in (*people, *(places if span.machine is not None else ())):
            tally.need(periods, span, whose)
    for tally in places:
        tally.held.update(periods.spread(cut(machine.hours.attended, demand.start, demand.run_end)))
    for e, units in op.equipment:
        for a, b in cut(users[e], demand.equipment_from, demand.run_end):
            tallies[EQUIPMENT, work.equipment[e].name].need(periods, Spent(RUN, a, b), whose, units)


def whose_of(work: Work, demand: Demand, feeds: Feeds) -> Whose:
    """The batch that a demand comes from."""
    batch = work.batches[work.operations[demand.operation].batch]
    return Whose(batch.name, feeds.class_of(batch.index), batch.own_product, batch.is_open)


def _rows(
    kind: str, name: str, tally: Tally, periods: Periods, classes: tuple[str, ...], factor: float, view: View
) -> Iterator[LoadRow]:
    overdue = view is View.LATEST and any(minutes[0] for minutes in tally.batches.values())
    for p, label in enumerate([OVERDUE, *periods.labels]):
        if p == 0 and not overdue:
            continue

        def at(minutes: ByPeriod, p: int = p) -> int:
            return sum(minutes[k] for k in range(p + 1)) if view is View.BACKLOG else minutes[p]

        run = {c: amount for c in classes if c in tally.run and (amount := at(tally.run[c]))}
        by_day = at(tally.setup) + sum(run.values()) + at(tally.check) - at(tally.night)
        there = round(factor * at(tally.attended))
        found = percent(by_day, there)
        named = view is not View.BACKLOG or (found or 0) > FULL or (by_day and not there)
        yield LoadRow(
            kind, name, label, at(tally.attended), at(tally.unattended), at(tally.setup), run, at(tally.check), at(tally.night),
            at(tally.held) - by_day if kind in (MACHINE, GROUP) and view is View.PLANNED else 0, found, there, at(tally.own),
            at(tally.released), shares({b: at(m) for b, m in tally.batches.items()}) if named else (),
        )  # fmt: skip
