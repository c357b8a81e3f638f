"""What limits the shop: resources ranked week by week by load, by how long they are busy without a break, and by what a tenth
more of them would save.

The first two are read off the plan and soon found; the third is found by planning again (``planner/capacity/worth.py``) and only for
the few that look worst.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from planner.alter.searches import Tell
from planner.answers.wording import moment_text
from planner.capacity.adding import EQUIPMENT, GROUP, SKILL, Resource
from planner.capacity.busy import Occupied
from planner.capacity.figures import Figures
from planner.capacity.more import OUTSIDE
from planner.capacity.payers import Payer, payers
from planner.capacity.waiting import Waiting, waiting_by_load
from planner.capacity.worth import Eased, Savings, savings
from planner.plan import Plan
from planner.work import Work
from planner.worktime import week_spans

MOST = 4  # resources that are looked at by planning again


@dataclass(frozen=True)
class Limit:
    """One resource in one week. Minutes are open minutes; ``percent`` as in ``batchwright load``."""

    kind: str  # 'group', 'skill', 'equipment' or 'outside'
    name: str
    week: str
    percent: float | None
    busy_min: int  # longest stretch without a break that touches the week, with its whole length
    busy_from: str
    busy_to: str
    waiting_min: int  # most work waiting at one moment of the part of that stretch that lies in the week


@dataclass(frozen=True)
class Top:
    """What limits most in one week, by load and by the longest busy stretch; empty where nothing is asked for."""

    week: str
    by_load: str
    percent: float | None
    by_stretch: str
    busy_min: int


@dataclass(frozen=True)
class Paid:
    """Late orders whose way waits for a resource."""

    kind: str
    name: str
    weighted_wait: int  # minutes waited times the orders' weights
    orders: tuple[Payer, ...]


@dataclass(frozen=True)
class Next:
    """What limits once there is a tenth more of ``eased``: the worst week by each measure, and what saves most then."""

    eased: str
    by_load: str
    percent: float | None
    by_stretch: str
    busy_min: int
    by_saving: str  # empty where nothing saves more than the noise


@dataclass(frozen=True)
class Limits:
    """``weeks`` has the rows of a week together, the highest load first."""

    late: int  # weighted minutes of lateness in the plan
    weeks: tuple[Limit, ...]
    tops: tuple[Top, ...]
    paid: tuple[Paid, ...]  # by what waits for it weigh most
    waiting: tuple[Waiting, ...]
    savings: Savings | None = None
    next: Next | None = None


def limits(work: Work, plan: Plan) -> Limits:
    """All that can be read off the plan; :func:`with_savings` adds what takes planning again."""
    figures = Figures(work, plan)
    rows, paying = _rows(work, plan, figures), payers(work, plan, figures)
    paid = [Paid(*key, sum(p.weight * p.waited_min for p in found), found) for key, found in paying.items()]
    return Limits(
        plan.cost.late, tuple(rows), tuple(_tops(rows)), tuple(sorted(paid, key=lambda p: (-p.weighted_wait, p.name))),
        tuple(waiting_by_load(work, plan, figures)),
    )  # fmt: skip


def with_savings(
    found: Limits, work: Work, plan: Plan, *, most: int = MOST, seconds: float | None = None, trials: int | None = None,
    tell: Tell | None = None, stop: Callable[[], bool] | None = None,
) -> Limits:  # fmt: skip
    """The limits with what a tenth more of the worst few saves; unchanged where no order is late.

    Parameters
    ----------
    found, work, plan
        What :func:`limits` found for a plan.
    most
        How many resources are looked at.
    seconds, trials, tell, stop
        As :func:`planner.capacity.worth.savings`.
    """
    worst = candidates(found, work, most)
    if not found.late or not worst:
        return found
    saved, eased = savings(work, plan, worst, seconds=seconds, trials=trials, tell=tell, stop=stop)
    return replace(found, savings=saved, next=None if eased is None else _next(eased, saved))


def worst_of(rows: Sequence[Limit], most: int) -> list[Limit]:
    """Of one week's rows so many of the fullest, and with them the one that is busy longest."""
    fullest = list(rows[:most])
    busiest = max(rows, key=lambda r: (r.busy_min, r.percent or 0))
    return fullest if busiest in fullest or not busiest.busy_min else [*fullest, busiest]


def candidates(found: Limits, work: Work, most: int = MOST) -> list[Resource]:
    """Resources that look worst: first those for which late orders wait most, then the fullest."""
    waited = [(p.kind, p.name) for p in found.paid if p.weighted_wait]
    full = sorted((r for r in found.weeks if r.percent), key=lambda r: (-(r.percent or 0), r.name))
    endless = {r.supplier for r in work.runs} - {r.supplier for r in work.runs if r.room_pieces is not None}
    keys = dict.fromkeys([*waited, *((r.kind, r.name) for r in full)])
    return [key for key in keys if not (key[0] == OUTSIDE and key[1] in endless)][:most]


def _rows(work: Work, plan: Plan, figures: Figures) -> list[Limit]:
    weeks = week_spans(0, max([1, *(s.end for s in plan.steps)]), work.zone, work.plan_start)
    answer, occupied = figures.load, Occupied(work, plan, figures)
    percents = {(r.kind, r.name, r.week): r for r in answer.rows if r.kind in (GROUP, SKILL, EQUIPMENT)}
    vans = {(v.supplier, v.week): v for v in answer.vans}
    found = []
    for week, (start, end) in weeks:
        rows = [_row(work, occupied, key, week, (max(start, 0), end), percents[*key, week].percent)
                for key in occupied.resources if percents[*key, week].needed_min]  # fmt: skip
        for supplier in sorted({r.supplier for r in work.runs}):
            van = vans[supplier, week]
            if van.pieces:
                rows.append(Limit(OUTSIDE, supplier, week, van.fullest_percent, 0, "", "", 0))
        found += sorted(rows, key=lambda r: (-(r.percent or 0), -r.busy_min, r.kind, r.name))
    return found


def _row(
    work: Work, occupied: Occupied, key: Resource, week: str, span: tuple[int, int], percent: float | None
) -> Limit:
    busy = occupied.longest(key, *span)
    if busy is None:
        return Limit(*key, week, percent, 0, "", "", occupied.waiting(key, *span))
    waiting = occupied.waiting(key, max(span[0], busy.start), min(span[1], busy.end))
    return Limit(*key, week, percent, busy.minutes, moment_text(work, busy.start), moment_text(work, busy.end), waiting)


def _tops(rows: list[Limit]) -> list[Top]:
    found = []
    for week in dict.fromkeys(r.week for r in rows):
        own = [r for r in rows if r.week == week]
        load_, stretch = own[0], max(own, key=lambda r: (r.busy_min, r.percent or 0))
        found.append(Top(week, load_.name, load_.percent, stretch.name if stretch.busy_min else "", stretch.busy_min))
    return found


def _next(eased: Eased, saved: Savings) -> Next:
    work, plan = eased.side.work, eased.side.plan
    rows = _rows(work, plan, Figures(work, plan))
    load_ = max(rows, key=lambda r: (r.percent or 0, r.name))
    stretch = max(rows, key=lambda r: (r.busy_min, r.name))
    best = saved.next_found[0] if saved.next_found and saved.next_found[0].sure else None
    return Next(
        eased.saving.name, load_.name, load_.percent, stretch.name, stretch.busy_min, "" if best is None else best.name
    )  # fmt: skip
