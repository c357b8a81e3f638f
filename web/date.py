"""Asking for a date: a form, a run that hands out the answers as they come, and keeping an enquiry."""

from __future__ import annotations

from dataclasses import replace
from datetime import date as Day
from functools import partial
from typing import Annotated

from fastapi import APIRouter, Request
from pydantic import BaseModel, BeforeValidator, Field
from starlette.responses import Response

from planner.booked import with_past
from planner.dates import BEHIND, SECONDS, Dates, Enquiry, Reply, dates
from planner.dates.enquiry import asked, check_question, usual_class
from planner.dates.keeping import Kept as KeptOrder
from planner.dates.keeping import NewPart, answer_job, keep, like, steps_of, write_answer
from planner.dates.placing import behind
from planner.faults import DataFaults, QuestionFault
from planner.intake.reader import trimmed
from planner.main_job import Job, PlanRefused
from planner.plan import Plan
from planner.store import ShopPlace, Stale, StoreFault
from web.asking import Started, job_of, place_of, told
from web.site import Site
from web.templating import TEMPLATES
from web.worker import Telling

# Text as a cell of a table would have it; what is no text is left to the check of the type.
Cell = Annotated[str, BeforeValidator(lambda given: trimmed(given) if isinstance(given, str) else given)]


class Question(BaseModel):
    """What the form sends. With ``like`` the part is a new one, made as that one is; with ``steps`` one with those."""

    part: Cell = Field(max_length=200)
    pieces: int = Field(ge=1, le=1_000_000)
    wanted: Day | None = None
    earliest: Day | None = None
    priority: str = ""
    customer: str = Field("", max_length=200)
    like: Cell = ""
    steps: list[dict[str, str]] = Field([], max_length=100)  # of a new part: columns as in routings.csv
    sure: float = Field(0.9, ge=0.5, le=0.99)
    seconds: float = Field(SECONDS, ge=0.5, le=120)


class Keeping(Question):
    """The same, to be written into the tables as an order; provisional with a day up to which it holds its place."""

    number: Cell = Field(min_length=1, max_length=100)
    promise: Day | None = None
    hold_until: Day | None = None
    who: str = Field("", max_length=100)  # whose entry it is, in a store
    run: int | None = None  # that answered the question: how sure the promise was is kept with the order
    answer: str = BEHIND  # of the answers, the one whose pieces, and in a store plan, are kept


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
            "groups": sorted(shop.groups) if shop else [], "skills": sorted({s for p in shop.people.values() for s in p.skills}) if shop else [],
            "page": site, "parts": parts, "classes": classes, "usual": usual_class(shop) if shop else "", "seconds": SECONDS,
            "can_ask": shop is not None, "can_keep": site.folder is not None, "by_name": site.in_store,
        }  # fmt: skip
        return TEMPLATES.TemplateResponse(request, "date.html", context)

    @router.post("/api/date", name="ask for a date")
    def ask(question: Question) -> Started:
        """Start working a date out; its answers are parts of the run."""
        job = job_of(site)
        with_steps, _ = told(lambda: _enquiry(site, question))
        told(lambda: check_question(job.shop, with_steps))  # what is wrong with the question is said at once

        work = partial(_found, job, site.folder, with_steps, question.seconds, question.sure)
        what = f"A date for {question.pieces:,} of {question.part}"
        return Started(run=site.runs.start(what, work, (DataFaults, PlanRefused, QuestionFault, StoreFault)))

    @router.post("/api/date/keep", name="keep an enquiry")
    def hold(order: Keeping) -> Kept:
        """Write an enquiry into the shop's tables as an order; the plan shown here stays as it is."""
        place, shop = place_of(site), job_of(site).shop
        enquiry, new = told(lambda: _enquiry(site, order))
        found = site.runs.result(order.run or 0)
        if not isinstance(found, Dates) or (found.part_number, found.pieces) != (enquiry.part, enquiry.pieces):
            found = None  # it answered another question
        reply = told(lambda: _chosen(found, order.answer))
        if reply is not None:
            enquiry = replace(enquiry, pieces=reply.pieces)
        kept = told(
            lambda: keep(place, shop, enquiry, order.number, order.promise, order.hold_until, new, order.who, reply)
        )
        held = f"provisional until {order.hold_until}" if order.hold_until else "firm"
        plan = None if reply is None else reply.plan
        where = _plan_put_down(site, enquiry, kept, order.who, plan) if site.in_store else ""
        again = "plan from now on the Today page" if site.in_store else "plan again, with --keep,"
        how = f"{where} on the Today page: {order.answer}, as told here" if where else f"{again} to give it its place"
        note = f"Order {order.number} is among the orders, {held}. The plan on these pages does not have it yet: {how}."
        return Kept(number=order.number, note=note)


def _chosen(found: Dates | None, way: str) -> Reply | None:
    """The answer that is to be kept. None: behind everything, worked out anew.

    Raises
    ------
    QuestionFault
        That answer is not there, or not any more.
    """
    reply = next((r for r in found.replies if r.way == way), None) if found else None
    if reply is None and way != BEHIND:
        raise QuestionFault(
            [f"The answer '{way}' is not there (any more): nothing was written. Ask again, then keep it."]
        )
    return reply


def _plan_put_down(site: Site, enquiry: Enquiry, kept: KeptOrder, who: str, plan: Plan | None) -> str:
    """The plan of the answer, with the order in it, as one that waits in the store; '' where that cannot be: the order is in
    the tables then all the same."""
    job = job_of(site)
    try:
        plan = plan or behind(job, asked(job, enquiry))
        with_it = None if plan is None else answer_job(job, enquiry, kept, plan)
        return "" if with_it is None else write_answer(place_of(site), with_it, kept, None, who)
    except (DataFaults, PlanRefused, QuestionFault, Stale, StoreFault):
        return ""


def _found(job: Job, place: ShopPlace | None, enquiry: Enquiry, seconds: float, sure: float, telling: Telling) -> Dates:
    """Each answer is a part, as it is found, and what they rest on the last."""

    def tell(way: str, what: Reply | str) -> None:
        telling.part({"way": way, "better": what} if isinstance(what, str) else {"way": way, "reply": what.plain()})

    learn = partial(with_past, place)
    found = dates(job, enquiry, seconds=seconds, sure=sure, learn=learn, tell=tell, stop=telling.stopped)
    own = {reply.way: reply.assumptions for reply in found.replies}
    telling.part({"all": {"wanted": found.wanted, "assumptions": found.assumptions, "own": own, "notes": found.notes}})
    return found


def _enquiry(site: Site, question: Question) -> tuple[Enquiry, NewPart | None]:
    """What is asked for, and the part with its steps where it is a new one."""
    new = _new_part(site, question)
    steps = () if new is None else steps_of(place_of(site), new)
    enquiry = Enquiry(
        question.part, question.pieces, question.wanted, question.earliest, question.priority, steps,
        customer=question.customer,
    )  # fmt: skip
    return enquiry, new


def _new_part(site: Site, question: Question) -> NewPart | None:
    if question.like and question.steps:
        raise QuestionFault(
            ["A new part is made like another one, or by steps of its own: leave one of the two empty."]
        )
    if question.steps:
        return NewPart(question.part, question.steps, "as asked")
    if not question.like:
        return None
    if question.like not in job_of(site).shop.routings:
        raise QuestionFault([f"There is no made part '{question.like}' to copy the steps of."])
    return like(place_of(site), question.like, question.part)
