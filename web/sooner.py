"""Ways to have an order sooner: a form, and a run that hands out each way as it has been planned."""

from __future__ import annotations

from datetime import date as Day
from functools import partial
from typing import Any

from fastapi import APIRouter, Request
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException
from starlette.responses import Response

from planner.alter import Alteration, AlterFaults
from planner.alter.named import row_of
from planner.alter.orders import NewOrder
from planner.answers.feeds import order_finish
from planner.dates.enquiry import Enquiry, asked
from planner.dates.placing import with_enquiry
from planner.explode.clock import clock_of
from planner.intake.nearest import did_you_mean
from planner.levers import Lever, sooner, weighing
from planner.levers.lever import noise_text
from planner.levers.sooner import SECONDS, check_wanted
from planner.main_job import Job, PlanRefused
from web.asking import Started, job_of, told
from web.clock import Clock
from web.site import Site
from web.templating import TEMPLATES
from web.worker import Telling


class Question(BaseModel):
    """Which order is wanted by which day (its dispatch cut-off), and how long to search.

    With ``part`` and ``pieces`` it is about an enquiry, which is planned behind everything first.
    """

    order: str = Field("", max_length=200)
    by: Day
    part: str = Field("", max_length=200)
    pieces: int = Field(0, ge=0, le=1_000_000)
    earliest: Day | None = None
    seconds: float = Field(SECONDS, ge=1, le=600)


def add_sooner(router: APIRouter, site: Site) -> None:
    """The page, and what it sends."""

    @router.get("/sooner", include_in_schema=False)
    def page(
        request: Request, order: str = "", by: str = "", part: str = "", pieces: int = 0, earliest: str = ""
    ) -> Response:
        late = [row for row in site.orders if row.late]
        context = {
            "page": site, "can_ask": site.shop is not None, "late": late, "order": order, "seconds": SECONDS,
            "orders": sorted(row.order for row in site.orders), "by": by, "part": part, "pieces": pieces, "earliest": earliest,
        }  # fmt: skip
        return TEMPLATES.TemplateResponse(request, "sooner.html", context)

    @router.post("/api/sooner", name="ask for ways to have an order sooner")
    def ask(question: Question) -> Started:
        """Start planning; each way is a part of the run as it is found, and the last part has them all in order."""
        job, number, first = _asked(site, question)
        before = [row_of(change) for change in first]
        by_min = clock_of(job.shop).due(question.by)
        told(lambda: check_wanted(job.work, by_min))

        work = partial(_ways, job, number, by_min, question.seconds, bool(question.part), before)
        what = f"Ways to have {number} sooner"
        return Started(run=site.runs.start(what, work, (AlterFaults, PlanRefused)))


def _ways(
    job: Job, number: str, by_min: int, seconds: float, enquiry: bool, before: list[dict[str, Any]], telling: Telling
) -> None:
    """Each way is a part, as it is found, and all in order the last."""

    def found(lever: Lever) -> None:
        telling.part({"way": lever.row, "before": before})

    ways = sooner(job, number, by_min, seconds=seconds, stop=telling.stopped, found=found, progress=telling.tell)
    clock, order = Clock(job.work), next(o for o in job.work.orders if o.number == number)
    ready = order_finish(job.work, job.plan.step_of(), order)
    telling.part({
        "all": [lever.row for lever in ways.levers], "already": ways.already, "noise_min": ways.noise_min, "short": ways.short,
        "noise": "" if ways.already else noise_text(ways.noise_min, ways.short), "before": before, "weighing": weighing(job.shop.settings), "order": number,
        "due": "" if enquiry else clock.text(order.due_min), "wanted": clock.text(by_min),
        "planned": "not planned" if ready is None else clock.text(ready),
    })  # fmt: skip


def _asked(site: Site, question: Question) -> tuple[Job, str, list[Alteration]]:
    """The shop with its plan, the number of the order that it is about, and what a what if has to begin with to have it."""
    job = job_of(site)
    if not question.part:
        rows = [row.order for row in site.orders]
        if question.order not in rows:
            mend = did_you_mean(question.order, rows, "choose one of the list.")
            raise HTTPException(422, f"There is no order '{question.order}' in the plan. {mend}")
        return job, question.order, []
    enquiry = told(lambda: asked(job, Enquiry(question.part, question.pieces, question.by, question.earliest)))
    found = told(lambda: with_enquiry(job, enquiry))
    if found is None:
        raise HTTPException(422, "The enquiry finds no time within the known calendars.")
    order = found.shop.orders[enquiry.work.orders[enquiry.order].number]
    added = NewOrder(order.number, order.quantity, order.part, order.due, order.priority, order.material_date)
    return found, order.number, [added]
