"""Asking for a date: a form, a run that hands out the answers as they come, and keeping an enquiry."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date as Day
from typing import Any

from fastapi import APIRouter, Request
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException
from starlette.responses import Response

from planner.dates import SECONDS, Dates, Enquiry, Reply, dates
from planner.dates.enquiry import asked, usual_class
from planner.dates.keeping import NewPart, keep, like, steps_of
from planner.faults import DataFaults, QuestionFault
from planner.main_job import Job
from planner.shop import Shop
from web.running import Report
from web.site import Site
from web.templating import TEMPLATES


class Question(BaseModel):
    """What the form sends. With ``like`` the part is a new one, made as that one is."""

    part: str = Field(max_length=200)
    pieces: int = Field(ge=1, le=1_000_000)
    wanted: Day | None = None
    earliest: Day | None = None
    priority: str = ""
    customer: str = Field("", max_length=200)
    like: str = ""
    sure: float = Field(0.9, ge=0.5, le=0.99)
    seconds: float = Field(SECONDS, ge=0.5, le=120)


class Keeping(Question):
    """The same, to be written into the tables as an order; provisional with a day up to which it holds its place."""

    number: str = Field(min_length=1, max_length=100)
    promise: Day | None = None
    hold_until: Day | None = None


class Started(BaseModel):
    run: int


class Kept(BaseModel):
    number: str
    note: str


def add_date(router: APIRouter, site: Site) -> None:
    """The page, and what it sends."""

    @router.get("/date", include_in_schema=False)
    def page(request: Request) -> Response:
        shop = site.shop
        parts = sorted((p for p in shop.parts.values() if p.made), key=lambda p: p.number) if shop else []
        classes = sorted(shop.classes) if shop else []
        context = {
            "page": site, "parts": parts, "classes": classes, "usual": usual_class(shop) if shop else "",
            "can_ask": shop is not None, "can_keep": site.folder is not None,
        }  # fmt: skip
        return TEMPLATES.TemplateResponse(request, "date.html", context)

    @router.post("/api/date", name="ask for a date")
    def ask(question: Question) -> Started:
        """Start working a date out; its answers are parts of the run."""
        job = Job(_shop(site), site.work, site.plan)
        with_steps = _told(lambda: _enquiry(site, question))
        _told(lambda: asked(job, with_steps))  # what is wrong with the question is said at once

        def work(report: Report) -> None:
            def tell(way: str, what: Reply | str) -> None:
                report.part(
                    {"way": way, "better": what} if isinstance(what, str) else {"way": way, "reply": what.plain()}
                )

            found = dates(job, with_steps, seconds=question.seconds, sure=question.sure, tell=tell, stop=report.stopped)
            report.part({"all": _plain(found)})

        what = f"A date for {question.pieces:,} of {question.part}"
        return Started(run=site.runs.start(what, work, (DataFaults, QuestionFault)))

    @router.post("/api/date/keep", name="keep an enquiry")
    def hold(order: Keeping) -> Kept:
        """Write an enquiry into the shop's tables as an order; the plan shown here stays as it is."""
        if site.folder is None:
            raise HTTPException(
                409, "These pages were made without the folder of the shop's tables: nothing can be written."
            )
        folder, shop = site.folder, _shop(site)
        enquiry = _told(lambda: _enquiry(site, order))
        new = _told(lambda: _new_part(site, order))
        _told(lambda: keep(folder, shop, enquiry, order.number, order.promise, order.hold_until, new))
        held = f"provisional until {order.hold_until}" if order.hold_until else "firm"
        note = f"Order {order.number} is in orders.csv, {held}. The plan on these pages does not have it yet: plan again, with --keep, to give it its place."
        return Kept(number=order.number, note=note)


def _shop(site: Site) -> Shop:
    if site.shop is None:
        raise HTTPException(409, "These pages were made without the shop's tables: no date can be worked out.")
    return site.shop


def _enquiry(site: Site, question: Question) -> Enquiry:
    new = _new_part(site, question)
    steps = steps_of(site.folder, new) if new is not None and site.folder is not None else ()
    return Enquiry(
        question.part.strip(),
        question.pieces,
        question.wanted,
        question.earliest,
        question.priority,
        steps,
        customer=question.customer,
    )


def _new_part(site: Site, question: Question) -> NewPart | None:
    if not question.like:
        return None
    if site.folder is None:
        raise QuestionFault(
            ["These pages were made without the folder of the shop's tables: ask for a part that it has."]
        )
    if question.like not in _shop(site).routings:
        raise QuestionFault([f"There is no made part '{question.like}' to copy the steps of."])
    return like(site.folder, question.like, question.part.strip())


def _told(find: Callable[[], Any]) -> Any:
    """What is found; a question or tables that are wrong are the asker's to mend."""
    try:
        return find()
    except (DataFaults, QuestionFault) as fault:
        raise HTTPException(422, str(fault)) from fault


def _plain(found: Dates) -> dict[str, Any]:
    row = found.plain()
    return {name: row[name] for name in ("wanted", "assumptions", "notes")}
