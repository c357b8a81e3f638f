"""Classical machine problems as shops: minutes as times, machines open without end, nothing to set."""

from __future__ import annotations

import json
from collections.abc import Sequence
from itertools import permutations
from pathlib import Path
from typing import Any

from builders import ShopBuilder

from planner.plan import Plan
from planner.search import search
from planner.timetable import Timetable
from planner.verify import verify
from planner.work import Prices, Work

INSTANCES: list[dict[str, Any]] = json.loads(
    (Path(__file__).parent / "data" / "job_shops.json").read_text(encoding="utf-8")
)
"""Published job shops; each names its source."""
LATE_ONLY = Prices(wip_weight=0, setup_weight=0, charge_weight=0)


def one_machine(
    minutes: Sequence[int],
    *,
    due: Sequence[int] | None = None,
    weight: Sequence[int] | None = None,
    release: Sequence[int] | None = None,
    chains: Sequence[tuple[int, int]] = (),
) -> Work:
    """Jobs on one machine, an order each; ``chains`` are pairs of job numbers (from 1), the first before the second."""
    shop = ShopBuilder(prices=LATE_ONLY)
    for j, p in enumerate(minutes):
        shop.batch(f"J{j + 1}", release=release[j] if release else 0).op("M", 0, 60 * p)
        shop.order(f"O{j + 1}", f"J{j + 1}", due=due[j] if due else 0, weight=weight[j] if weight else 1)
    for first, second in chains:
        shop.need(f"J{second}", 10, f"J{first}")
    return shop.build()


def flow_shop(*machines: Sequence[int]) -> Work:
    """Each job goes over the machines in order; one order is ready with the last job, so its lateness is the makespan."""
    shop = ShopBuilder(prices=LATE_ONLY)
    for j in range(len(machines[0])):
        shop.batch(f"J{j + 1}")
        for m, times in enumerate(machines):
            shop.op(f"M{m + 1}", 0, 60 * times[j])
    return shop.order("all", *(f"J{j + 1}" for j in range(len(machines[0]))), due=0).build()


def alike(minutes: Sequence[int], machines: int) -> Work:
    """Jobs on any of a number of machines that are alike; lateness is the makespan."""
    shop = ShopBuilder(prices=LATE_ONLY)
    for j, p in enumerate(minutes):
        shop.batch(f"J{j + 1}").op([f"M{m + 1}" for m in range(machines)], 0, 60 * p)
    return shop.order("all", *(f"J{j + 1}" for j in range(len(minutes))), due=0).build()


Ways = Sequence[Sequence[int]]
"""(machine, minutes) of each machine that can do an operation."""


def job_shop(
    jobs: Sequence[Sequence[Ways]], *, due: Sequence[int] | None = None, weight: Sequence[int] | None = None
) -> Work:
    """Jobs with routes of their own. With due dates an order each, else one that is ready with the last job."""
    shop = ShopBuilder(prices=LATE_ONLY)
    for j, job in enumerate(jobs):
        shop.batch(f"J{j + 1}")
        for ways in job:
            shop.op({f"M{machine + 1}": (0, 60 * minutes) for machine, minutes in ways})
        if due and weight:
            shop.order(f"O{j + 1}", f"J{j + 1}", due=due[j], weight=weight[j])
    return shop.build() if due else shop.order("all", *(f"J{j + 1}" for j in range(len(jobs))), due=0).build()


def instance_work(instance: dict[str, Any]) -> Work:
    return job_shop(instance["jobs"], due=instance["due"], weight=instance["weight"])


def planned(work: Work, optimum: int, trials: int) -> Plan:
    """The plan within the limit of trials, or as soon as one is as cheap as the optimum; it must be an allowed one."""
    costs: list[int] = []
    plan = search(
        work, trials=trials, progress=lambda p: costs.append(p.cost.first), stop=lambda: min(costs, default=optimum + 1) <= optimum
    )  # fmt: skip
    assert verify(work, plan) == []
    return plan


def found(work: Work, trials: int = 4000) -> int:
    """First-tier cost of the plan that the search finds, which must be an allowed one."""
    return planned(work, -1, trials).cost.first


def ends(work: Work, jobs: Sequence[int]) -> list[int]:
    """End of each job when the timetable is given them in this order (job numbers from 1; one operation a job)."""
    table = Timetable(work)
    table.time([j - 1 for j in jobs])
    return table.ends().tolist()


def every_order(work: Work) -> list[tuple[tuple[int, ...], list[int]]]:
    """Every order of the jobs (numbers from 1) with the ends that the timetable gives."""
    table, out = Timetable(work), []
    for jobs in permutations(range(1, len(work.batches) + 1)):
        table.time([j - 1 for j in jobs])
        out.append((jobs, table.ends().tolist()))
    return out


def by_due(due: Sequence[int]) -> list[int]:
    """Job numbers by due date, earliest first."""
    return sorted(range(1, len(due) + 1), key=lambda j: due[j - 1])


def max_lateness(ends_: Sequence[int], due: Sequence[int]) -> int:
    return max(e - d for e, d in zip(ends_, due, strict=True))


def number_late(ends_: Sequence[int], due: Sequence[int]) -> int:
    return sum(e > d for e, d in zip(ends_, due, strict=True))


def tardiness(ends_: Sequence[int], due: Sequence[int], weight: Sequence[int] | None = None) -> int:
    w = weight or [1] * len(due)
    return sum(k * max(0, e - d) for e, d, k in zip(ends_, due, w, strict=True))
