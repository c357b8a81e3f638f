"""A way to have an order sooner: what it takes, what it gives, and whom it hurts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from planner.alter.base import Alteration, cautions_of, phrases
from planner.alter.extra_hours import PERSON, extra_hours
from planner.alter.named import row_of
from planner.alter.orders import NewOrder
from planner.alter.records import Side
from planner.answers.feeds import limit_min, ready_times
from planner.answers.rows import as_row
from planner.answers.vans import vans
from planner.answers.wording import DAY_MIN, capital, elapsed_text, moment_text, pounds
from planner.shop import Settings

PLAIN = "Plan again with this order first."


@dataclass(frozen=True)
class Hurt:
    """Another order that is later than it may be: past its due time or promise, or further past it than it was."""

    order: str
    by_min: int
    newly_late: bool
    ready: str
    text: str


@dataclass(frozen=True)
class Lever:
    """One way, really planned.

    ``gained_min`` is against the plan, ``more_min`` against planning again with this order first and nothing changed.
    ``hours_min``: people's extra hours; ``pence``: outside charges more than when only planned again;
    ``cost_pence`` weighs hours, charges and harm to others together (see ``weighing``).
    ``moved``: other orders that are ready at another time, all as good as promised.
    ``nothing``: why it gains nothing, where it does not.
    """

    alterations: tuple[Alteration, ...]
    texts: tuple[str, ...]
    ready_min: int
    ready: str
    gained_min: int
    more_min: int
    reaches: bool
    hours_min: int
    pence: int
    cost_pence: int
    hurt: tuple[Hurt, ...]
    moved: int
    nothing: str
    cautions: tuple[str, ...]
    seed: int
    trials: int

    @property
    def said(self) -> str:
        """The changes as options of ``whatif``."""
        return phrases(self.alterations)

    @property
    def row(self) -> dict[str, Any]:
        """As plain data."""
        plain = as_row(replace(self, alterations=()))
        return {**plain, "alterations": [row_of(a) for a in self.alterations], "said": self.said}


def weighing(settings: Settings) -> str:
    """How hours, charges and harm are added up, in words."""
    return (
        f"Weighed: an extra hour of a person {pounds(settings.extra_hour_pence)} pounds, a day late of another order "
        f"{pounds(settings.late_day_pence)} pounds times the weight of its class, charges as they are "
        "(settings extra_hour_pence, late_day_pence). Sorted by that for each day gained, those that reach the date first."
    )


def noise_text(noise_min: int, short: str) -> str:
    """What is not claimed of the ways, in words."""
    if short:
        return (
            f"{capital(short)}. The dates are of real plans; what a way gains or not beside planning again is unproven."
        )
    told = f"differs by {elapsed_text(noise_min)}" if noise_min else "is the same"
    return f"Noise of the search: planned again twice with the order first, its ready time {told}. No gain within that is claimed."


def gaining_nothing(levers: Sequence[Lever]) -> dict[str, list[Lever]]:
    """Those that gain nothing, by the reason."""
    found: dict[str, list[Lever]] = {}
    for lever in levers:
        if lever.nothing:
            found.setdefault(lever.nothing, []).append(lever)
    return found


def lever_of(
    changes: Sequence[Alteration], wanted: str, by_min: int, now: Side, plain: Side, with_it: Side, settings: Settings
) -> Lever:
    """What some changes do for an order.

    Parameters
    ----------
    now, plain, with_it
        The plan as it is, planned again with the order first, and planned with the changes; orders with their own dues.
    """
    before, after = ready_times(now.work, now.plan), ready_times(with_it.work, with_it.plan)
    ready_min = after[wanted]
    hurt = _hurt(wanted, now, before, after, [c.number for c in changes if isinstance(c, NewOrder)])
    added = tuple(
        f"{c.number} is ready {moment_text(with_it.work, after[c.number])}."
        for c in changes
        if isinstance(c, NewOrder) and c.number in after
    )
    hours_min = sum(e.extra_min for e in extra_hours(now.work, with_it.work, with_it.plan) if e.kind == PERSON)
    pence = vans(with_it.work, with_it.plan).pence - vans(plain.work, plain.plan).pence + sum(c.pence for c in changes)
    weights = {o.number: o.weight for o in now.work.orders}
    harm = sum(weights.get(h.order, weights[wanted]) * h.by_min for h in hurt) * settings.late_day_pence // DAY_MIN
    return Lever(
        alterations=tuple(changes), texts=tuple(c.text for c in changes) + added or (PLAIN,), ready_min=ready_min,
        ready=moment_text(with_it.work, ready_min), gained_min=before.get(wanted, ready_min) - ready_min,
        more_min=ready_times(plain.work, plain.plan)[wanted] - ready_min, reaches=ready_min <= by_min, hours_min=hours_min, pence=pence,
        cost_pence=hours_min * settings.extra_hour_pence // 60 + max(0, pence) + harm, hurt=hurt,
        moved=sum(after.get(n) not in (None, m) for n, m in before.items() if n != wanted)
        - sum(h.order in before for h in hurt), nothing="",
        cautions=cautions_of(changes), seed=with_it.plan.seed,
        trials=with_it.plan.trials,
    )  # fmt: skip


def hurt_by_changes(now: Side, changed: Side, wanted: str) -> tuple[Hurt, ...]:
    """Other orders that a plan with some changes hurts, beside the plan as it is."""
    before, after = ready_times(now.work, now.plan), ready_times(changed.work, changed.plan)
    return _hurt(wanted, now, before, after, ())


def _hurt(
    wanted: str, now: Side, before: dict[str, int], after: dict[str, int], rests: Sequence[str]
) -> tuple[Hurt, ...]:
    """Other orders past what they were promised, whatever the changes may say about their dues.

    ``rests`` are orders for what is left of the wanted one: they are held to what that was promised for.
    """
    found = []
    orders = {o.number: o for o in now.work.orders}
    rows = [(n, o) for n, o in orders.items() if n != wanted] + [(n, orders[wanted]) for n in rests]
    for number, order in rows:
        if order.number not in before or number not in after:
            continue
        by_min = after[number] - limit_min(order, before)
        if by_min > 0:
            newly = before[order.number] <= order.due_min < after[number]
            ready = moment_text(now.work, after[number])
            text = f"{number}: {'newly late, ' if newly else ''}{elapsed_text(by_min)} later, ready {ready}"
            found.append(Hurt(number, by_min, newly, ready, text))
    return tuple(sorted(found, key=lambda h: (-h.by_min, h.order)))
