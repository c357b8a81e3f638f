"""What limits the shop: read off the plan at once; what a tenth more would save is worked out when it is asked for."""

from __future__ import annotations

from functools import cached_property, partial

from fastapi import APIRouter, Request
from pydantic import BaseModel, Field
from starlette.responses import Response

from planner.answers.rows import as_row
from planner.capacity.limits import MOST, Limit, Limits, candidates, limits, with_savings, worst_of
from planner.capacity.waiting import PRESENT_WEEKS
from planner.plan import Plan
from planner.work import Work
from web.asking import Started
from web.loads import headings
from web.pages import JSON, as_json
from web.site import Site
from web.templating import TEMPLATES
from web.worker import Telling

SECONDS = 60.0
SHOWN = 6  # the fullest of a week on the page


class Asked(BaseModel):
    """How long all planning again may take together, and how many resources are looked at."""

    seconds: float = Field(SECONDS, ge=1, le=600)
    most: int = Field(MOST, ge=1, le=12)


class _Found:
    """The limits of one plan: without the savings until they have been worked out."""

    def __init__(self, site: Site) -> None:
        self._site = site

    @cached_property
    def now(self) -> Limits:
        return limits(self._site.work, self._site.plan)

    def keep(self, worked_out: Limits) -> None:
        """Those with the savings, from now on."""
        self.__dict__["now"] = worked_out


def _worked_out(now: Limits, work: Work, plan: Plan, asked: Asked, telling: Telling) -> Limits:
    """With the savings; handed out as the one part too."""

    found = with_savings(
        now, work, plan, most=asked.most, seconds=asked.seconds, tell=telling.tell, stop=telling.stopped
    )
    telling.part({"limits": as_row(found)})
    return found


def add_limits(router: APIRouter, site: Site) -> None:
    """The page, its JSON twin, and the run that plans again."""
    found = _Found(site)

    @router.get("/limits", include_in_schema=False)
    def page(request: Request) -> Response:
        weeks: dict[str, list[Limit]] = {}
        for row in found.now.weeks:
            weeks.setdefault(row.week, []).append(row)
        context = {
            "page": site, "answer": found.now, "headings": headings([top.week for top in found.now.tops]), "seconds": SECONDS, "present_weeks": PRESENT_WEEKS,
            "weeks": {week: worst_of(rows, SHOWN) for week, rows in weeks.items()}, "worst": candidates(found.now, site.work),
        }  # fmt: skip
        return TEMPLATES.TemplateResponse(request, "limits.html", context)

    @router.get("/api/limits", name="limits")
    def twin() -> Response:
        """What limits the shop week by week; with what more would save once that was asked for."""
        return Response(as_json(found.now), media_type=JSON)

    @router.post("/api/limits/savings", name="what a tenth more saves")
    def start(asked: Asked) -> Started:
        """Plan again with a tenth more of the resources that look worst."""
        work = partial(_worked_out, found.now, site.work, site.plan, asked)
        return Started(run=site.runs.start("What a tenth more would save", work, then=found.keep))
