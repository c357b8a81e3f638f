"""What a tenth more of a resource would save: found by planning again with it, never guessed.

Every plan of a comparison gets the same effort and begins with the same list. The present shop is planned twice, with two
seeds; what lies between those two is the noise of the search. Where more of something comes out worse, which no best plan does, that is noise
as well. No saving within the noise is claimed, and none at all where a search was too short to tell (``planner/alter/effort.py``).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from planner.alter.compare import Side
from planner.alter.effort import effort_of
from planner.alter.searches import Searches, Tell
from planner.answers.feeds import order_finish
from planner.capacity.adding import Resource
from planner.capacity.more import with_more
from planner.plan import Plan
from planner.work import Work


@dataclass(frozen=True)
class Sooner:
    """An order that is ready so many minutes earlier (negative: later)."""

    order: str
    minutes: int


@dataclass(frozen=True)
class Saving:
    """``late`` is the weighted lateness with more of the resource; ``saved`` is what that is less than without."""

    kind: str
    name: str
    more: str  # what was changed
    late: int  # weighted minutes
    saved: int  # may be negative: then the search did worse
    sure: bool  # is it more than the noise, and were the searches long enough to tell?
    orders: tuple[Sooner, ...]  # late with or without it, those that gain most first


@dataclass(frozen=True)
class Savings:
    """``base`` and ``base_again`` are the weighted lateness of the present shop, planned again with two seeds."""

    base: int
    base_again: int
    noise: int
    seconds_each: float | None
    trials_each: int | None
    found: tuple[Saving, ...]  # those that save most first
    next_found: tuple[Saving, ...]  # the same with more of the first of them already there
    left_out: tuple[str, ...] = ()  # where the search was stopped before
    short: str = ""  # why nothing is claimed, and what to ask for instead; empty where the searches were long enough


@dataclass(frozen=True)
class Eased:
    """More of one resource, with the changed work and its plan."""

    saving: Saving
    side: Side


def savings(
    work: Work, plan: Plan, candidates: Sequence[Resource], *, seconds: float | None = None, trials: int | None = None,
    tell: Tell | None = None, stop: Callable[[], bool] | None = None,
) -> tuple[Savings, Eased | None]:  # fmt: skip
    """What a tenth more of each candidate saves, and then of each other once there is more of the best.

    Parameters
    ----------
    candidates
        Machine groups, skills, equipment or outside firms, as ``(kind, name)``.
    seconds, trials
        Limits for all plans together; with trials the answer is repeatable. With neither, 60 seconds.
    tell, stop
        Told how far it has got; asked whether to stop, which leaves out what has not been planned.

    Returns
    -------
    Savings, Eased or None
        The second is the shop with more of what saves most; None where nothing saves more than the noise, or the
        searches were too short to tell.
    """
    if seconds is None and trials is None:
        seconds = 60.0
    plans = 2 + len(candidates) + max(0, len(candidates) - 1)
    each = None if trials is None else max(1, trials // plans)
    searches, now, seed = Searches(plans, seconds, each, tell, stop), Side(work, plan), plan.seed
    base = searches.run(now, work, seed, "planning the shop as it is")
    other = searches.run(now, work, seed + 1, "planning the shop as it is once more")
    found = _round(searches, now, base, candidates, seed)
    best = found[0] if found and found[0].saving.saved > 0 else None
    rest = [key for key in candidates if best is not None and key != (best.saving.kind, best.saving.name)]
    then = _round(searches, now, best.side, rest, seed) if best is not None else []
    worse = (-e.saving.saved for e in (*found, *then))
    noise = max([abs(base.plan.cost.late - other.plan.cost.late), *worse])
    planned = [len(found), len(then)]
    skipped = [name for _, name in (*candidates[planned[0] :], *rest[planned[1] :])]
    sides = [base, other, *(e.side for e in (*found, *then))]
    effort = effort_of(sides, 1 / plans, trials)
    least = noise if effort.enough else math.inf
    result = Savings(
        base.plan.cost.late, other.plan.cost.late, noise, searches.seconds, each, _judged(found, least),
        _judged(then, least), tuple(dict.fromkeys(skipped)), effort.text,
    )  # fmt: skip
    return result, best if best is not None and best.saving.saved > least else None


def _judged(found: Sequence[Eased], least: float) -> tuple[Saving, ...]:
    """Those that save more than that are sure."""
    return tuple(replace(e.saving, sure=e.saving.saved > least) for e in found)


def _round(searches: Searches, begin: Side, base: Side, candidates: Sequence[Resource], seed: int) -> list[Eased]:
    """Each candidate on top of ``base``, all beginning with the same list; those that save most first."""
    found = []
    for kind, name in candidates:
        more, what = with_more(base.work, kind, name)
        side = searches.run(begin, more, seed, f"planning with more of {name}")
        if searches.stop is not None and searches.stop():
            break  # searched less hard than the others
        late = side.plan.cost.late
        saving = Saving(kind, name, what, late, base.plan.cost.late - late, False, _sooner(base, side))
        found.append(Eased(saving, side))
    return sorted(found, key=lambda e: (-e.saving.saved, e.saving.name))


def _sooner(base: Side, side: Side) -> tuple[Sooner, ...]:
    """Minutes gained by each order that is late with or without more."""
    before, after, found = base.plan.step_of(), side.plan.step_of(), []
    for order, same in zip(base.work.orders, side.work.orders, strict=True):
        was, now = order_finish(base.work, before, order), order_finish(side.work, after, same)
        if was is not None and now is not None and max(was, now) > order.due_min and was != now:
            found.append(Sooner(order.number, was - now))
    return tuple(sorted(found, key=lambda s: (-s.minutes, s.order)))
