"""What an operation waited for, in words."""

from __future__ import annotations

from planner.plan import Step
from planner.work import Work
from web.site import Site

MEANING = {
    "release": "its release or the plan start",
    "step before": "the step before it",
    "machine": "the machine",
    "person": "a person",
    "equipment": "equipment",
    "component": "a component",
    "receipt": "bought parts or material",
    "not before": "the day it is held back to by decision",
    "held back": "nothing: held back on purpose, it would only lie about",
    "van": "the next collection",
}


def waited_text(site: Site, step: Step) -> str:
    """For example 'the machine, behind B12 step 20, turn' or 'a person for set lathes'."""
    words = MEANING.get(step.waited_for, step.waited_for) + _of_what(site.work, step)
    on = _named(site.work, step)
    if not on:
        return words
    return f"{words}, behind {on}" if step.waited_for in ("machine", "equipment") else f"{words}: {on}"


def _of_what(work: Work, step: Step) -> str:
    """Which skill or equipment is meant."""
    op = work.operations[step.operation]
    if step.waited_for == "person" and op.skill is not None:
        return f" for {work.skills[op.skill]}"
    if step.waited_for == "equipment" and op.equipment:
        return " " + " or ".join(work.equipment[e].name for e, _ in op.equipment)
    return ""


def _named(work: Work, step: Step) -> str:
    if step.waited_on is None:
        return ""
    if step.waited_for == "component":
        batch = work.batches[step.waited_on]
        return f"{batch.name}, {batch.part}"
    op = work.operations[step.waited_on]
    return f"{work.batches[op.batch].name} step {op.number}, {op.description}"
