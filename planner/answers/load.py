"""Hours needed and hours there are, for each ISO week, from the plan.

A week is local Monday 00:00 to the next, so 167 or 169 hours long when the clocks change; the first counts only from
the plan start. ``setup_min`` (with handovers) and ``run_min`` are working minutes that
fall in the week. Percent is what is worked in attended time against attended minutes;
unattended running is shown beside it and counts against nothing. Percent above 100 is shown as it is.

A person counts in the hours of each skill they have; the skill an operation asks for gets the load.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from planner.answers.feeds import Feeds
from planner.answers.spent import CHECK, SETUP, Minutes, Spent, cut
from planner.plan import Plan, Step
from planner.work import Begun, Kind, Operation, Span, Work
from planner.worktime import week_spans

MACHINE, GROUP, SKILL, PERSON = "machine", "group", "skill", "person"


@dataclass(frozen=True)
class LoadRow:
    """One machine, group, skill or person in one week; all in whole minutes."""

    kind: str  # 'machine', 'group', 'skill' or 'person'
    name: str
    week: str  # ISO year and week, e.g. '2026-W13'
    attended_min: int  # there is
    unattended_min: int
    setup_min: int  # is needed
    run_min: Mapping[str, int]  # by class of work, unattended running included
    check_min: int  # first-off approvals; people only
    unattended_run_min: int  # share of run_min
    waiting_min: int  # attended minutes in which a machine is held and neither set nor running
    percent: float | None  # None where there is no attended time and none is needed; not cut off at 100

    @property
    def needed_min(self) -> int:
        return self.setup_min + sum(self.run_min.values()) + self.check_min


@dataclass(frozen=True)
class VanLoad:
    """All collections by one outside firm in one week, in pieces; ``room`` None is unlimited."""

    supplier: str
    week: str
    collections: int
    pieces: int
    room: int | None
    percent: float | None
    fullest_percent: float | None  # of its fullest single collection


@dataclass(frozen=True)
class Load:
    rows: tuple[LoadRow, ...]
    vans: tuple[VanLoad, ...]


class _Tally:
    """One name's minutes by week, while they are being added up."""

    def __init__(self, weeks: int) -> None:
        self.attended, self.unattended, self.setup, self.check, self.night, self.held = ([0] * weeks for _ in range(6))
        # held: attended minutes in which the machine is held; run: by class of work
        self.run: defaultdict[str, list[int]] = defaultdict(lambda: [0] * weeks)


Weeks = list[tuple[str, Span]]


def load(work: Work, plan: Plan) -> Load:
    """Load of every machine, group, skill, person and outside firm, week by week to the plan's end."""
    weeks = week_spans(0, max([1, *(step.end for step in plan.steps)]), work.zone, work.plan_start)
    tallies = {(kind, name): _Tally(len(weeks)) for kind, name in _names(work)}
    _add_hours(work, weeks, tallies)
    minutes, feeds = Minutes(work), Feeds(work)
    for step in plan.steps:
        if step.machine is not None:
            _add_step(work, weeks, tallies, step, minutes.of(step), feeds)
    rows = (row for (kind, name), tally in tallies.items() for row in _rows(kind, name, tally, weeks, feeds))
    return Load(tuple(rows), tuple(_vans(work, plan, weeks)))


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


# --- what there is ---------------------------------------------------------------------------


def _add_hours(work: Work, weeks: Weeks, tallies: dict[tuple[str, str], _Tally]) -> None:
    for machine in work.machines:
        for key in ((MACHINE, machine.name), (GROUP, work.groups[machine.group].name)):
            _spread(machine.hours.attended, weeks, tallies[key].attended)
            _spread(machine.hours.unattended, weeks, tallies[key].unattended)
    for person in work.people:
        for key in ((PERSON, person.name), *((SKILL, work.skills[s]) for s in person.skills)):
            _spread(person.hours, weeks, tallies[key].attended)


def _spread(spans: Iterable[Span], weeks: Weeks, into: list[int]) -> None:
    """Add minutes at or after the plan start to the weeks they fall in."""
    starts = [span[0] for _, span in weeks]
    end = weeks[-1][1][1]
    for a, b in spans:
        a, b = max(a, 0), min(b, end)
        while a < b:
            week = bisect_right(starts, a) - 1
            upto = min(b, weeks[week][1][1])
            into[week] += upto - a
            a = upto


# --- what is needed --------------------------------------------------------------------------


def _add_step(
    work: Work, weeks: Weeks, tallies: dict[tuple[str, str], _Tally], step: Step, spent: list[Spent], feeds: Feeds
) -> None:
    op = work.operations[step.operation]
    assert step.machine is not None
    machine = work.machines[step.machine]
    class_of_work = feeds.class_of(op.batch)
    places = [tallies[MACHINE, machine.name], tallies[GROUP, work.groups[machine.group].name]]
    for span in spent:
        people = _people(work, op, span, tallies)
        for tally in (*people, *(places if span.machine is not None else ())):
            _add_span(tally, span, weeks, class_of_work)
    for tally in places:
        _spread(cut(machine.hours.attended, step.start, step.run_end), weeks, tally.held)


def _people(work: Work, op: Operation, span: Spent, tallies: dict[tuple[str, str], _Tally]) -> list[_Tally]:
    if span.person is None:
        return []
    skill = op.first_off_skill if span.what == CHECK else op.skill
    found = [tallies[PERSON, work.people[span.person].name]]
    return found if skill is None else [*found, tallies[SKILL, work.skills[skill]]]


def _add_span(tally: _Tally, span: Spent, weeks: Weeks, class_of_work: str) -> None:
    pieces = [(span.start, span.end)]
    if span.what == SETUP:
        _spread(pieces, weeks, tally.setup)
    elif span.what == CHECK:
        _spread(pieces, weeks, tally.check)
    else:
        _spread(pieces, weeks, tally.run[class_of_work])
        if not span.attended:
            _spread(pieces, weeks, tally.night)


def _rows(kind: str, name: str, tally: _Tally, weeks: Weeks, feeds: Feeds) -> Iterator[LoadRow]:
    held = kind in (MACHINE, GROUP)
    for w, (week, _) in enumerate(weeks):
        run = {c: tally.run[c][w] for c in feeds.classes if c in tally.run and tally.run[c][w]}
        by_day = tally.setup[w] + sum(run.values()) + tally.check[w] - tally.night[w]
        yield LoadRow(
            kind, name, week, tally.attended[w], tally.unattended[w], tally.setup[w], run, tally.check[w],
            tally.night[w], tally.held[w] - by_day if held else 0, percent(by_day, tally.attended[w]),
        )  # fmt: skip


def percent(needed: int, there: int) -> float | None:
    """One decimal, never cut off at 100; None where nothing is there to compare with."""
    return round(100 * needed / there, 1) if there else None


# --- outside firms ---------------------------------------------------------------------------


def _vans(work: Work, plan: Plan, weeks: Weeks) -> Iterator[VanLoad]:
    on = pieces_on_runs(work, plan)
    for supplier in sorted({run.supplier for run in work.runs}):
        for week, (start, end) in weeks:
            runs = [
                i for i, r in enumerate(work.runs) if r.supplier == supplier and max(start, 0) <= r.collect_min < end
            ]
            rooms = [work.runs[i].room_pieces for i in runs]
            room = None if None in rooms else sum(r for r in rooms if r is not None)
            pieces = sum(on.get(i, 0) for i in runs)
            shares = [s for i in runs if (s := percent(on.get(i, 0), work.runs[i].room_pieces or 0)) is not None]
            yield VanLoad(
                supplier, week, len(runs), pieces, room, percent(pieces, room or 0), max(shares, default=None)
            )


def pieces_on_runs(work: Work, plan: Plan) -> dict[int, int]:
    """Pieces that the plan puts on each collection, by index in ``work.runs``."""
    on: dict[int, int] = defaultdict(int)
    for step in plan.steps:
        op = work.operations[step.operation]
        if op.kind is Kind.OUTSIDE and op.begun is not Begun.OUT and op.service is not None and step.trip is not None:
            on[work.services[op.service].trips[step.trip].run] += op.pieces
    return on
