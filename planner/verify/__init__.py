"""Checks a plan against every timing rule and cost term, knowing nothing of how it was made.

Each module below reads one family of the rules in ``DEVELOPERS.md`` anew, from ``Work`` and
``Plan`` alone and with plain loops. A rule is allowed or broken; whether an
earlier start was possible is not asked.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from planner.plan import Plan
from planner.verify import (
    complete,
    cost,
    equipment,
    fields,
    first_off,
    flow,
    machines,
    manual,
    outside,
    people,
    runs,
    setups,
    sublots,
    waits,
)
from planner.verify.breach import Breach
from planner.verify.context import Context
from planner.work import Work

__all__ = ["RULES", "Breach", "verify"]

RULES: tuple[Callable[[Context], Iterable[Breach]], ...] = (
    complete.check,
    fields.check,
    machines.check,
    setups.check,
    first_off.check,
    people.check,
    runs.check,
    manual.check,
    equipment.check,
    flow.check,
    sublots.check,
    outside.check,
    waits.check,
    cost.check,
)


def verify(work: Work, plan: Plan) -> list[Breach]:
    """All breaches of a plan, rule by rule; empty for an allowed plan whose cost terms are right.

    Never raises for a wrong plan: steps that cannot be read are breaches themselves, and the other rules
    are checked on the rest. A plan without steps that says it is impossible or that nothing was found
    is checked for its fingerprint only.
    """
    ctx = Context(work, plan)
    return [breach for rule in RULES for breach in rule(ctx)]
