"""What came of the promises: stated chance against share kept, and how long the quotes were, against other ways.

Shares have intervals from batch means: orders of half a year make one batch, long beside the weeks for which one slow spell
lasts, and the means of the batches are taken as independent (Law and Carson, Operations Research 27:1011-1025, 1979).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import stdtrit

from replay.keeping import WARM_UP_DAYS
from replay.world import CUTOFF, OPENS, WEEK_DAYS, YEAR_DAYS

Row = dict[str, Any]
BATCH_DAYS = YEAR_DAYS // 2
MINUTES_TO_CUTOFF = (CUTOFF.hour - OPENS.hour) * 60
OPEN_MIN, CLOSE_MIN = 60, 540  # of a day, from its opening: when somebody is there


@dataclass(frozen=True)
class Share:
    """Orders of one cut: how many, the mean chance stated, the share kept, and half its 95 % interval."""

    cut: str
    orders: int
    stated: float
    kept: float
    half: float

    @property
    def points(self) -> float:
        """Kept less stated, in points of percent."""
        return 100 * (self.kept - self.stated)


@dataclass(frozen=True)
class Quotes:
    """One way of promising: mean working days quoted, share kept, and mean working days late an order."""

    way: str
    days: float
    kept: float
    late_days: float


def kept(row: Row) -> bool:
    return row["ready"] <= row["promised"]


def share_of(cut: str, rows: Sequence[Row]) -> Share:
    """Share of one cut with its interval."""
    if not rows:
        return Share(cut, 0, float("nan"), float("nan"), float("nan"))
    batches: dict[int, list[bool]] = {}
    for row in rows:
        batches.setdefault((row["day"] - WARM_UP_DAYS) // BATCH_DAYS, []).append(kept(row))
    share = float(np.mean([kept(row) for row in rows]))
    return Share(
        cut, len(rows), float(np.mean([r["stated"] for r in rows])), share, _half(share, list(batches.values()))
    )


def _half(share: float, batches: list[list[bool]]) -> float:
    """Half a 95 % interval of a ratio of batch sums (batches differ in how many orders they have)."""
    n = len(batches)
    if n < 2:
        return float("nan")
    size = np.array([len(batch) for batch in batches], float)
    off = np.array([sum(batch) for batch in batches]) - share * size
    return float(stdtrit(n - 1, 0.975) * np.sqrt((off**2).sum() / (n - 1) * n) / size.sum())


def shares(rows: Sequence[Row]) -> list[Share]:
    """Overall, and by load (thirds of the backlog when quoted), kit, outside work, routing, material to wait for."""
    low, high = np.quantile([row["backlog_days"] for row in rows], [1 / 3, 2 / 3])
    cuts: list[tuple[str, Callable[[Row], bool]]] = [
        ("all", lambda r: True),
        (f"backlog up to {low:.1f} days", lambda r: r["backlog_days"] <= low),
        (f"backlog {low:.1f} to {high:.1f} days", lambda r: low < r["backlog_days"] <= high),
        (f"backlog over {high:.1f} days", lambda r: r["backlog_days"] > high),
        ("kit", lambda r: r["kit"]),
        ("single part", lambda r: not r["kit"]),
        ("with outside work", lambda r: r["outside"]),
        ("all inside", lambda r: not r["outside"]),
        ("material to come", lambda r: r["material_days"] > 0),
        ("material here", lambda r: r["material_days"] == 0),
    ]
    return [share_of(name, [row for row in rows if wanted(row)]) for name, wanted in cuts]


# --- other ways, tuned in hindsight ----------------------------------------------------------------


def planned_days(row: Row) -> float:
    """Planned finish in working days from the enquiry; what is at or before a cut-off is at or below a whole number + 1."""
    days, minute = divmod(row["planned_min"], 1440)
    weekday = row["day"] % WEEK_DAYS
    weeks, rest = divmod(weekday + days, 7)
    number = weeks * WEEK_DAYS + min(rest, WEEK_DAYS) - weekday
    part = (minute - OPEN_MIN) / (CLOSE_MIN - OPEN_MIN) if rest < WEEK_DAYS else 0.0
    return number + float(np.clip(part, 1e-6, 1.0))


def constant_days(rows: Sequence[Row], allowance: float) -> np.ndarray:
    """Working days quoted with the planned finish and an allowance in working days."""
    return np.ceil(np.array([planned_days(row) for row in rows]) + allowance - 1e-9) - 1


def tuned_constant(rows: Sequence[Row], share: float) -> tuple[float, np.ndarray]:
    """The smallest constant allowance with which at least that share is kept, and the days it quotes."""
    took = np.array([row["ready"] - row["day"] for row in rows])
    low, high = -20.0, 200.0
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (low, middle) if (took <= constant_days(rows, middle)).mean() >= share else (middle, high)
    return high, constant_days(rows, high)


def tuned_fixed(rows: Sequence[Row], share: float) -> tuple[dict[str, int], np.ndarray]:
    """Lead times by class of routing that keep at least that share with the fewest days.

    From lead times with which all is kept, the day that costs the fewest orders for the days it saves is taken off again
    and again, as long as the share is kept.
    """
    took = np.array([row["ready"] - row["day"] for row in rows])
    routes = np.array([row["route"] for row in rows])
    days = {route: int(took[routes == route].max()) for route in sorted(set(routes))}
    spare = len(rows) - int(np.ceil(share * len(rows) - 1e-9))
    while True:
        options = [r for r in days if _lost(took, routes, r, days[r]) <= spare and days[r] > 0]
        if not options:
            break
        best = min(options, key=lambda r: (_lost(took, routes, r, days[r]) / (routes == r).sum(), r))
        spare -= _lost(took, routes, best, days[best])
        days[best] -= 1
    return days, np.array([days[route] for route in routes], float)


def _lost(took: np.ndarray, routes: np.ndarray, route: str, days: int) -> int:
    """Orders of a class that take exactly so many days: lost when it is one less."""
    return int(((routes == route) & (took == days)).sum())


def ways(rows: Sequence[Row]) -> list[Quotes]:
    """The promises made, and the other two tuned in hindsight to the same share kept."""
    took = np.array([row["ready"] - row["day"] for row in rows])
    made = np.array([row["promised"] - row["day"] for row in rows], float)
    share = float((took <= made).mean())
    allowance, constant = tuned_constant(rows, share)
    _, fixed = tuned_fixed(rows, share)
    names = ("safe date", f"planned finish + {allowance:.2f} days", "lead time by routing class")
    return [
        Quotes(name, float(days.mean()), float((took <= days).mean()), float(np.maximum(0, took - days).mean()))
        for name, days in zip(names, (made, constant, fixed), strict=True)
    ]
