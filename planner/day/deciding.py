"""A decision as a person takes it: what it breaks as the plan stands, the entry, and the plan timed again with it."""

from __future__ import annotations

from dataclasses import dataclass

from planner.day.decisions import Decision, decide
from planner.day.differences import Differences, against_accepted
from planner.day.moving import breaches_of_move
from planner.day.replan import time_again
from planner.store import Entry, Store

NO_PLAN = "No plan is accepted now, so there is none to time again: plan from now and accept."
NOT_KEPT = "Timed again it is no complete plan: nothing was kept. Plan from now."


@dataclass(frozen=True)
class Decided:
    """What came of a decision.

    Parameters
    ----------
    breaks
        Rules that a move breaks while all else stays as it is.
    plan
        Number of the plan that waits, with the decision; None where there is none.
    changes
        What that plan changes against the accepted one; None without such a plan.
    note
        Why no plan waits; empty where one does, or none was asked for.
    """

    entry: Entry
    breaks: tuple[str, ...]
    plan: int | None = None
    changes: Differences | None = None
    note: str = ""


def decide_and_time(store: Store, who: str, decision: Decision, *, timing: bool = True) -> Decided:
    """Enter a decision and, unless told otherwise, time the accepted plan again with it.

    Raises
    ------
    Refused
        As :func:`planner.day.decisions.decide`.
    DataFaults, PlanFileFault, PlanRefused
        As :func:`planner.day.replan.time_again`; the decision is entered then.
    """
    until = decision.until if decision.what == "move" else None
    breaks = [] if until is None else breaches_of_move(store, decision.name, decision.machine, until)
    entry = decide(store, who, decision)
    if not timing:
        return Decided(entry, tuple(breaks))
    found = time_again(store, who, decision.at)
    if found is None or found.number is None:
        return Decided(entry, tuple(breaks), note=NO_PLAN if found is None else NOT_KEPT)
    return Decided(entry, tuple(breaks), found.number, against_accepted(store, found.job))
