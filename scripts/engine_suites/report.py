"""The table of results and the summary lines of a suite."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from statistics import mean
from typing import Any

from engine_suites.case import Case
from engine_suites.targets import AIMS, FIRST_PLAN_SEC, MOST_MB, SHOPS, Aim

MOMENTS_SEC = (1, 2, 5, 10, 20, 60, 120)
BEST = {"shops": "aim"}  # what costs are compared with, where it is not the best known one


def head(suite: str) -> str:
    return (
        f"{'instance':14} {'size':>6} {BEST.get(suite, 'best known'):>10} {'best rule':>10} {'plain model':>11} {'(bound)':>11} "
        f"{'ours':>10} {'gap %':>7} {'our bound':>10} {'trials':>10} {'a second':>8} {'reached s':>9}  state"
    )


@dataclass(frozen=True)
class Row:
    """What was measured of one instance; ``plain`` None where it was not asked for."""

    case: Case
    rule: dict[str, Any]
    plain: dict[str, Any] | None
    ours: dict[str, Any]

    @property
    def failed(self) -> bool:
        """No whole plan, or one that breaks a rule."""
        return not self.ours["complete"] or self.ours["breaches"] > 0

    @property
    def gap(self) -> float | None:
        """Per cent above the best known cost; None where there is none to compare with, or that is 0 and ours is not."""
        best, cost = self.case.best, self.ours["cost"]
        if best is None or self.failed or (best == 0 and cost > 0):
            return None
        return 100 * (cost / best - 1) if best else 0.0

    @property
    def at_best(self) -> bool:
        return not self.failed and self.case.best is not None and self.ours["cost"] <= self.case.best


def line(row: Row) -> str:
    """The row of the table."""
    ours, plain = row.ours, row.plain or {}
    rate = ours["trials"] / max(ours["seconds"], 1e-3)
    told = {"": ours, "rule: ": row.rule, "plain model: ": plain}
    breaches = "".join(f", {who}{r['breaches']} BREACHES" for who, r in told.items() if r.get("breaches"))
    return (
        f"{row.case.name:14} {row.case.operations:6,} {_number(row.case.best):>10} {row.rule['cost']:10,} "
        f"{_number(plain.get('cost')):>11} {_number(plain.get('bound'), '({:,})'):>11} {ours['cost']:10,} "
        f"{_number(row.gap, '{:.2f}'):>7} {ours['bound']:10,} {ours['trials']:10,} {rate:8,.0f} {ours['reached']:9.1f}  "
        f"{ours['state']}{breaches}; rule: {row.rule['rule']}"
    )


def _number(value: float | None, shape: str = "{:,}") -> str:
    return "-" if value is None else shape.format(value)


def curve_line(row: Row) -> str:
    """Cost (and bound) at some moments, and at the end."""
    points, took = row.ours["curve"], row.ours["seconds"]
    told = []
    for moment in (m for m in MOMENTS_SEC if points[0][0] <= m < took):
        _, cost, bound = [p for p in points if p[0] <= moment][-1]
        told.append(f"{moment} s {cost:,} ({bound:,})")
    return f"    {row.case.name}: " + "; ".join([*told, f"end {took:.1f} s {points[-1][1]:,} ({points[-1][2]:,})"])


def summary(suite: str, rows: list[Row]) -> Iterator[str]:
    """Lines for all, for those that settings are chosen on and for those kept aside; each by family too."""
    for name in ("all", "chosen on", "kept aside"):
        group = [row for row in rows if name in ("all", row.case.group)]
        if not group or (suite == "sample" and name != "all"):
            continue
        families = sorted({row.case.family for row in group})
        for family in families if len(families) > 1 else ():
            yield f"{suite}, {name}, {family}: " + _told(suite, [row for row in group if row.case.family == family])
        yield f"{suite}, {name}: " + _told(suite, group)
    yield from (
        _aimed(aim, rows) for aim in AIMS if aim.suite == suite and any(r.case.family in aim.families for r in rows)
    )
    if suite in ("shops", "sample"):
        yield from (_shop_line(row) for row in rows)


def _aimed(aim: Aim, rows: list[Row]) -> str:
    """Is it met by those that were measured?"""
    own = [row for row in rows if row.case.family in aim.families]
    told = []
    if aim.reached is not None:
        share = sum(row.at_best for row in own) / len(own)
        told.append(f"{share:.1%} at the best known {_against(share, '>=', aim.reached, '{:.1%}')}")
    if aim.gap is not None:
        gap = mean(row.gap if row.gap is not None else math.inf for row in own)
        told.append(f"mean gap {gap:.2f} % {_against(gap, '<=', aim.gap, '{:.2f}')}")
    if aim.total is not None:
        ours, best = sum(row.ours["cost"] for row in own), sum(row.case.best or 0 for row in own)
        total = math.inf if any(row.failed for row in own) else ours / max(best, 1)
        told.append(f"sum of costs {total:.4f} {_against(total, '<=', aim.total, '{:.4f}')}")
    return f"aim for {', '.join(aim.families)} ({len(own)} measured): " + "; ".join(told)


def _told(suite: str, rows: list[Row]) -> str:
    failed = sum(row.failed for row in rows)
    return _figures(suite, rows) + (f"; {failed} FAILED" if failed else "")


def _figures(suite: str, rows: list[Row]) -> str:
    sound = [row for row in rows if not row.failed and row.case.best is not None]
    reached, proved = sum(row.at_best for row in rows), sum(row.ours["state"] == "proved best" for row in rows)
    said = f"{reached} of {len(rows)} at the {BEST.get(suite, 'best known')} or better, {proved} proved best"
    if suite == "sample" or not sound:
        return f"{len(rows)} planned, {proved} proved best"
    if suite == "twt":
        ours, best = sum(row.ours["cost"] for row in sound), sum(row.case.best or 0 for row in sound)
        return f"{said}; sum of costs {ours:,} against {best:,}" + (f" ({ours / best:.4f})" if best else "")
    gaps = [row.gap for row in sound if row.gap is not None]
    plain = _plain_gap(sound)
    return f"{said}; mean gap {mean(gaps):.2f} %" + (f" (plain model {plain:.2f} %)" if plain is not None else "")


def _plain_gap(rows: list[Row]) -> float | None:
    """Mean gap of the plain model, where it found a plan for every one of them."""
    gaps = [
        100 * (row.plain["cost"] / row.case.best - 1)
        for row in rows
        if row.plain and row.plain["cost"] and row.case.best
    ]
    return mean(gaps) if gaps and len(gaps) == len(rows) else None


def _shop_line(row: Row) -> str:
    """Against the targets, with how soon there is a plan and what memory it takes."""
    ours = row.ours
    soon = next((most for size, most in sorted(FIRST_PLAN_SEC.items()) if size <= row.case.operations < 2 * size), None)
    told = [f"first plan {ours['first_cost']:,} after {ours['first_seconds']:.1f} s"]
    if soon is not None:
        told[0] += f" {_against(ours['first_seconds'], '<=', soon)}"
    target = SHOPS.get(row.case.name)
    if target is not None:
        told.append(f"cost {ours['cost']:,} {_against(ours['cost'], '<=', target.cost)}")
    if target is not None and target.optimal:
        told.append("proved" if ours["state"] == "proved best" else "NOT PROVED")
    elif target is not None and target.bound is not None:
        told.append(f"bound {ours['bound']:,} {_against(ours['bound'], '>=', target.bound)}")
    told.append("below the best rule" if ours["cost"] < row.rule["cost"] else "NOT BELOW THE BEST RULE")
    if row.plain and row.plain["cost"] is not None:
        told.append("not above the plain model" if ours["cost"] <= row.plain["cost"] else "ABOVE THE PLAIN MODEL")
    if ours["memory_mb"] is not None:
        told.append(f"{ours['memory_mb']:,} MB {_against(ours['memory_mb'], '<=', MOST_MB)}")
    return f"    {row.case.name}: " + "; ".join(told)


def _against(value: float, sign: str, target: float, shape: str = "{:,}") -> str:
    met = value <= target if sign == "<=" else value >= target
    return f"{sign} {shape.format(target)} {'met' if met else f'NOT MET ({100 * (value / target - 1):+.1f} %)'}"
