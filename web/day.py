"""The day on pages: what needs a look today, and bookings at a machine, made for a phone. Only where the shop is in a store."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, datetime
from functools import partial
from threading import Lock
from typing import Annotated, Any

from fastapi import APIRouter, Request
from pydantic import BaseModel, Field, StringConstraints
from starlette.exceptions import HTTPException
from starlette.responses import Response

from planner.day import acceptance
from planner.day.bookings import HANDLERS, book
from planner.day.clock import local_moment, moment_in
from planner.day.deciding import decide_and_time
from planner.day.decisions import HANDLERS as DECISIONS
from planner.day.decisions import Decision
from planner.day.differences import Differences, differences
from planner.day.events import HANDLERS as EVENTS
from planner.day.events import happen
from planner.day.happening import Event
from planner.day.record import Booking
from planner.day.refusal import Refused
from planner.day.station import OUTSIDE, Station, station
from planner.day.today import Days, Today
from planner.day.undo import undo
from planner.explode.left_alone import plain_names
from planner.faults import DataFaults, PlanFileFault
from planner.main_job import Job, PlanRefused, stored_job
from planner.store import Entry, ShopPlace, Stale, Store, StoredPlan, StoreFault
from web.asking import Started
from web.errors import NotHere
from web.replanning import planned_from_now
from web.running import Runs
from web.site import Site
from web.templating import TEMPLATES

SECONDS = 15.0
Who = Annotated[
    str, StringConstraints(strip_whitespace=True, min_length=1, max_length=100, pattern=r"^[^\x00-\x1f\x7f]*$")
]
EXPECTED = (Refused, DataFaults, PlanFileFault, PlanRefused, Stale, StoreFault)


class Marked(BaseModel):
    """``sent``: a mark of the sender's own, the same where the same is sent again because no answer came: it is entered once."""

    sent: str = Field("", max_length=64)


class Booked(Marked):
    """What the booking page sends."""

    what: str
    batch: str
    operation: int = Field(ge=1)
    who: Who
    machine: str = ""
    person: str = ""
    good: int | None = Field(None, ge=0, le=10_000_000)
    scrap: int | None = Field(None, ge=0, le=10_000_000)
    rework: int | None = Field(None, ge=0, le=10_000_000)
    setup_min: int = Field(0, ge=0, le=10_000)
    torn_down: bool = False
    of_good: bool = False


class Happened(Marked):
    """What the page sends of an event; which fields count depends on ``what``."""

    what: str
    subject: str = Field(min_length=1, max_length=200)
    who: Who
    until: datetime | None = None
    day: date | None = None
    quantity: int | None = Field(None, ge=0, le=10_000_000)
    priority: str = ""
    due: str = Field("", max_length=20)
    revision: str = Field("", max_length=50)
    reason: str = Field("", max_length=200)


class Decided(BaseModel):
    """What the plan page sends of a decision. ``until``: the moment to which a step is moved or held; local unless it names a zone."""

    what: str
    batch: str
    operation: int = Field(ge=1)
    who: Who
    machine: str = ""
    until: datetime | None = None


class Said(BaseModel):
    """An entry as the page tells it."""

    entry: int
    words: str


class Retimed(Said):
    """``changes``: what the plan timed again changes against the accepted one; it waits as ``plan``, or ``note`` says why none does."""

    breaks: list[str]
    plan: int | None
    changes: list[str] | None
    note: str


class Named(Marked):
    """Whose doing, and about which entry or plan (none: the last)."""

    who: Who
    number: int | None = None
    why: str = Field("", max_length=500)


class Planned(BaseModel):
    who: Who
    seconds: float = Field(SECONDS, ge=0.5, le=600)


def add_day(router: APIRouter, site: Site) -> None:
    """The pages, and what they send; nothing where the shop is a folder."""
    place = site.folder
    if place is None or site.shop is None or not site.in_store:
        return
    job = Job(site.shop, site.work, site.plan, site.accepted)
    days = Days(job)
    waiting = Waiting(lambda found: differences(job, found), lambda why: Differences((why,), (), ()))

    add_entries(router, place, site.runs)

    @router.get("/today", include_in_schema=False)
    def today_page(request: Request) -> Response:
        with _told(), Store(place) as store:
            found, plan = days.today(store), waiting.plan(store)
        context = {"page": site, "answer": found, "waiting": plan, "seconds": SECONDS, "names": _names(job)}
        return TEMPLATES.TemplateResponse(request, "today.html", context)

    @router.get("/api/today", name="today")
    def today_json() -> Today:
        """What is late, not booked, to be started today or not yet."""
        with _told(), Store(place) as store:
            return days.today(store)

    @router.get("/booking", include_in_schema=False)
    def booking_page(request: Request, at: str = "") -> Response:
        names = [*sorted(m.name for m in site.work.machines), OUTSIDE]
        found = None if not at else _station(place, job, at)
        people = sorted(job.shop.people)
        context = {"page": site, "names": names, "at": at, "answer": found, "people": people}
        return TEMPLATES.TemplateResponse(request, "booking.html", context)

    @router.get("/api/stations/{number}", name="one station")
    def station_json(number: str) -> Station:
        """What is at a machine now, and what comes next there."""
        return _station(place, job, number)


def add_entries(router: APIRouter, place: ShopPlace, runs: Runs) -> None:
    """What pages send: bookings, events, decisions, plans from now on, yes and no. All of it goes with and without an accepted plan."""

    def entered(by: Marked, enter: Callable[[Store, datetime], Entry]) -> Said:
        with _told(), Store(place, by.sent) as store:
            entry = enter(store, moment_in(store))
        return Said(entry=entry.id, words=entry.words)

    @router.post("/api/bookings", name="book")
    def book_it(booked: Booked) -> Said:
        """Enter what happened at a step."""
        if booked.what not in HANDLERS:
            raise HTTPException(422, f"There is no booking '{booked.what}'; there are {', '.join(HANDLERS)}.")
        fields = booked.model_dump(exclude={"who", "sent"})
        return entered(booked, lambda store, at: book(store, booked.who, Booking(**fields, at=at)))

    @router.post("/api/events", name="enter an event")
    def event(happened: Happened) -> Said:
        """Enter what happened to a machine, a person, an order, a van."""
        if happened.what not in EVENTS:
            raise HTTPException(422, f"There is no event '{happened.what}'; there are {', '.join(EVENTS)}.")
        fields = happened.model_dump(exclude={"who", "sent", "until"})

        def enter(store: Store, at: datetime) -> Entry:
            return happen(store, happened.who, Event(**fields, until=_until(store, happened.until), at=at))

        return entered(happened, enter)

    @router.post("/api/decisions", name="decide about a step")
    def decision(decided: Decided) -> Retimed:
        """Enter a decision; what it breaks as the plan stands, and what it changes with the plan timed again."""
        if decided.what not in DECISIONS:
            raise HTTPException(422, f"There is no decision '{decided.what}'; there are {', '.join(DECISIONS)}.")
        name = (decided.batch, decided.operation)
        with _told(), Store(place) as store:
            until = _until(store, decided.until)
            asked = Decision(decided.what, name, moment_in(store), decided.machine, until=until)
            found = decide_and_time(store, decided.who, asked)
        changes = None if found.changes is None else list(found.changes.words)
        return Retimed(
            entry=found.entry.id, words=found.entry.words, breaks=list(found.breaks), plan=found.plan, changes=changes,
            note=found.note,
        )  # fmt: skip

    @router.post("/api/undo", name="undo an entry")
    def undo_it(named: Named) -> Said:
        return entered(named, lambda store, at: undo(store, named.who, at, named.number))

    @router.post("/api/replan", name="plan from now")
    def replan(planned: Planned) -> Started:
        """Start a plan from now on; what it changes comes as a part of the run, and it waits to be accepted."""
        with _told(), Store(place) as store:
            at = moment_in(store)
        work = partial(planned_from_now, place, planned.who, at, planned.seconds)
        return Started(run=runs.start("a plan from now on", work, EXPECTED))

    @router.post("/api/accept", name="accept a plan")
    def accept(named: Named) -> Said:
        """The pages show the accepted plan from then on."""
        return entered(named, lambda store, at: acceptance.accept(store, named.who, at, named.number))

    @router.post("/api/refuse", name="refuse a plan")
    def refuse(named: Named) -> Said:
        return entered(named, lambda store, at: acceptance.refuse(store, named.who, at, named.number, named.why))

    @router.post("/api/unaccept", name="take the last acceptance back")
    def unaccept(named: Named) -> Said:
        return entered(named, lambda store, at: acceptance.undo_acceptance(store, named.who, at))


def _station(place: Any, job: Job, name: str) -> Station:
    with _told(), Store(place) as store:
        try:
            return station(store, job, name)
        except KeyError as unknown:
            raise NotHere(f"The shop has no machine {name}. Choose one on the booking page.") from unknown


def _names(job: Job) -> dict[str, list[str]]:
    """What events are about, by the table they are in; ``planned``: batches that are not released."""
    shop = job.shop
    receipts = sorted(r.reference for r in shop.receipts)
    return {
        "machines": sorted(shop.machines), "people": sorted(shop.people), "suppliers": sorted(shop.suppliers),
        "orders": sorted(shop.orders), "receipts": receipts, "coming": sorted([*shop.orders, *shop.batches, *receipts]),
        "parts": sorted(shop.parts), "batches": sorted(shop.batches), "classes": sorted(shop.classes),
        "planned": sorted(plain_names(job.work).keys() - shop.batches.keys()),
    }  # fmt: skip


class Waiting:
    """The last plan that waits for a decision, and what is told of it; found once for each that waits.

    Parameters
    ----------
    tell, unread
        What is told of it; of one that cannot be read, which can still be refused, why.
    """

    def __init__(self, tell: Callable[[Job], Any], unread: Callable[[str], Any]) -> None:
        self._tell, self._unread = tell, unread
        self._lock = Lock()
        self._shown: dict[str, Any] | None = None

    def plan(self, store: Store) -> dict[str, Any] | None:
        plan = store.waiting()
        if plan is None:
            return None
        with self._lock:
            if self._shown is None or self._shown["number"] != plan.id:
                self._shown = {"number": plan.id, "who": plan.who, "answer": self._answer(store, plan)}
            return self._shown

    def _answer(self, store: Store, plan: StoredPlan) -> Any:
        try:
            return self._tell(stored_job(store, plan))
        except EXPECTED as fault:
            return self._unread(f"It cannot be read any more, so refuse it: {fault}")


def _until(store: Store, moment: datetime | None) -> datetime | None:
    return None if moment is None else local_moment(store.sheets(), moment)


@contextmanager
def _told() -> Iterator[None]:
    """What cannot be is told to whoever entered it."""
    try:
        yield
    except EXPECTED as fault:
        raise HTTPException(409, str(fault)) from fault
