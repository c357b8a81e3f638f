"""A plan from now on, as a run behind the page."""

from __future__ import annotations

from datetime import datetime

from planner.day.differences import differences
from planner.day.replan import plan_from_now
from planner.main_job import Job
from planner.search import Progress
from planner.store import ShopPlace, Store
from web.worker import Telling


def planned_from_now(place: ShopPlace, followed: Job, who: str, at: datetime, seconds: float, telling: Telling) -> None:
    """Make it, and hand out its number and what it changes against the plan that is followed; it waits to be accepted."""

    def tell(now: Progress) -> None:
        telling.say(share=min(1.0, now.seconds / seconds), phase=now.phase)

    with Store(place) as store:
        found = plan_from_now(store, who, at, seconds=seconds, progress=tell, stop=telling.stopped)
        words = differences(followed, found.job).words if found.number is not None else ("No plan was found.",)
    telling.part({"plan": found.number, "words": list(words)})
