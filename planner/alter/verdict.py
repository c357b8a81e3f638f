"""A comparison in plain sentences."""

from __future__ import annotations

from collections.abc import Sequence

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
from planner.answers.wording import elapsed_text, pounds
from planner.counted import counted


def verdict(
    same: bool, orders: Sequence[OrderChange], before: Totals, after: Totals, noise: Noise, extra: Sequence[ExtraHours]
) -> list[str]:
    """What came out, in plain sentences. ``same``: the changes change nothing that is planned."""
    if same:
        return ["No change: all that is planned stays the same."]
    by_what: dict[str, list[str]] = {}
    for o in orders:
        by_what.setdefault(o.what, []).append(o.order)
    lines = [_cost_line(before, after, noise)]
    words = {
        NEWLY_LATE: "newly late", SAVED: "no longer late", LATER: "later", EARLIER: "earlier", ADDED: "added", REMOVED: "taken out",
    }  # fmt: skip
    for what, word in words.items():
        if what in by_what:
            names = by_what[what]
            lines.append(
                f"{counted(len(names), 'order')} {word}: {', '.join(names[:12])}{' ...' if len(names) > 12 else ''}."
            )
    if by_what.keys() <= {SAME} and abs(after.cost_first - before.cost_first) <= noise.cost:
        lines = ["No change beyond the noise of the search: it neither helps nor hurts any order that can be told."]
    lines += _spent_lines(before, after, extra)
    lines.append(
        f"Noise of the search, each side planned twice: an order's lateness differs by up to {elapsed_text(noise.late_min)}, "
        f"its ready time by up to {elapsed_text(noise.ready_min)}. Only what both plans of each side bear out is told."
    )
    return lines


def _cost_line(before: Totals, after: Totals, noise: Noise) -> str:
    less = before.cost_first - after.cost_first
    told = f"weighted minutes late {before.cost_first:,} before, {after.cost_first:,} after"
    late = f"{counted(before.late_orders, 'order')} late before, {after.late_orders} after"
    if abs(less) <= noise.cost:
        return f"Lateness in all: no difference beyond the noise ({told}; noise {noise.cost:,}); {late}."
    return f"Lateness in all {'falls' if less > 0 else 'rises'}: {told} (noise {noise.cost:,}); {late}."


def _spent_lines(before: Totals, after: Totals, extra: Sequence[ExtraHours]) -> list[str]:
    lines = []
    for kind, noun in (("person", "people"), ("machine", "machines")):
        rows = [e for e in extra if e.kind == kind]
        if rows:
            offered, used = sum(e.extra_min for e in rows), sum(e.used_min for e in rows)
            doing = "setting, working or checking" if kind == "person" else "setting or running"
            lines.append(
                f"Extra hours of {noun} ({', '.join(e.name for e in rows)}): {elapsed_hours(offered)} up to the plan's end, {elapsed_hours(used)} of it {doing}."
            )
    if after.charges_pence != before.charges_pence:
        more = after.charges_pence - before.charges_pence
        lines.append(f"Outside charges: {pounds(abs(more))} pounds {'more' if more > 0 else 'less'}.")
    return lines


def elapsed_hours(minutes: int) -> str:
    """'6.5 h'."""
    return f"{minutes / 60:,.1f} h"
