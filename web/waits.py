"""What an operation waited for, in words."""

from __future__ import annotations

from planner.plan import Step
from planner.work import Work
from web.site import Site

MEANING = {
    "release": "its release or the plan start",
    "step before": "the step before it",
    "machine": "the machine",
    "person": "a person with the skill",
    "equipment": "equipment",
    "component": "a component",
    "van": "the next collection",
}


def waited_text(site: Site, step: Step) -> str:
    """For example 'the machine, after B12 step 20'."""
    words = MEANING.get(step.waited_for, step.waited_for)
    on = _named(site.work, step)
    return f"{words}: {on}" if on else words


def _named(work: Work, step: Step) -> str:
    if step.waited_on is None:
        return ""
    if step.waited_for == "component":
        batch = work.batches[step.waited_on]
        return f"{batch.name}, {batch.part}"
    op = work.operations[step.waited_on]
    return f"{work.batches[op.batch].name} step {op.number}, {op.description}"
