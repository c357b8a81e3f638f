"""Published job shops as work to plan: makespan (plain and flexible) and total weighted tardiness.

Every job is a batch of one piece, a time unit is a minute, machines are open round the clock, nothing is set or moved.
Makespan is one order, due at minute 0, that needs every job: its late minutes are the latest end.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from functools import partial
from typing import Any

from engine_suites.case import Case
from planner.work import Alternative, Batch, Group, Hours, Kind, Machine, Operation, Order, Prices, Source, Work

Jobs = list[list[list[list[int]]]]  # by job and operation: [machine, minutes] of each alternative

FAR_MIN = 10_000_000  # beyond any plan of these instances
SECONDS = 60.0
FULL_JSP = ("ft", "la", "abz", "orb")
FULL_MK = tuple(f"mk{k:02}" for k in range(1, 11))
QUICK = {
    "jsp": ("ft06", "ft10", "la24", "la29", "abz7", "orb03", "ta01", "ta21", "ta41", "ta61"),
    "fjsp": ("mk02", "mk05", "mk06", "mk10", "edata-la21", "edata-la38", "rdata-la21", "rdata-la27", "vdata-la22"),
    "twt": ("abz5-1.3", "la16-1.3", "la19-1.3", "la23-1.3", "mt10-1.5", "orb2-1.3", "orb5-1.6", "orb6-1.3", "orb8-1.3"),
}


def _work(name: str, machines: int, jobs: Jobs, due_min: list[int], orders: tuple[Order, ...]) -> Work:
    operations: list[Operation] = []
    batches: list[Batch] = []
    for j, job in enumerate(jobs):
        first = len(operations)
        for k, alternatives in enumerate(job):
            ways = tuple(Alternative(m, 0, 60 * minutes) for m, minutes in alternatives)
            operations.append(Operation(first + k, j, 10 * (k + 1), "", Kind.MACHINE, 1, 1, alternatives=ways))
        own = tuple(range(first, len(operations)))
        batches.append(Batch(j, f"B{j}", f"P{j}", "", "", 1, 0, 1, 0, own, due_min[j]))
    return Work(
        shop=name, zone="UTC", plan_start=datetime(2027, 1, 4, tzinfo=UTC),
        machines=tuple(Machine(f"M{m}", 0, Hours(((0, FAR_MIN),))) for m in range(machines)),
        groups=(Group("all", tuple(range(machines))),), skills=(), people=(), equipment=(), changeovers={},
        batches=tuple(batches), operations=tuple(operations), needs=(), orders=orders,
        prices=Prices(wip_weight=0, setup_weight=0, charge_weight=0),
    )  # fmt: skip


def makespan_work(name: str, machines: int, jobs: Jobs) -> Work:
    """One order of all jobs, due at 0: its late minutes are the makespan."""
    sources = tuple(Source(1, batch=j) for j in range(len(jobs)))
    order = Order(0, "all", "", "", len(jobs), 0, 1, "", sources)
    return _work(name, machines, jobs, [0] * len(jobs), (order,))


def tardiness_work(name: str, machines: int, jobs: Jobs, due_min: list[int], weights: list[int]) -> Work:
    """An order for every job: the cost is the total weighted tardiness."""
    orders = tuple(
        Order(j, f"O{j}", "", f"P{j}", 1, due_min[j], weights[j], "", (Source(1, batch=j),)) for j in range(len(jobs))
    )
    return _work(name, machines, jobs, due_min, orders)


def as_alternatives(ops: list[list[list[int]]]) -> Jobs:
    """Operations of one machine each, in the shape of the flexible job shop."""
    return [[[step] for step in job] for job in ops]


def jsp_case(instance: dict[str, Any]) -> Case:
    name, jobs = instance["name"], as_alternatives(instance["ops"])
    return _makespan_case("jsp", name, _jsp_family(name, instance["family"]), jobs, instance)


def fjsp_case(instance: dict[str, Any]) -> Case:
    name = instance["name"]
    family = "mk" if name.startswith("mk") else instance["family"].removeprefix("hurink-")
    return _makespan_case("fjsp", name, family, instance["jobs"], instance)


def _makespan_case(suite: str, name: str, family: str, jobs: Jobs, instance: dict[str, Any]) -> Case:
    return Case(
        suite, name, name, family, sum(map(len, jobs)), partial(makespan_work, name, instance["machines"], jobs),
        SECONDS, best=instance["ub"], stop_at=instance["ub"],
    )  # fmt: skip


def _jsp_family(name: str, family: str) -> str:
    """Taillard's instances in three groups by their size."""
    if family != "ta":
        return family
    number = int(name[2:])
    return "ta01-30" if number <= 30 else "ta31-50" if number <= 50 else "ta51-80"


def twt_cases(instance: dict[str, Any]) -> Iterator[Case]:
    """One for each due-date factor."""
    base, jobs = instance["name"], as_alternatives(instance["ops"])
    for case in instance["cases"]:
        name = f"{base}-{case['f']}"
        make = partial(tardiness_work, name, instance["machines"], jobs, case["due"], instance["weights"])
        best = case["best_known"]
        yield Case("twt", name, base, f"f {case['f']}", sum(map(len, jobs)), make, SECONDS, best=best, stop_at=best)


def full_jsp(cases: list[Case]) -> list[Case]:
    """The classical families and every fourth of Taillard's."""
    taillard = [c for c in cases if c.family.startswith("ta")]
    return [c for c in cases if c.family in FULL_JSP] + taillard[::4]


def full_fjsp(cases: list[Case]) -> list[Case]:
    """Ten of Brandimarte's and every fourth of Hurink's, each set by itself."""
    chosen = [c for c in cases if c.name in FULL_MK]
    for family in ("edata", "rdata", "vdata"):
        chosen += [c for c in cases if c.family == family][::4]
    return chosen
