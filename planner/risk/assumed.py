"""What the draws take for granted, in words for those who read the answer."""

from __future__ import annotations

from collections.abc import Sequence

from planner.counted import counted
from planner.risk.spread import AsBooked, Lognormal, Spread
from planner.risk.spreads import RUN, SETUP, Class, Spreads

FIXED = (
    "A machine that waits for what is late does meanwhile what comes later on its list, once that was planned to start, all it needs is "
    "there and it delays nothing that stands before it.",
    "Nobody plans again: running order, machines and what the plan holds back stay in every draw, so what is delayed delays what "
    "stands behind it. A shop that plans again loses less.",
    "Who sets, checks and works, and which van outside work goes with, is chosen in each draw as the plan chooses it.",
    "Pieces that come short of what orders and assemblies need are made again with their batch: the steps still to be done run "
    "so much longer. That more or fewer pieces go outside changes nothing there.",
    "A machine that breaks down stands still until it is mended, and the run then goes on; nothing else takes its work.",
)


def assumptions(spreads: Spreads, learned: Sequence[str] = ()) -> tuple[str, ...]:
    """Sentences: first what was ``learned`` (``planner.risk.learning``) and the numbers, then what is always so."""
    numbers = [
        f"Setups: {_times(spreads, SETUP)}. Runs: {_times(spreads, RUN)}. "
        f"Besides, all times of a draw share a factor: {_text(spreads.common)}.",
        _away(spreads),
        _receipts(spreads),
        f"Scrap by the yields of {counted(len(spreads.yields), 'batch', 'batches')}.",
        _outside(spreads),
        _breakdowns(spreads),
    ]
    return (*learned, *numbers, *FIXED)


def _times(spreads: Spreads, kind: str) -> str:
    repeat, first = ((kind, first, "") for first in (False, True))
    own = sum(1 for k, _, group in spreads.times if k == kind and group)
    groups = f", {counted(own, 'spread')} of single machine groups" if own else ""
    return f"{_of(spreads, repeat)}, of parts made for the first time {_of(spreads, first)}{groups}"


def _of(spreads: Spreads, at: Class) -> str:
    return _text(spreads.times.get(at, Lognormal()))


def _text(spread: Spread) -> str:
    if isinstance(spread, Lognormal):
        return "as planned" if spread.percent <= 0 else f"spread by {spread.percent:g} % about the planned time"
    if isinstance(spread, AsBooked):
        return f"drawn from {counted(len(spread.booked), 'booking')} in {100 * spread.share:.0f} % of the draws, else {_text(spread.otherwise)}"
    return "as given"


def _away(spreads: Spreads) -> str:
    if spreads.absence_days <= 0:
        return "Nobody is away but on the leave in the tables."
    return f"Each person is away without notice on {spreads.absence_days:g} days a year, {spreads.absence_spell:g} at a time on average."


def _receipts(spreads: Spreads) -> str:
    if spreads.receipts.percent <= 0:
        return "Bought pieces come when they are confirmed."
    return f"A receipt of bought pieces is late with a chance of {spreads.receipts.percent:g} %, by {spreads.receipts.days:g} days on average."


def _outside(spreads: Spreads) -> str:
    missed = [chance for chance in spreads.missed.values() if chance > 0]
    vans = f"a van is missed in up to {100 * max(missed):g} % of cases" if missed else "no van is missed"
    return (
        f"Outside firms take between their shortest and their longest turn, mostly the usual one (beta-PERT); {vans}."
    )


def _breakdowns(spreads: Spreads) -> str:
    if not spreads.breakdowns:
        return "No machine breaks down."
    hours = [b.between_hours for b in spreads.breakdowns.values()]
    span = f"{min(hours):g}" if min(hours) == max(hours) else f"{min(hours):g} to {max(hours):g}"
    return f"{counted(len(hours), 'machine')} may break down, every {span} open hours on average."
