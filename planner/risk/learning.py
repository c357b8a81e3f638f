"""What a shop's history teaches: which of its bookings count, which are left out and why, and in plain words.

A booking that was forgotten must not make every date later: what took more than :data:`MANY_TIMES` its plan, or less than that part of
it, is left out, as is what is planned so short that the moment of booking says more than the work (common practice, no source).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date

from planner.counted import counted, listed
from planner.risk.common import common_of
from planner.risk.spread import CREDIBLE, Lognormal
from planner.risk.spreads import RUN, SETUP, Booked
from planner.shop import BookedTime, History, Shop

MANY_TIMES = 5
SHORTEST_MIN = 5  # planned
LONGER_DAYS = 5  # an outside turn may take so many days more than MANY_TIMES its usual ones
KEPT = 2400  # setups and runs, the last ones: as many as a busy year has

FORGOTTEN = f"more than {MANY_TIMES} times its plan or less than a fifth of it, as when a booking is forgotten"
SHORT = f"planned shorter than {SHORTEST_MIN} min"


@dataclass(frozen=True)
class Lesson:
    """What counts. ``turns``: working days by firm and process (sorted); ``batches``: by part how many are finished, their pieces, and those
    scrapped; ``left_out``: how many bookings, by reason."""

    times: tuple[BookedTime, ...] = ()
    turns: dict[tuple[str, str], tuple[int, ...]] = field(default_factory=dict)
    batches: dict[str, tuple[int, int, int]] = field(default_factory=dict)
    left_out: tuple[tuple[str, int], ...] = ()
    since: date | None = None
    until: date | None = None

    @property
    def booked(self) -> list[Booked]:
        return [Booked(t.what, t.planned_min, t.actual_min, t.first_time, t.group) for t in self.times]

    @property
    def common(self) -> Lognormal | None:
        """Spread of the factor that all times share, from how far weeks of runs differ; None where they are too few to tell."""
        weeks: dict[tuple[int, int], list[float]] = {}
        for time in sorted(self.times, key=_order):
            if time.what == RUN:
                weeks.setdefault(time.day.isocalendar()[:2], []).append(time.actual_min / time.planned_min)
        return common_of(weeks.values())

    def good_share(self, part: str, before: float) -> float:
        """Good share of a part's pieces: as booked, mixed with what the tables say by n / (n + 20) for n finished batches."""
        n, pieces, scrap = self.batches.get(part, (0, 0, 0))
        return (n * (1 - scrap / pieces) + CREDIBLE * before) / (n + CREDIBLE) if n else before


def lesson_of(shop: Shop) -> Lesson:
    """What counts of a shop's history."""
    history, left_out = shop.history, Counter(dict(shop.history.unclear))
    times = []
    for time in sorted(history.times, key=_order)[-KEPT:]:
        reason = _why_not(time)
        if reason:
            left_out[reason] += 1
        else:
            times.append(time)
    turns: dict[tuple[str, str], list[int]] = {}
    usual = {(s.name, p.name): p.turn_days for s in shop.suppliers.values() for p in s.processes}
    for turn in history.turns:
        at = (turn.supplier, turn.process)
        if at not in usual or turn.days > MANY_TIMES * usual[at] + LONGER_DAYS:
            left_out[FORGOTTEN] += 1
        else:
            turns.setdefault(at, []).append(turn.days)
    days = [t.day for t in times] + [t.day for t in history.turns]
    return Lesson(
        tuple(times), {at: tuple(sorted(found)) for at, found in turns.items()}, _batches(history),
        tuple(sorted(left_out.items())), min(days, default=None), max(days, default=None),
    )  # fmt: skip


def _order(time: BookedTime) -> tuple[date, str, str, int, int, bool]:
    return time.day, time.what, time.group, time.planned_min, time.actual_min, time.first_time


def _why_not(time: BookedTime) -> str:
    """A reason to leave it out, or none."""
    if time.planned_min < SHORTEST_MIN:
        return SHORT
    forgotten = time.actual_min > MANY_TIMES * time.planned_min or MANY_TIMES * time.actual_min < time.planned_min
    return FORGOTTEN if forgotten else ""


def _batches(history: History) -> dict[str, tuple[int, int, int]]:
    found: dict[str, tuple[int, int, int]] = {}
    for batch in history.batches:
        n, pieces, scrap = found.get(batch.part, (0, 0, 0))
        found[batch.part] = (n + 1, pieces + batch.pieces, scrap + batch.scrap)
    return found


# --- in words --------------------------------------------------------------------------------------


def learned_lines(shop: Shop) -> tuple[str, ...]:
    """What was learned from how many bookings, and what was left out; nothing where nothing was booked."""
    lesson = lesson_of(shop)
    learned = [*_times_learned(lesson.times), *_others_learned(lesson)]
    lines = []
    if learned:
        span = f" ({lesson.since} to {lesson.until})" if lesson.since else ""
        lines.append(
            f"Learned from what was booked{span}: {listed(learned)}; mixed with what is assumed below, which weighs as much as {CREDIBLE} bookings. "
            "Breakdowns, absence, missed vans and late receipts are assumed still."
        )
    if lesson.left_out:
        reasons = "; ".join(f"{n} {reason}" for reason, n in lesson.left_out)
        lines.append(f"Left out of what was booked: {reasons}.")
    return tuple(lines)


def _times_learned(times: Sequence[BookedTime]) -> Iterable[str]:
    for what in (SETUP, RUN):
        ratios = [t.actual_min / t.planned_min for t in times if t.what == what]
        if ratios:
            yield f"{counted(len(ratios), what)} (on average {sum(ratios) / len(ratios):.2f} times as long as planned)"


def _others_learned(lesson: Lesson) -> Iterable[str]:
    if lesson.common is not None:
        yield "how far good and bad weeks differ"
    turns = sum(map(len, lesson.turns.values()))
    if turns:
        yield counted(turns, "outside turn")
    batches = sum(n for n, _, _ in lesson.batches.values())
    if batches:
        yield f"the scrap of {counted(batches, 'finished batch', 'finished batches')}"
