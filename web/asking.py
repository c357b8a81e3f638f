"""What pages that ask for something have in common: the shop with its plan, where its tables are, and wrong questions told."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from pydantic import BaseModel
from starlette.exceptions import HTTPException

from planner.alter import AlterFaults
from planner.faults import DataFaults, QuestionFault
from planner.main_job import Job
from planner.store import ShopPlace, Stale, StoreFault
from web.site import Site

T = TypeVar("T")
NO_TABLES = "These pages were made without the shop's tables: nothing can be changed in them or worked out anew."
NO_PLACE = "These pages were made without the place of the shop's tables: nothing can be kept."


class Started(BaseModel):
    """A run that has been started, for ``/api/runs``."""

    run: int


def job_of(site: Site) -> Job:
    """The shop with its plan; a plain answer where the pages have no shop."""
    if site.shop is None:
        raise HTTPException(409, NO_TABLES)
    return Job(site.shop, site.work, site.plan, site.accepted)


def place_of(site: Site) -> ShopPlace:
    """Where the shop's tables are; a plain answer where the pages do not know."""
    if site.folder is None:
        raise HTTPException(409, NO_PLACE)
    return site.folder


def told(find: Callable[[], T]) -> T:
    """What is found; a question or tables that are wrong are the asker's to mend."""
    try:
        return find()
    except (AlterFaults, DataFaults, QuestionFault, Stale, StoreFault) as fault:
        raise HTTPException(422, str(fault)) from fault
