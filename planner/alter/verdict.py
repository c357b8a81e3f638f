"""A comparison in plain sentences."""

from __future__ import annotations

from collections.abc import Sequence

from planner.alter.effort import Effort
from planner.alter.extra_hours import ExtraHours
from planner.alter.records import (
    ADDED,
    EARLIER,
    LATER,
    NEWLY_LATE,
    REMOVED,
    SAME,
    SAVED,
    Noise,
    OrderChange,
    Totals,
)
from planner.answers.wording import capital, elapsed_text, pounds
from planner.counted import counted, listed

NAMED = 12  # orders in one sentence


def verdict(
    same: bool, orders: Sequence[OrderChange], planned: Totals, before: Totals, after: Totals, noise: Noise,
    extra: Sequence[ExtraHours], effort: Effort,
) -> list[str]:  # fmt: skip
    """What came out, in plain sentences. ``same``: the changes change nothing that is planned."""
    if same:
        return ["No change: all that is planned stays the same."]
    by_what: dict[str, list[str]] = {}
    for o in orders:
        by_what.setdefault(o.what, []).append(o.order)
    lines = [_cost_line(before, after, noise)] if effort.enough else _short_lines(before, after, effort)
    words = {
        NEWLY_LATE: "newly late", SAVED: "no longer late", LATER: "later", EARLIER: "earlier", ADDED: "added", REMOVED: "taken out",
    }  # fmt: skip
    for what, word in words.items():
        if what in by_what:
            lines.append(f"{counted(len(by_what[what]), 'order')} {word}: {listed(by_what[what], NAMED)}.")
    if not effort.enough:
        return [*lines, *_offered_lines(extra), _again_line(planned, before)]
    if by_what.keys() <= {SAME} and abs(after.cost_first - before.cost_first) <= noise.cost:
        lines = ["No change beyond the noise of the search: it neither helps nor hurts any order that can be told."]
    return [*lines, *_spent_lines(before, after, extra), _again_line(planned, before), _noise_line(noise)]


def _short_lines(before: Totals, after: Totals, effort: Effort) -> list[str]:
    return [
        f"{capital(effort.text)}. What becomes of any order is not told.",
        f"Unproven, lateness in all: {_cost_told(before, after)}; {_late_told(before, after)}.",
    ]


def _again_line(planned: Totals, before: Totals) -> str:
    """The figures of the plan itself, beside those of the same planned again."""
    return (
        f"Before means the plan as it is, planned again with the same effort as the changed one. The plan itself has "
        f"{counted(planned.late_orders, 'order')} late, weighted minutes late {planned.cost_first:,}; planned again "
        f"{before.late_orders} and {before.cost_first:,}."
    )


def _noise_line(noise: Noise) -> str:
    told = "Only what both plans of each side bear out is told."
    if noise == Noise(0, 0, 0):
        return f"Noise of the search: none, each side was planned twice and every order came out the same. {told}"
    return (
        f"Noise of the search, each side planned twice: {_differs('lateness', noise.late_min)}, "
        f"{_differs('ready time', noise.ready_min)}. {told}"
    )


def _differs(what: str, minutes: int) -> str:
    return f"an order's {what} differs by up to {elapsed_text(minutes)}" if minutes else f"no order's {what} differs"


def _cost_told(before: Totals, after: Totals) -> str:
    return f"weighted minutes late {before.cost_first:,} before, {after.cost_first:,} after"


def _late_told(before: Totals, after: Totals) -> str:
    return f"{counted(before.late_orders, 'order')} late before, {after.late_orders} after"


def _cost_line(before: Totals, after: Totals, noise: Noise) -> str:
    less = before.cost_first - after.cost_first
    told, late = _cost_told(before, after), _late_told(before, after)
    if abs(less) <= noise.cost:
        return f"Lateness in all: no difference beyond the noise ({told}; noise {noise.cost:,}); {late}."
    return f"Lateness in all {'falls' if less > 0 else 'rises'}: {told} (noise {noise.cost:,}); {late}."


def _spent_lines(before: Totals, after: Totals, extra: Sequence[ExtraHours]) -> list[str]:
    lines = [f"{offered}, {used}." for offered, used in _hours_told(extra)]
    if after.charges_pence != before.charges_pence:
        more = after.charges_pence - before.charges_pence
        lines.append(f"Outside charges: {pounds(abs(more))} pounds {'more' if more > 0 else 'less'}.")
    return lines


def _offered_lines(extra: Sequence[ExtraHours]) -> list[str]:
    """Without how much of them a plan uses that proves nothing."""
    return [f"{offered}." for offered, _ in _hours_told(extra)]


def _hours_told(extra: Sequence[ExtraHours]) -> list[tuple[str, str]]:
    """Of people and of machines: the extra hours, and how much of them is used."""
    found = []
    for kind, noun, doing in (
        ("person", "people", "setting, working or checking"), ("machine", "machines", "setting or running")
    ):  # fmt: skip
        rows = [e for e in extra if e.kind == kind]
        if rows:
            offered, used = sum(e.extra_min for e in rows), sum(e.used_min for e in rows)
            names = ", ".join(e.name for e in rows)
            told = f"Extra hours of {noun} ({names}): {elapsed_hours(offered)} up to the plan's end"
            found.append((told, f"{elapsed_hours(used)} of it {doing}"))
    return found


def elapsed_hours(minutes: int) -> str:
    """'6.5 h'."""
    return f"{minutes / 60:,.1f} h"
