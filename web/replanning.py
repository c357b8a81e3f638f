"""A plan from now on, as a run behind the page."""

from __future__ import annotations

from datetime import datetime

from planner.day.differences import words_against_accepted
from planner.day.replan import plan_from_now
from planner.search import Progress
from planner.store import ShopPlace, Store
from web.worker import Telling


def planned_from_now(place: ShopPlace, who: str, at: datetime, seconds: float, telling: Telling) -> None:
    """Make it, and hand out its number and what it changes against the accepted plan; it waits to be accepted."""

    def tell(now: Progress) -> None:
        telling.say(share=min(1.0, now.seconds / seconds), phase=now.phase)

    with Store(place) as store:
        found = plan_from_now(store, who, at, seconds=seconds, progress=tell, stop=telling.stopped)
        words = ["No plan was found."] if found.number is None else words_against_accepted(store, found.job)
    telling.part({"plan": found.number, "words": words})
