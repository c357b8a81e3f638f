"""The replayed shop: what happens is the plan where nothing is disturbed, runs repeat and go on, figures known by hand."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from replay import keeping
from replay.keeping import replay_years
from replay.learning import Bookings
from replay.measure import planned_days, share_of, tuned_constant, tuned_fixed
from replay.promising import Safe, day_of_minute
from replay.quoting import Quote
from replay.run import Effort, Replay, days_until
from replay.stream import Demand
from replay.truth import Disturbance, Truth
from replay.world import dispatch, opening, promise_day, small_world
from replay_shop import options

from planner.risk import Spreads
from planner.risk.allowance import Station
from planner.risk.record import Record
from planner.shop import Shop
from planner.work import Work

CALM = Demand(0.5, hot_a_day=0.0)
DAYS = 22  # a month


@dataclass
class NothingDiffers(Bookings):
    """A planner for whom everything comes as planned."""

    def spreads(self, shop: Shop, work: Work, day: int) -> Spreads:
        return Spreads.none()

    def stations(self, shop: Shop) -> dict[str, Station]:
        return {}


def month(size: Disturbance, demand: Demand, trials: int, bookings: Bookings | None = None, seed: int = 3) -> Replay:
    replay = Replay(
        small_world(1), demand, Truth(seed, size), Safe(90), Effort(trials, 20), seed, DAYS, bookings or Bookings()
    )
    for _ in days_until(replay, 10 * DAYS):
        pass
    assert replay.over
    return replay


def test_undisturbed_days_are_the_plan_to_the_minute() -> None:
    """The list is kept as it is (one trial), so an order is ready when its quote said."""
    replay = month(Disturbance.none(), CALM, 1, NothingDiffers())
    assert len(replay.sold) > 5
    assert any(s.quote.planned_min > 2 * 1440 for s in replay.sold.values())
    assert [s.finish_min for s in replay.sold.values()] == [s.quote.planned_min for s in replay.sold.values()]


def test_every_promise_is_kept_where_nothing_differs() -> None:
    """Planned anew every morning, with moves."""
    replay = month(Disturbance.none(), CALM, 60, NothingDiffers())
    assert all(s.ready is not None and s.ready <= s.promised and s.stated == 0.9 for s in replay.sold.values())


def test_disturbed_days_differ_and_repeat() -> None:
    demand = Demand(0.5, hot_a_day=0.1)
    once, again = (month(Disturbance(), demand, 30) for _ in range(2))
    told = [[(s.promised, s.stated, s.ready, s.finish_min) for s in replay.sold.values()] for replay in (once, again)]
    assert told[0] == told[1]
    quoted = [s for s in once.sold.values() if not s.hot]
    assert any(s.finish_min != s.quote.planned_min for s in quoted)
    assert all(0 <= s.outcome.reached <= 1 for s in quoted)
    assert any(s.outcome.reached < s.stated for s in quoted)
    assert len(once.bookings.times) > 20


def test_a_run_that_was_broken_off_goes_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(keeping, "YEAR_DAYS", 6)
    monkeypatch.setattr(keeping, "WARM_UP_DAYS", 5)
    make = partial(Replay, small_world(1), Demand(0.5), Truth(3), Safe(80), Effort(10, 10), 3)
    settings: dict[str, Any] = {"way": "safe", "level": 80, "seed": 3}
    whole = replay_years(make, 2, settings, None, lambda text: None)
    file = tmp_path / "years.jsonl"
    first = replay_years(make, 1, settings, file, lambda text: None)
    assert len(first) == 1 and len(file.read_text(encoding="utf-8").splitlines()) == 1
    assert first[0]["orders"]
    assert replay_years(make, 2, settings, file, lambda text: None) == whole
    assert len(file.read_text(encoding="utf-8").splitlines()) == 2


def test_days_and_cutoffs() -> None:
    assert promise_day(dispatch(7)) == 7
    assert promise_day(opening(5)) == 5
    assert dispatch(4).weekday() == 4 and opening(5).weekday() == 0
    quote = Quote(3, 600, np.array([600]), np.array([600]), np.zeros(1), 0.0, Record())
    assert [day_of_minute(quote, minute) for minute in (540, 541, 1440 + 540)] == [3, 4, 4]


def row(day: int, ready: int, promised: int, **more: Any) -> dict[str, Any]:
    return {"day": day, "ready": ready, "promised": promised, "stated": 0.9, "route": "turned", **more}


def test_share_kept_with_its_interval() -> None:
    """Two half years, 3 of 4 and 1 of 4 kept: half an interval is t(0.975, 1) x sqrt(2 x (1 + 1)) / 8."""
    rows = [
        row(160 + 130 * half, 1, 1 if good else 0)
        for half, n in ((0, 3), (1, 1))
        for good in [True] * n + [False] * (4 - n)
    ]
    share = share_of("all", rows)
    assert (share.orders, share.kept, round(share.points)) == (8, 0.5, -40)
    assert share.half == pytest.approx(12.7062 * 2 / 8, rel=1e-4)


def test_ways_tuned_in_hindsight() -> None:
    planned = 1440 + 300  # tomorrow at 11:00
    rows = [row(60, 60 + took, 99, planned_min=planned) for took in (1, 1, 2, 3)]
    assert planned_days(rows[0]) == pytest.approx(1.5)
    allowance, days = tuned_constant(rows, 0.75)
    assert set(days) == {2.0} and allowance == pytest.approx(0.5, abs=1e-6)
    fixed, days = tuned_fixed(rows, 0.75)
    assert fixed == {"turned": 2} and set(days) == {2.0}


def test_options_say_what_is_wrong(capsys: pytest.CaptureFixture[str]) -> None:
    same = ["--out", "years.jsonl", "--json", str(Path.cwd() / "years.jsonl")]
    for words in (["--years", "0"], ["--levels", "100"], ["--way", "sometimes"], ["--way", "constant:few"], same):
        with pytest.raises(SystemExit) as end:
            options(words)
        assert end.value.code == 2
    said = capsys.readouterr().err
    assert "expected" in said and "written over" in said
