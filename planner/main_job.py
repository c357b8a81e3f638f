"""The whole way on one screen: tables -> Shop -> Work -> Plan -> verified. Read this file first.

    shop = read_place(place)      planner/intake    CSV tables, or those in a store (planner/store), to records, or a list
                                                     of every fault
    work = explode(shop)           planner/explode   orders, structure, stock, progress to operations in minutes
    plan = search(work)            planner/search    an order for the operations; planner/timetable gives them times
    work, plan = propose(...)      planner/proposals batches split or combined where that makes the plan better
    plan = start_later(work, plan) planner/search    starts held back where nothing is lost by it
    verify(work, plan)             planner/verify    every rule and cost term again, by other code
    write_plan(file, work, plan)   planner/planfile  one JSON document; planner/answers reads answers off it

A plan that breaks a rule leaves this file only as ``PlanRefused``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

from planner.decided import in_decided_order
from planner.explode import explode
from planner.explode.left_alone import ensure_known
from planner.faults import DataFaults
from planner.gaps import start_of
from planner.intake import read_shop, shop_of
from planner.plan import AcceptedStep, Plan
from planner.planfile import (
    PlanSource,
    PlanText,
    accepted_steps,
    plan_text,
    planned_against,
    proposals_again,
    proposals_in,
    read_once,
    read_plan,
    start_from,
    write_plan,
)
from planner.proposals import may_propose, propose
from planner.search import Progress, search, start_later
from planner.search.engine import SECONDS
from planner.shop import Shop
from planner.store import ShopPlace, Store, StoredPlan, StoreFault, is_store
from planner.verify import Breach, verify
from planner.work import Proposal, Work

Limit = TypeVar("Limit", float | None, int | None)
LATER_SEC, LATER_LEAST_SEC = 0.001, 0.2  # for holding starts back: an operation, and for all together besides
LATER_SHARE = 0.1  # of the seconds, for that at most
ACCEPTED = Path("accepted")  # in place of a plan file: the accepted plan of a store
AFTER_STOP_SEC = 1.0  # for the same, after a search that was stopped
PROPOSAL_SHARE = 0.25  # of the seconds or trials, where batches may be split or combined


class PlanRefused(Exception):
    """A plan breaks rules; ``breaches`` lists each with the value expected and the value found."""

    def __init__(self, breaches: Sequence[Breach]) -> None:
        self.breaches = tuple(breaches)
        super().__init__("\n".join(str(breach) for breach in self.breaches))


@dataclass(frozen=True)
class Job:
    """A shop with a verified plan. ``accepted`` is what the plan was made to stay close to."""

    shop: Shop
    work: Work
    plan: Plan
    accepted: tuple[AcceptedStep, ...] = ()


def read_place(place: ShopPlace) -> Shop:
    """The shop in a folder or a store; raises ``DataFaults``, ``StoreFault``."""
    if isinstance(place, Path) and not is_store(place):
        return read_shop(place)
    with Store(place) as store:
        return shop_of(store.sheets().reading())


def read_work(
    place: ShopPlace, accepted: Sequence[AcceptedStep] = (), proposals: Sequence[Proposal] = ()
) -> tuple[Shop, Work]:
    """The shop in a folder or a store, and all there is to plan in it; raises as :func:`read_place`."""
    shop = read_place(place)
    return shop, work_of(shop, accepted, proposals)


def work_of(shop: Shop, accepted: Sequence[AcceptedStep] = (), proposals: Sequence[Proposal] = ()) -> Work:
    """All there is to plan; raises ``DataFaults``.

    Proposals were made for the tables of their day: where they would be a fault now, the shop goes without them.
    """
    try:
        return explode(shop, accepted, proposals)
    except DataFaults:
        return explode(shop, accepted)


def make_plan(place: ShopPlace, **how: Any) -> Job:
    """Plan the shop in a folder or a store; see :func:`plan_shop`. Raises ``StoreFault`` besides."""
    return plan_shop(read_place(place), **how)


def plan_shop(
    shop: Shop,
    *,
    seconds: float | None = None,
    trials: int | None = None,
    seed: int = 1,
    keep: PlanSource | None = None,
    proposals: bool = True,
    left_alone: Sequence[str] = (),
    progress: Callable[[Progress], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Job:
    """Plan a shop, by time or by number of trials (20 seconds with neither).

    Parameters
    ----------
    keep
        An accepted plan to stay close to and to begin with, with its proposals as far as they still fit.
    proposals
        May batches be split and combined, where the shop allows it?
    left_alone
        Batches that are neither, in this plan, besides those of the shop's table.

    Raises
    ------
    DataFaults, PlanFileFault, UnknownBatch, PlanRefused
        The tables cannot be used; the kept plan cannot be read; what is to be left alone is no batch; the plan that was made
        breaks a rule.
    """
    if seconds is None and trials is None:
        seconds = SECONDS
    keep = read_once(keep) if keep else None
    accepted = accepted_steps(keep) if keep else ()
    shop = replace(shop, left_alone=(*shop.left_alone, *left_alone))
    work = work_of(shop, accepted, proposals_again(keep) if keep and proposals else ())
    ensure_known(left_alone, shop, work)
    share = PROPOSAL_SHARE if proposals and may_propose(shop) else 0.0
    later_s = None if seconds is None else _later_seconds(work, seconds)
    seconds = None if seconds is None or later_s is None else seconds - later_s
    (first_s, rest_s), (first_n, rest_n) = _shared(seconds, share), _shared(trials, share)
    start = start_of(shop, work, in_decided_order(start_from(keep, work), work)) if keep else None
    first = start.listed if start else None
    found = search(work, seconds=first_s, trials=first_n, seed=seed, progress=progress, stop=stop, start=first)
    proposed, plan = work, found
    if share:
        proposed, plan = propose(
            shop, work, found, accepted, seconds=rest_s, trials=rest_n, progress=progress, stop=stop
        )  # fmt: skip
    stopped = stop is not None and stop()
    plan = start_later(proposed, plan, seconds=AFTER_STOP_SEC if stopped else later_s, stop=None if stopped else stop)
    if start is not None and proposed is not work and start.is_better_than(plan):
        proposed, plan = work, replace(found, trials=plan.trials, seconds=plan.seconds)
    return verified(Job(shop, proposed, start.at_least(plan) if start else plan, accepted))


def _later_seconds(work: Work, seconds: float) -> float:
    """What of the seconds is kept for holding starts back."""
    return 0.0 if work.start_early else min(LATER_SHARE * seconds, LATER_LEAST_SEC + LATER_SEC * len(work.operations))


def _shared(limit: Limit, share: float) -> tuple[Limit, Limit]:
    """A limit in two parts, the second being that share of it; None stays none."""
    if limit is None:
        return None, None
    second = type(limit)(limit * share)
    return limit - second, second


def load_plan(place: ShopPlace, file: Path = ACCEPTED) -> Job:
    """A shop with a plan that was made for it: in a file, or a store's accepted one. Raises as :func:`make_plan`."""
    if file != ACCEPTED or not is_store(place):
        return job_of(read_place(place), file)
    with Store(place) as store:
        plan = store.accepted()
        if plan is None:
            raise StoreFault(
                f"{place}: no plan is accepted now. Make one with 'batchwright replan DB', then 'batchwright accept DB'."
            )
        return stored_job(store, plan)


def stored_job(store: Store, plan: StoredPlan) -> Job:
    """A plan that is in a store, with the shop as it was when the plan was made."""
    shop = shop_of(store.sheets(plan.entry).reading())
    return job_of(shop, plan_source(plan))


def plan_source(plan: StoredPlan) -> PlanText:
    """The document of a plan that is in a store."""
    return PlanText(f"plan {plan.id} in the store", plan.document)


def job_of(shop: Shop, source: PlanSource) -> Job:
    """A shop with a plan that was made for it; raises as :func:`make_plan`."""
    source = read_once(source)
    accepted = planned_against(source)
    work = work_of(shop, accepted, proposals_in(source))
    return verified(Job(shop, work, read_plan(source, work), accepted))


def verified(job: Job) -> Job:
    """The job as it is; raises ``PlanRefused`` when its plan breaks any rule."""
    breaches = verify(job.work, job.plan)
    if breaches:
        raise PlanRefused(breaches)
    return job


def document_of(job: Job) -> str:
    """The job's plan as the document that :func:`save` writes."""
    return plan_text(job.work, job.plan, job.accepted)


def save(job: Job, file: Path) -> None:
    """Write the job's plan; raises ``PlanFileFault`` when the file cannot be written."""
    write_plan(file, job.work, job.plan, job.accepted)
