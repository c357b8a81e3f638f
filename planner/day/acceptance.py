"""Plans accepted, refused, and the last acceptance taken back. Lists, kits and vans follow the accepted plan only."""

from __future__ import annotations

from datetime import datetime

from planner.counted import counted
from planner.day.refusal import Refused
from planner.day.replan import PLAN
from planner.main_job import stored_job
from planner.store import Entry, Note, Store, StoredPlan, Writing
from planner.store.records import MINUTE

WAITING, ACCEPTED, REFUSED = "waiting", "accepted", "refused"


def accept(store: Store, who: str, at: datetime, number: int | None = None) -> Entry:
    """Accept a plan: the last one that waits, or a certain one.

    Raises
    ------
    Refused
        When no plan waits, or another one was accepted since it was made.
    PlanRefused
        When it breaks a rule.
    """
    stored_job(store, plan_named(store, number))

    def change(writing: Writing) -> Note:
        plan = plan_named(writing, number)
        newer = writing.accepted()
        if newer is not None and (newer.decided or 0) > plan.entry:
            other = writing.entry(newer.decided or 0)
            by = f" by {other.who} at {other.at:{MINUTE}}" if other else ""
            raise Refused(f"Plan {newer.id} was accepted{by} after plan {plan.id} was made: plan again from now.")
        since = [e for e in writing.entries() if e.id > plan.entry and e.kind != PLAN]
        are = "is" if len(since) == 1 else "are"
        more = f" {counted(len(since), 'entry', 'entries')} since it was made {are} not in it." if since else ""
        return Note(f"Plan {plan.id} accepted.{more}", {"plan": plan.id}, decides=(plan.id, ACCEPTED))

    return store.write(who, at, PLAN, ACCEPTED, change)


def refuse(store: Store, who: str, at: datetime, number: int | None = None, why: str = "") -> Entry:
    """Refuse a plan that waits; raises ``Refused`` when none does."""

    def change(writing: Writing) -> Note:
        plan = plan_named(writing, number)
        because = f": {why}" if why else ""
        return Note(f"Plan {plan.id} refused{because}.", {"plan": plan.id}, decides=(plan.id, REFUSED))

    return store.write(who, at, PLAN, REFUSED, change)


def undo_acceptance(store: Store, who: str, at: datetime) -> Entry:
    """The plan accepted last waits again, and the one before it is the accepted one; raises ``Refused`` without one."""

    def change(writing: Writing) -> Note:
        last = writing.accepted()
        if last is None:
            raise Refused("No plan is accepted.")
        undone = last.decided
        writing.decide(last.id, WAITING)
        before = writing.accepted()
        now = f"plan {before.id} is followed again" if before else "no plan is followed"
        return Note(f"Acceptance of plan {last.id} taken back: {now}.", {"plan": last.id}, undoes=undone)

    return store.write(who, at, PLAN, "acceptance undone", change)


def plan_named(kept: Store | Writing, number: int | None) -> StoredPlan:
    """A plan that waits for a decision: the last one, or a certain one; raises ``Refused`` when it does not."""
    plan = kept.waiting() if number is None else kept.plan(number)
    if plan is None and number is None:
        raise Refused("No plan waits for a decision. Make one: plan from now ('batchwright replan').")
    if plan is None:
        raise Refused(f"There is no plan {number}; see 'batchwright plans'.")
    if plan.state != WAITING:
        raise Refused(f"Plan {plan.id} does not wait for a decision: it is {plan.state} already.")
    return plan
