"""The tables of a replay."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import numpy as np

from replay.measure import Quotes, Share, kept, shares, ways

OVERALL_POINTS, CUT_POINTS = 2.0, 5.0  # how far share kept may be from the chance stated
SHORTER = (0.10, 0.20)  # quotes than with a constant allowance, and than with fixed lead times


def report(level: int, lines: list[dict[str, Any]]) -> dict[str, Any]:
    """All figures of the years of one level."""
    rows = [row for line in lines for row in line["orders"]]
    quoted, hot = [r for r in rows if not r["hot"]], [r for r in rows if r["hot"]]
    found = shares(quoted)
    compared = ways(quoted)
    return {
        "level": level,
        "years": len(lines),
        "busy_share": round(float(np.mean([line["busy_share"] for line in lines])), 3),
        "open_steps": round(float(np.mean([line["open_steps"] for line in lines])), 1),
        "hot_orders": len(hot),
        "hot_kept": round(float(np.mean([kept(r) for r in hot])), 3) if hot else None,
        "shares": [asdict(share) | {"points": round(share.points, 1)} for share in found],
        "ways": [asdict(way) for way in compared],
        "met": targets(found, compared),
    }


def targets(found: list[Share], compared: list[Quotes]) -> dict[str, bool]:
    """What was aimed at, and whether it was met."""
    safe, constant, fixed = compared
    return {
        "overall within 2 points": abs(found[0].points) <= OVERALL_POINTS,
        "each cut within 5 points": all(abs(s.points) <= CUT_POINTS for s in found[1:] if s.orders),
        "10 % shorter than the constant allowance": safe.days <= (1 - SHORTER[0]) * constant.days,
        "20 % shorter than fixed lead times": safe.days <= (1 - SHORTER[1]) * fixed.days,
        "lateness no worse than either": safe.late_days <= min(constant.late_days, fixed.late_days),
    }


def table(made: dict[str, Any]) -> str:
    """One level as text."""
    lines = [
        f"Promised at {made['level']} %: {made['years']} years, limiting group busy {100 * made['busy_share']:.0f} %, "
        f"{made['open_steps']:.0f} open operations on average; {made['hot_orders']} hot orders"
        + (f", {100 * made['hot_kept']:.0f} % of them by the day wanted" if made["hot_kept"] is not None else ""),
        "",
        f"{'orders':<32}{'number':>8}{'stated %':>10}{'kept %':>9}{'+-':>6}{'points':>8}",
    ]
    for s in made["shares"]:
        lines.append(
            f"{s['cut']:<32}{s['orders']:>8}{100 * s['stated']:>10.1f}{100 * s['kept']:>9.1f}{100 * s['half']:>6.1f}{s['points']:>+8.1f}"
        )
    lines += ["", f"{'way of promising':<36}{'days quoted':>12}{'kept %':>9}{'days late':>11}"]
    for w in made["ways"]:
        lines.append(f"{w['way']:<36}{w['days']:>12.2f}{100 * w['kept']:>9.1f}{w['late_days']:>11.3f}")
    lines += ["", *(f"{'met' if met else 'NOT met':<9}{what}" for what, met in made["met"].items())]
    return "\n".join(lines)
