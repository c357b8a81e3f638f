"""Pages that show one answer of the planner each, and their JSON twins."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from functools import lru_cache
from typing import Any

from fastapi import APIRouter, Request
from pydantic import TypeAdapter
from starlette.responses import Response

from planner.answers.kits import kits
from planner.answers.lists import MachineTask, PersonTask, machine_csv, machine_lists, person_csv, person_lists
from planner.answers.summary import summary
from planner.answers.vans import vans
from planner.intake.convert import Unfit
from planner.intake.convert import day as day_in
from web.errors import NotHere
from web.left_alone import left_alone_now
from web.site import Site
from web.templating import TEMPLATES

JSON = "application/json"


def as_json(record: Any) -> bytes:
    """A record, or a list or dictionary of them, as JSON; many times quicker than going through dicts."""
    return TypeAdapter(type(record)).dump_json(record)


def add_pages(router: APIRouter, site: Site) -> None:
    """The front page and one page for each answer."""
    _add(
        router,
        site,
        "/",
        "summary",
        lambda: summary(site.work, site.plan),
        "Orders on time and late, cost, state, cautions.",
        lambda: left_alone_now(site),
    )
    _add(router, site, "/orders", "orders", lambda: list(site.orders), "Each order: due, expected, what it waits for.")
    _add(router, site, "/kits", "kits", lambda: kits(site.work, site.plan), "What each batch of parents waits for.")
    _add(router, site, "/vans", "vans", lambda: vans(site.work, site.plan), "Collections, deliveries and charges.")
    _add_lists(router, site)


def _add(
    router: APIRouter, site: Site, path: str, name: str, find: Callable[[], Any], what: str,
    now: Callable[[], Mapping[str, Any]] = dict,
) -> None:  # fmt: skip
    """A page from ``<name>.html`` at ``path``, and the same record as JSON at ``/api/<name>``.

    ``now``: what else the page shows, found each time; the record is the plan's and is found once.
    """
    answer = lru_cache(maxsize=1)(find)
    document = lru_cache(maxsize=1)(lambda: as_json(answer()))

    @router.get(path, include_in_schema=False)
    def page(request: Request) -> Response:
        context = {"page": site, "answer": answer(), **now()}
        return TEMPLATES.TemplateResponse(request, f"{name}.html", context)

    @router.get(f"/api/{name}", description=what, name=name)
    def twin() -> Response:
        return Response(document(), media_type=JSON)


# --- lists, by machine or person and day -----------------------------------------------------

Tasks = list[MachineTask] | list[PersonTask]


def _add_lists(router: APIRouter, site: Site) -> None:
    @router.get("/lists", include_in_schema=False)
    def page(request: Request, who: str = "machines", day: str | None = None) -> Response:
        day = site.clock.days(0)[0].iso if day is None else day
        found = _lists(site, who, day)
        sheets: dict[str, list[Any]] = {}
        for task in found:
            sheets.setdefault(task.machine if isinstance(task, MachineTask) else task.person, []).append(task)
        context = {
            "page": site, "who": who, "day": day, "sheets": sheets, "by_person": _by_person(who),
            "days": site.clock.days(max([0, *(s.run_end for s in site.plan.steps)])),
        }  # fmt: skip
        return TEMPLATES.TemplateResponse(request, "lists.html", context)

    @router.get("/lists.csv", include_in_schema=False)
    def table(who: str = "machines", day: str = "") -> Response:
        found = _lists(site, who, day)
        text = (person_csv if _by_person(who) else machine_csv)(found)  # type: ignore[arg-type]
        name = "people" if _by_person(who) else "machines"
        headers = {"Content-Disposition": f'attachment; filename="list-{name}{"-" + day if day else ""}.csv"'}
        return Response("\ufeff" + text, media_type="text/csv; charset=utf-8", headers=headers)

    @router.get("/api/lists", description="Lists of machines or people, of one day or all.", name="lists")
    def twin(who: str = "machines", day: str = "") -> Response:
        return Response(TypeAdapter(list[Any]).dump_json(list(_lists(site, who, day))), media_type=JSON)


def _by_person(who: str) -> bool:
    return who == "people" or who.startswith("person:")


def _lists(site: Site, who: str, day: str) -> Tasks:
    """``who``: 'machines', 'people', 'machine:NAME' or 'person:NAME'; ``day``: an ISO date or '' for all."""
    kind, _, name = who.partition(":")
    wanted = _day(day)
    try:
        if kind in ("machines", "machine"):
            return machine_lists(site.work, site.plan, name if kind == "machine" else None, wanted, site.rooms)
        if kind in ("people", "person"):
            return person_lists(site.work, site.plan, name if kind == "person" else None, wanted)
    except KeyError as unknown:
        raise NotHere(f"The shop has no {kind} {name}. Choose one on the lists page.") from unknown
    raise NotHere(f"Lists are by machine or person, not by {who}. Choose one on the lists page.")


def _day(text: str) -> date | None:
    if not text:
        return None
    try:
        return day_in(text)
    except Unfit as wrong:
        raise NotHere(f"{text} is not a day of a plan; write it as 2027-07-05.") from wrong
