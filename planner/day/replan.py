"""A plan from now on: started work fixed, close to the accepted plan, decisions kept; it waits until it is accepted."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from planner.day.board import typed
from planner.day.clock import move_on, state_moment
from planner.day.setting import setup_left
from planner.decided import in_decided_order
from planner.gaps import start_of
from planner.intake import shop_of
from planner.main_job import Job, document_of, plan_shop, plan_source, verified, work_of
from planner.planfile import accepted_steps, proposals_again, start_from
from planner.search import Progress, search
from planner.shop import Shop
from planner.store import Entry, Note, Store, StoredPlan, Writing

PLAN = "plan"


@dataclass(frozen=True)
class Candidate:
    """A plan that waits for a decision; ``number`` is None where there was nothing to keep (no complete plan)."""

    number: int | None
    job: Job
    entry: Entry  # with which the tables were brought up to now


def plan_from_now(
    store: Store,
    who: str,
    at: datetime,
    *,
    seconds: float | None = None,
    trials: int | None = None,
    seed: int = 1,
    progress: Callable[[Progress], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Candidate:
    """Search for a plan from a moment on, beginning with the accepted one, a change of which has its price.

    Parameters
    ----------
    store, who, at
        Whose plan, and the local moment that becomes the plan start (not before what the tables tell already).
    seconds, trials, seed, progress, stop
        As in :func:`planner.main_job.plan_shop`.

    Raises
    ------
    DataFaults, PlanFileFault, PlanRefused
        As :func:`planner.main_job.plan_shop`; nothing is kept then.
    """
    entry, shop, accepted = _up_to_now(store, who, at)
    keep = plan_source(accepted) if accepted else None
    job = plan_shop(shop, seconds=seconds, trials=trials, seed=seed, keep=keep, progress=progress, stop=stop)
    return _kept(store, who, at, job, entry)


def time_again(store: Store, who: str, at: datetime) -> Candidate | None:
    """The accepted plan's list timed again as the shop is now, without a search; None without an accepted plan.

    What was decided to be right after another step stands there in the list. Raises as :func:`plan_from_now`.
    """
    entry, shop, accepted = _up_to_now(store, who, at)
    if accepted is None:
        return None
    source = plan_source(accepted)
    steps = accepted_steps(source)
    work = work_of(shop, steps, proposals_again(source))
    start = start_of(shop, work, in_decided_order(start_from(source, work), work))
    plan = start.at_least(search(work, trials=1, start=start.listed))
    return _kept(store, who, at, verified(Job(shop, work, plan, steps)), entry)


# --- the tables, up to now ------------------------------------------------------------------------


def _up_to_now(store: Store, who: str, at: datetime) -> tuple[Entry, Shop, StoredPlan | None]:
    entry = store.write(who, at, PLAN, "from now", lambda writing: _bring_up(writing, at))
    return entry, shop_of(store.sheets(entry.id).reading()), store.accepted()


def _bring_up(writing: Writing, at: datetime) -> Note:
    """Move the plan start on, and count down what is being set."""
    shop = writing.draft.shop()
    at = max(at, state_moment(writing.draft))  # up to which the minutes left were counted already
    for row in writing.draft.rows("progress"):
        if typed(row)["state"] == "running" and typed(row)["setup_left_min"]:
            writing.draft.put(row, {"setup_left_min": setup_left(writing, shop, row, at)}, lasting=True)
    move_on(writing.draft, at)
    return Note("The tables were brought up to now for a plan.")


def _kept(store: Store, who: str, at: datetime, job: Job, entry: Entry) -> Candidate:
    if not job.plan.complete:
        return Candidate(None, job, entry)
    numbers: list[int] = []

    def keep(writing: Writing) -> Note:
        numbers.append(writing.keep_plan(document_of(job), who, entry.id))
        return Note(f"Plan {numbers[0]} waits to be accepted.", {"plan": numbers[0]})

    store.write(who, at, PLAN, "made", keep)
    return Candidate(numbers[0], job, entry)
