"""Work for which the known hours are too short: no plan, and the facts by name."""

from __future__ import annotations

import pytest
from builders import ShopBuilder
from fastapi.testclient import TestClient

from planner.answers.summary import summary
from planner.plan import Plan, State
from planner.search import search
from planner.verify import verify
from planner.work import Work
from web.app import create_app
from web.templating import BAR

PLACES = [place for places in BAR.values() for place in places]


def planned(minutes: int) -> tuple[Work, Plan]:
    """A machine open for 100 minutes in all; the second step only waits for the first."""
    shop = ShopBuilder().machine("M", [(0, 100)]).batch("B1").op("M", 0, 60 * minutes).op("other", 0, 60)
    work = shop.order("O1", "B1", due=50).build()
    return work, search(work, trials=10)


@pytest.mark.parametrize(("minutes", "state"), [(100, State.BEST), (101, State.IMPOSSIBLE)])
def test_a_minute_too_much_is_impossible(minutes: int, state: State) -> None:
    work, plan = planned(minutes)
    assert plan.state is state
    assert verify(work, plan) == []


def test_only_what_itself_finds_no_time_is_named() -> None:
    work, plan = planned(101)
    assert (plan.steps, plan.no_time) == ((), (0,))
    told = summary(work, plan)["no_time"]
    assert told[1:] == ["B1 op 10 B1 step 10"]
    assert "calendars.csv" in told[0]


@pytest.mark.parametrize("place", PLACES, ids=lambda p: p.title)
def test_every_page_can_be_opened_without_a_plan(place) -> None:
    client = TestClient(create_app(*planned(101)))
    assert client.get(place.path).status_code == 200
    assert "There is no plan" in client.get("/").text
