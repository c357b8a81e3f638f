"""How long work would wait before each group in the long run, at the present load and at more: an estimate beside the plan.

The jobs are the plan's own; that work comes at random (squared coefficient of variation 1) is an assumption. A plan knows what is
to come and puts it in order, so it waits less than chance would have it; the estimate says what happens when more work comes in at the
same pace for good.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from math import isfinite
from statistics import fmean, pvariance

from planner.capacity.adding import GROUP
from planner.capacity.demand import Demand
from planner.capacity.figures import Figures
from planner.capacity.openings import Openings
from planner.capacity.queueing import erlang_c, vut_wait
from planner.plan import Plan
from planner.work import Work

MORE_PERCENT = (0, 5, 10, 20)  # more load than at present
ARRIVALS_CV2 = 1.0
PRESENT_WEEKS = 4  # the present load is that of the first so many weeks of the plan


@dataclass(frozen=True)
class AtLoad:
    """``wait_min`` in open minutes and ``queue`` in batches waiting on average (Little's law), None where both would grow without end."""

    more_percent: int
    load_percent: float
    wait_min: int | None
    wait_chance: float  # that a job has to wait at all (Erlang C)
    queue: float | None = None


@dataclass(frozen=True)
class Waiting:
    """One group. All minutes are open minutes of the group's machines."""

    group: str
    machines: int
    jobs: int
    job_min: float  # mean of setting and running a batch
    job_cv2: float
    planned_wait_min: (
        float  # mean in the plan, from when a batch could begin to its start; held back on purpose not counted
    )
    at: tuple[AtLoad, ...]


def waiting_by_load(work: Work, plan: Plan, figures: Figures | None = None) -> list[Waiting]:
    """Expected waits of each group that the plan uses, the fullest first; the present load is that of the next four weeks.

    What asks for no attended time, such as a run of which only some unattended minutes are left, waits for nobody and keeps nobody
    waiting: it is left out.
    """
    figures, openings = figures or Figures(work, plan), Openings(work)
    jobs: defaultdict[int, list[Demand]] = defaultdict(list)
    for demand in figures.demands:
        if demand.machine is not None and _attended_min(demand):
            jobs[work.machines[demand.machine].group].append(demand)
    found = []
    for g, demands in jobs.items():
        rows = [r for r in figures.load.rows if (r.kind, r.name) == (GROUP, work.groups[g].name)]
        there, needed = (
            sum(values) for values in zip(*((r.effective_min, r.by_day_min) for r in rows[:PRESENT_WEEKS]), strict=True)
        )
        if there:
            found.append(_waiting(work, g, demands, needed / there, figures.ready, openings))
    return sorted(found, key=lambda w: (-w.at[0].load_percent, w.group))


def _attended_min(demand: Demand) -> int:
    return sum(s.minutes for s in demand.spent if s.machine is not None and s.attended)


def _waiting(
    work: Work, group: int, demands: list[Demand], used: float, ready: dict[int, int], openings: Openings
) -> Waiting:
    minutes = [_attended_min(d) for d in demands]
    mean = fmean(minutes)
    cv2 = pvariance(minutes) / mean**2
    waits = [
        openings.attended(d.machine).open_between(ready[d.operation], d.start)
        for d in demands
        if d.machine is not None and d.start > ready[d.operation]
    ]
    machines = len(work.groups[group].machines)
    return Waiting(
        work.groups[group].name, machines, len(demands), round(mean, 1), round(cv2, 2), round(sum(waits) / len(demands), 1),
        tuple(_at_load(more, used * (100 + more) / 100, mean, cv2, machines) for more in MORE_PERCENT),
    )  # fmt: skip


def _at_load(more: int, used: float, mean: float, cv2: float, machines: int) -> AtLoad:
    wait = vut_wait(ARRIVALS_CV2, cv2, used, mean, machines)
    chance = round(erlang_c(used * machines, machines), 3)
    if not isfinite(wait):
        return AtLoad(more, round(100 * used, 1), None, chance)
    return AtLoad(more, round(100 * used, 1), round(wait), chance, round(used * machines / mean * wait, 2))
