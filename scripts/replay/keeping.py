"""Finished years in a file, one JSON line each, and the replay so far beside it: a run that was broken off goes on."""

from __future__ import annotations

import json
import pickle
from collections.abc import Callable
from pathlib import Path
from typing import Any

from replay.run import Replay, Sold, days_until
from replay.world import YEAR_DAYS

WARM_UP_DAYS = 160  # 60 to learn times from, and 100 for a record of quotes


def read_lines(file: Path | None) -> list[dict[str, Any]]:
    """What was kept; nothing where there is no file."""
    if file is None or not file.exists():
        return []
    return [json.loads(line) for line in file.read_text(encoding="utf-8").splitlines() if line]


def replay_years(
    make: Callable[[], Replay], years: int, settings: dict[str, Any], file: Path | None, say: Callable[[str], None]
) -> list[dict[str, Any]]:
    """So many years after the warm-up, as lines of ``settings``, ``year``, ``orders`` and how full the shop was.

    The shop runs on, with new orders, until all of the last year are ready. With a file, years that are in it with the same settings are not run again. What the shop was at the end of each year is
    kept beside it, so that the next one can go on from there, or more be asked for.
    """
    kept = {line["year"]: line for line in read_lines(file) if line["settings"] == settings}
    state = None if file is None else file.with_name(f"{file.name}.{_name(settings)}.state")
    replay = None
    while not all(year in kept for year in range(1, years + 1)):
        replay = replay or _last_state(state) or make()
        for _ in days_until(replay, replay.floor.day + 1):
            pass
        if state is not None and _is_year_end(replay.floor.day):
            _keep_state(replay, state)
        for year in range(1, years + 1):
            line = None if year in kept else finished_year(replay, year, settings)
            if line is not None:
                kept[year] = line
                for row in line["orders"]:
                    del replay.sold[row["number"]]
                say(f"{_name(settings)}: year {year} is finished")
                if file is not None:
                    with file.open("a", encoding="utf-8") as out:
                        out.write(json.dumps(line) + "\n")
    return [kept[year] for year in range(1, years + 1)]


def _first_day(year: int) -> int:
    """Working day on which a year begins, counted from 1."""
    return WARM_UP_DAYS + (year - 1) * YEAR_DAYS


def _is_year_end(day: int) -> bool:
    return day > WARM_UP_DAYS and (day - WARM_UP_DAYS) % YEAR_DAYS == 0


def _name(settings: dict[str, Any]) -> str:
    return "".join(c if c.isalnum() else "-" for c in "-".join(str(value) for value in settings.values()))


def _last_state(state: Path | None) -> Replay | None:
    return pickle.loads(state.read_bytes()) if state is not None and state.exists() else None


def _keep_state(replay: Replay, state: Path) -> None:
    spare = state.with_suffix(".new")
    spare.write_bytes(pickle.dumps(replay))
    spare.replace(state)


def finished_year(replay: Replay, year: int, settings: dict[str, Any]) -> dict[str, Any] | None:
    """The line of a year all of whose orders are ready; None while they are not."""
    first, last = _first_day(year), _first_day(year + 1)
    if replay.floor.day < last:
        return None
    own = [sold for sold in replay.sold.values() if first <= sold.day < last]
    if any(sold.ready is None for sold in own):
        return None
    line = {
        "settings": settings,
        "year": year,
        "orders": [_row(replay, sold) for sold in own],
        "busy_share": round(sum(replay.busy_min[first:last]) / (YEAR_DAYS * 480 * _machines(replay)), 3),
        "open_steps": round(sum(replay.open_steps[first:last]) / YEAR_DAYS, 1),
    }
    return json.loads(json.dumps(line))


def _machines(replay: Replay) -> int:
    return sum(m.group == replay.world.limiting for m in replay.world.shop.machines.values())


def _row(replay: Replay, sold: Sold) -> dict[str, Any]:
    item, quote = replay.world.items[sold.item], sold.quote
    names = ("number", "day", "hot", "promised", "stated", "material_days", "ready", "finish_min")
    row = {name: getattr(sold, name) for name in names}
    row |= {"route": item.route, "kit": item.kit, "outside": item.outside}
    if quote is not None:
        row |= {
            "planned_min": quote.planned_min,
            "backlog_days": round(quote.backlog_days, 2),
            "later_min": round(float(quote.later.mean())),
        }
    return row
