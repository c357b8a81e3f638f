"""Searches that share seconds: what each takes beside its search is left for it, and what does not fit is left out."""

from __future__ import annotations

import pytest

from planner.levers import pace as module
from planner.levers.pace import Pace


class Watch:
    """A clock that only moves when it is told to."""

    def __init__(self) -> None:
        self.now = 100.0

    def monotonic(self) -> float:
        return self.now


@pytest.fixture
def watch(monkeypatch: pytest.MonkeyPatch) -> Watch:
    found = Watch()
    monkeypatch.setattr(module, "time", found)
    return found


def spent(pace: Pace, watch: Watch, ways: int, beside: float, end: float = 1.0) -> list[float]:
    """Seconds searched for each way, where the rest of each takes ``beside``."""
    found = []
    for n in range(ways):
        fitting = pace.fitting(ways - n, end)
        if not fitting:
            break
        with pace.one(fitting, end) as seconds:
            assert seconds is not None
            found.append(seconds)
            watch.now += seconds + beside
    return found


def test_with_nothing_beside_all_have_the_same(watch: Watch) -> None:
    assert spent(Pace(40), watch, 10, 0.0) == pytest.approx([4.0] * 10)
    assert watch.now == pytest.approx(140)


def test_what_is_beside_comes_off_the_search(watch: Watch) -> None:
    """The first does not know yet; the others leave a second each for it."""
    assert spent(Pace(40), watch, 10, 1.0) == pytest.approx([4.0, *[(35 - 9) / 9] * 9])
    assert watch.now == pytest.approx(140)


def test_what_would_be_searched_for_less_than_the_rest_takes_is_left_out(watch: Watch) -> None:
    """37 seconds are left after the first: nine times twice two seconds."""
    found = spent(Pace(40), watch, 40, 2.0)
    assert len(found) == 1 + 9
    assert min(found[1:]) >= 2.0
    assert watch.now <= 140 + 1e-6


def test_only_up_to_a_share(watch: Watch) -> None:
    spent(Pace(40), watch, 6, 1.0, end=0.5)
    assert watch.now == pytest.approx(120)


def test_without_seconds_everything_fits(watch: Watch) -> None:
    pace = Pace(None)
    with pace.one(1, 1.0) as seconds:
        watch.now += 50
    assert (seconds, pace.fitting(24, 0.75), pace.share(0.2)) == (None, 24, None)
