"""Hours needed and hours there are, by ISO week or day, seen in one of three ways.

*As planned*: where the plan has each operation. *Before levelling*: each operation at its latest dates, so that a week shows
what the orders ask of it (``planner/capacity/latest.py``); what should have begun before the plan start is in a row named
``overdue``. *Backlog*: running totals of that from the plan start on, against all hours to the end of each period: above 100 per
cent no levelling can help. All work is in each of them; what of it is released already is told beside.

A week is local Monday 00:00 to the next, so 167 or 169 hours long when the clocks change; the first counts only from
the plan start. ``setup_min`` (with handovers) and ``run_min`` are working minutes that
fall in the period. Percent is what is worked in attended time against effective minutes: attended minutes times the group's
availability and performance; times and plans know nothing of those. Unattended running is shown beside it and counts against nothing.
Percent above 100 is shown as it is. Closed days, leave and downtime are no hours.

A person counts in the hours of each skill they have; the skill an operation asks for gets the load. Equipment is
counted in the attended hours of the machines that use it, times how many there are.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from planner.answers.feeds import Feeds
from planner.capacity.adding import EQUIPMENT, GROUP, MACHINE, PERSON, SKILL, added_up
from planner.capacity.demand import Demand, as_planned
from planner.capacity.indicators import UnitTimes
from planner.capacity.latest import at_latest
from planner.capacity.more import OUTSIDE
from planner.capacity.share import Share, percent, shares
from planner.capacity.tally import ByPeriod, Periods, Tally
from planner.capacity.vans import VanLoad, van_loads
from planner.plan import Plan
from planner.work import Work
from planner.worktime import day_spans, week_spans

__all__ = [
    "EQUIPMENT", "FULL", "GROUP", "MACHINE", "OUTSIDE", "OVERDUE", "PERSON", "SKILL", "By", "Load", "LoadRow", "Use", "VanLoad",
    "View", "highest", "limiting", "load", "names_of", "only", "percent",
]  # fmt: skip

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
    released_percent: float | None = None  # as percent, of released work alone

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
class Use:
    """How a machine or group is used from the first to the last period with work: planned values, per cent, in the terms of
    ISO 22400-2. None where there is nothing to compare."""

    kind: str
    name: str
    allocation_efficiency: float | None  # set, run or held waiting, of the attended time there is
    utilisation_efficiency: float | None  # running, of that
    setup_ratio: float | None  # setting, of setting and running


@dataclass(frozen=True)
class Load:
    rows: tuple[LoadRow, ...]
    vans: tuple[VanLoad, ...]
    view: View = View.PLANNED
    by: By = By.WEEK
    use: tuple[Use, ...] = ()  # as planned only


def load(
    work: Work, plan: Plan, view: View = View.PLANNED, by: By = By.WEEK, demands: Sequence[Demand] | None = None
) -> Load:
    """Load of every machine, group, skill, person, piece of equipment and outside firm.

    As planned it goes to the plan's end, otherwise also to the last of the latest dates. ``demands`` are those as planned, where
    they have been made already.
    """
    if view is not View.PLANNED:
        demands = at_latest(work, plan)
    elif demands is None:
        demands = list(as_planned(work, plan))
    last = max([1, *(step.end for step in plan.steps), *(d.run_end for d in demands)])
    periods = Periods((week_spans if by is By.WEEK else day_spans)(0, last, work.zone, work.plan_start))
    classes = Feeds(work).classes
    rows = tuple(
        row
        for (kind, name), tally in added_up(work, demands, periods).items()
        for row in _rows(kind, name, tally, periods, classes, _factor(work, kind, name), view)
    )
    use = tuple(_use(rows)) if view is View.PLANNED else ()
    return Load(rows, tuple(van_loads(work, demands, periods, view is View.BACKLOG)), view, by, use)


def names_of(answer: Load) -> dict[str, list[str]]:
    """Names by kind, outside firms among them."""
    found: dict[str, dict[str, None]] = {}
    for kind, name in (*((r.kind, r.name) for r in answer.rows), *((OUTSIDE, v.supplier) for v in answer.vans)):
        found.setdefault(kind, {})[name] = None
    return {kind: list(names) for kind, names in found.items()}


def only(answer: Load, kinds: Collection[str] = (), names: Collection[str] = ()) -> Load:
    """What is of one of the kinds and has one of the names; empty: of any."""

    def asked(kind: str, name: str) -> bool:
        return (not kinds or kind in kinds) and (not names or name in names)

    return replace(
        answer,
        rows=tuple(r for r in answer.rows if asked(r.kind, r.name)),
        vans=tuple(v for v in answer.vans if asked(OUTSIDE, v.supplier)),
        use=tuple(u for u in answer.use if asked(u.kind, u.name)),
    )


def _use(rows: tuple[LoadRow, ...]) -> Iterator[Use]:
    last = max((r.week for r in rows if r.needed_min), default="")
    kept: dict[tuple[str, str], list[UnitTimes]] = {}
    for row in rows:
        if row.kind in (MACHINE, GROUP) and row.week <= last:
            kept.setdefault((row.kind, row.name), []).append(row.times)
    for key, times in kept.items():
        t = UnitTimes(
            *(sum(getattr(x, part) for x in times) for part in ("busy_planned", "production", "setup", "delay"))
        )
        yield Use(*key, *(_percent_of(r) for r in (t.allocation_efficiency, t.utilisation_efficiency, t.setup_ratio)))


def _percent_of(ratio: float | None) -> float | None:
    return None if ratio is None else round(100 * ratio, 1)


def limiting(work: Work, plan: Plan) -> LoadRow | None:
    """The machine group with the highest load in its worst week; the earlier week and name where equal."""
    return highest(load(work, plan))


def highest(answer: Load) -> LoadRow | None:
    """The group and week with the highest percentage of a load already found."""
    groups = [row for row in answer.rows if row.kind == GROUP and row.percent]
    return min(groups, key=lambda r: (-(r.percent or 0), r.week, r.name), default=None)


def _factor(work: Work, kind: str, name: str) -> float:
    """Share of a machine's or group's attended hours that counts."""
    group = next((g for g, x in enumerate(work.groups) if kind == GROUP and x.name == name), None)
    if kind == MACHINE:
        group = next(m.group for m in work.machines if m.name == name)
    return 1.0 if group is None or not work.factors else work.factors[group].share


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
            percent(at(tally.released) - at(tally.released_night), there),
        )  # fmt: skip
