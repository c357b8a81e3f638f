"""Ways to have an order sooner: a form, and a run that hands out each way as it has been planned."""

from __future__ import annotations

from datetime import date as Day

from fastapi import APIRouter, Request
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException
from starlette.responses import Response

from planner.alter import AlterFaults
from planner.explode.clock import clock_of
from planner.intake.nearest import did_you_mean
from planner.levers import Lever, sooner, weighing
from planner.levers.sooner import SECONDS
from planner.main_job import PlanRefused
from web.running import Report
from web.site import Site
from web.templating import TEMPLATES
from web.whatif import Started, job_of


class Question(BaseModel):
    """Which order is wanted by which day (its dispatch cut-off), and how long to search."""

    order: str = Field(max_length=200)
    by: Day
    seconds: float = Field(SECONDS, ge=1, le=600)


def add_sooner(router: APIRouter, site: Site) -> None:
    """The page, and what it sends."""

    @router.get("/sooner", include_in_schema=False)
    def page(request: Request, order: str = "") -> Response:
        late = [row for row in site.orders if row.late]
        context = {
            "page": site, "can_ask": site.shop is not None, "late": late, "order": order, "seconds": SECONDS,
            "orders": sorted(row.order for row in site.orders),
        }  # fmt: skip
        return TEMPLATES.TemplateResponse(request, "sooner.html", context)

    @router.post("/api/sooner", name="ask for ways to have an order sooner")
    def ask(question: Question) -> Started:
        """Start planning; each way is a part of the run as it is found, and the last part has them all in order."""
        job = job_of(site)
        rows = {row.order: row for row in site.orders}
        if question.order not in rows:
            mend = did_you_mean(question.order, rows, "choose one of the list.")
            raise HTTPException(422, f"There is no order '{question.order}' in the plan. {mend}")
        by_min = clock_of(job.shop).due(question.by)

        def work(report: Report) -> None:
            def found(lever: Lever) -> None:
                report.part({"way": lever.row})

            levers = sooner(
                job, question.order, by_min, seconds=question.seconds, stop=report.stopped, found=found,
                progress=lambda words, share: report.say(words=words, share=round(share, 3)),
            )  # fmt: skip
            row = rows[question.order]
            report.part({
                "all": [lever.row for lever in levers], "weighing": weighing(job.shop.settings), "order": row.order,
                "due": row.due, "planned": row.expected, "wanted": site.clock.text(by_min),
            })  # fmt: skip

        what = f"Ways to have order {question.order} sooner"
        return Started(run=site.runs.start(what, work, (AlterFaults, PlanRefused)))
