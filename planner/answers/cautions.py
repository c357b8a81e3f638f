"""The usual cautions where a plan uses unattended running, long hours or split batches. People decide, not the plan."""

from __future__ import annotations

from planner.answers.caution_words import NOBODY_THERE
from planner.answers.load import PERSON, Load, load
from planner.answers.minding import minding
from planner.answers.proposals import SPLIT_CAUTION
from planner.answers.wording import span_text
from planner.plan import Plan
from planner.work import Change, Work

LONG_WEEK_MIN = 48 * 60  # common practice in the United Kingdom: 48 hours a week on average


def cautions(work: Work, plan: Plan, answer: Load | None = None) -> list[str]:
    """Sentences to show beside the plan; ``answer`` is its load, where that is known already."""
    answer = answer or load(work, plan)
    return [*_unattended(answer), *_long_weeks(answer), *_splits(work), *(w.text for w in minding(work, plan))]


def _splits(work: Work) -> list[str]:
    names = [p.batches[0] for p in work.proposals if p.kind is Change.SPLIT]
    return [f"The plan splits batches ({', '.join(names)}). {SPLIT_CAUTION}"] if names else []


def _unattended(answer: Load) -> list[str]:
    by_machine: dict[str, int] = {}
    for row in answer.rows:
        if row.kind == "machine" and row.unattended_run_min:
            by_machine[row.name] = by_machine.get(row.name, 0) + row.unattended_run_min
    if not by_machine:
        return []
    names = ", ".join(f"{name} {span_text(minutes)}" for name, minutes in by_machine.items())
    return [f"The plan runs machines with nobody there ({names}). {NOBODY_THERE}"]


def _long_weeks(answer: Load) -> list[str]:
    longest: dict[str, tuple[int, str]] = {}
    for row in answer.rows:
        if row.kind == PERSON and row.attended_min > LONG_WEEK_MIN:
            longest[row.name] = max(longest.get(row.name, (0, "")), (row.attended_min, row.week))
    if not longest:
        return []
    names = ", ".join(f"{name} {span_text(minutes)} in {week}" for name, (minutes, week) in longest.items())
    return [
        f"The calendars have people at work for more than 48 hours in a week ({names}). Check working-time rules and "
        "rest between shifts with the people responsible; local rules come first."
    ]
