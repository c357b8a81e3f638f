"""Two plans order by order: what a change does, and what is no more than the noise of the search.

Each side was planned twice, with two seeds. How far two plans of a side differ is the noise. An order is called late, saved,
later or earlier only where both plans of one side have it more, or less, late than both of the other, by more than
the two of either side differ; an order that is in time in all of them only where its ready time differs by more than any
order's does between two plans of a side. What is said of the lateness of all is larger than the noise of the first-tier cost.
Where a search was too short (``effort.py``) two plans that do not differ prove nothing, and no order is claimed to change.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import combinations

from planner.alter.base import Alteration, cautions_of
from planner.alter.effort import Effort
from planner.alter.extra_hours import extra_hours
from planner.alter.records import (
    ADDED,
    EARLIER,
    LATER,
    NEWLY_LATE,
    REMOVED,
    SAME,
    SAVED,
    UNPROVEN,
    Comparison,
    Noise,
    OrderChange,
    Side,
    Totals,
)
from planner.alter.verdict import verdict
from planner.answers.feeds import ready_times
from planner.answers.vans import vans
from planner.answers.wording import moment_text
from planner.work import Order, Work


def noise_of(one: Side, two: Side) -> Noise:
    """How far two plans for the same work differ."""
    a, b = ready_times(one.work, one.plan), ready_times(two.work, two.plan)
    dues = {o.number: o.due_min for o in one.work.orders}
    late = [abs(max(0, a[n] - due) - max(0, b[n] - due)) for n, due in dues.items() if n in a and n in b]
    ready = [abs(a[n] - b[n]) for n in a if n in b]
    return Noise(abs(one.plan.cost.first - two.plan.cost.first), max(late, default=0), max(ready, default=0))


def widest(found: Iterable[Noise]) -> Noise:
    """The larger of each; nothing for none."""
    rows = [*found, Noise(0, 0, 0)]
    return Noise(max(n.cost for n in rows), max(n.late_min for n in rows), max(n.ready_min for n in rows))


def compare(
    befores: Sequence[Side],
    afters: Sequence[Side],
    changes: Sequence[Alteration],
    planned: Side,
    effort: Effort,
    *,
    trials: int = 0,
    seconds: float = 0.0,
    stopped: bool = False,
) -> Comparison:
    """What the changes do.

    Parameters
    ----------
    befores, afters
        Plans without and with the changes, the best of each first: it is the one whose figures are told.
    planned
        The plan as it was before it was planned again.
    effort
        The least that went into any of the plans.
    """
    before, after = befores[0], afters[0]
    noise = widest(noise_of(a, b) for side in (befores, afters) for a, b in combinations(side, 2))
    orders = _orders(befores, afters, noise, effort.enough)
    once = sum(change.pence for change in changes)
    totals = _totals(planned, 0), _totals(before, 0), _totals(after, once)
    extra = extra_hours(before.work, after.work, after.plan)
    same = before.work.fingerprint == after.work.fingerprint
    return Comparison(
        changes=tuple(change.text for change in changes), same_data=same,
        verdict=tuple(verdict(same, orders, *totals, noise, extra, effort)), orders=orders, planned=totals[0], before=totals[1],
        after=totals[2], noise=noise, short="" if same else effort.text, extra=extra, cautions=cautions_of(changes),
        seconds=round(seconds, 1), trials=trials, stopped=stopped,
    )  # fmt: skip


# --- order by order -----------------------------------------------------------------------------


def _orders(befores: Sequence[Side], afters: Sequence[Side], noise: Noise, enough: bool) -> tuple[OrderChange, ...]:
    """Those that get worse first, then those that get better, each the largest difference first."""
    ready = [ready_times(side.work, side.plan) for side in (*befores, *afters)]
    before, after = ready[: len(befores)], ready[len(befores) :]
    old, new = ({o.number: o for o in side[0].work.orders} for side in (befores, afters))
    found = []
    for number in (*old, *(n for n in new if n not in old)):
        was = [side[number] for side in before if number in side]
        now = [side[number] for side in after if number in side]
        one = _order(befores[0].work, old.get(number), new.get(number), was, now, noise)
        found.append(one if enough else _unproven(one))
    rank = {w: n for n, w in enumerate((NEWLY_LATE, ADDED, LATER, SAVED, EARLIER, REMOVED, UNPROVEN, SAME))}
    return tuple(sorted(found, key=lambda o: (rank[o.what], -abs(o.later_min or 0), o.order)))


def _order(
    work: Work, old: Order | None, new: Order | None, was: Sequence[int], now: Sequence[int], noise: Noise
) -> OrderChange:
    """One order, from its ready times in the plans of each side, the best plan's first."""
    order = new or old
    assert order is not None
    late_was = [max(0, m - old.due_min) for m in was] if old is not None else []
    late_now = [max(0, m - new.due_min) for m in now] if new is not None else []
    return OrderChange(
        order.number, order.customer, order.part, order.priority, moment_text(work, order.due_min),
        moment_text(work, was[0]) if was else "", moment_text(work, now[0]) if now else "",
        was[0] if was else None, now[0] if now else None, late_was[0] if late_was else None,
        late_now[0] if late_now else None, now[0] - was[0] if was and now else None,
        _what(late_was, late_now, was, now, noise),
    )  # fmt: skip


def _unproven(one: OrderChange) -> OrderChange:
    """The same with nothing claimed but that it comes or goes."""
    same = one.what == SAME and not one.later_min
    return one if same or one.what in (ADDED, REMOVED) else replace(one, what=UNPROVEN)


def _what(
    late_was: Sequence[int], late_now: Sequence[int], was: Sequence[int], now: Sequence[int], noise: Noise
) -> str:
    if not was or not now:
        return ADDED if now else REMOVED if was else SAME
    if apart(late_was, late_now):
        if not max(late_was) or not max(late_now):
            return NEWLY_LATE if max(late_now) else SAVED
        return LATER if late_now[0] > late_was[0] else EARLIER
    if not max(*late_was, *late_now) and abs(now[0] - was[0]) > noise.ready_min:
        return LATER if now[0] > was[0] else EARLIER
    return SAME


def apart(one: Sequence[int], other: Sequence[int]) -> bool:
    """Is there more between two lots of figures than within either?"""
    between = max(min(other) - max(one), min(one) - max(other))
    return between > max(max(one) - min(one), max(other) - min(other))


# --- in all -------------------------------------------------------------------------------------


def _totals(side: Side, once_pence: int) -> Totals:
    finishes, plan = ready_times(side.work, side.plan), side.plan
    late = [finishes[o.number] - o.due_min for o in side.work.orders if finishes.get(o.number, 0) > o.due_min]
    return Totals(
        str(plan.state), len(late), sum(late), plan.cost.first, plan.cost.second, sum(s.setup_min for s in plan.steps),
        vans(side.work, plan).pence + once_pence, max((s.end for s in plan.steps), default=0),
    )  # fmt: skip
