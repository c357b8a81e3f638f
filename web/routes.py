"""Addresses: each page and its JSON twin below ``/api`` are made from the same record."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from fastapi import APIRouter, HTTPException, Request
from fastapi.routing import APIRoute
from starlette.responses import Response

from web import errors
from web.chart import Chart, chart
from web.date import add_date
from web.day import add_day
from web.limits import add_limits
from web.load import add_load
from web.longer import add_longer
from web.operation import OperationPage, operation_page
from web.pages import add_pages, as_json
from web.risk import add_risk
from web.site import Site
from web.sooner import add_sooner
from web.templating import TEMPLATES
from web.whatif import add_whatif
from web.why import add_why

FAILURES: dict[int | str, dict[str, Any]] = {404: {"model": errors.FailureAnswer}, 422: {"model": errors.FailureAnswer}}


def add_routes(router: APIRouter, site: Site) -> None:
    """All addresses of one plan, on the application's own router: those of one that it includes are made twice."""
    add_pages(router, site)
    add_risk(router, site)
    add_load(router, site)
    add_limits(router, site)
    add_longer(router, site)
    _chart_routes(router, site)
    add_date(router, site)
    add_whatif(router, site)
    add_sooner(router, site)
    site.runs.add_routes(router)
    add_why(router, site)
    add_day(router, site)
    _index_route(router)


def _chart_routes(router: APIRouter, site: Site) -> None:
    document = lru_cache(maxsize=1)(lambda: as_json(chart(site)))

    @router.get("/plan", include_in_schema=False)
    def plan_page(request: Request) -> Response:
        return TEMPLATES.TemplateResponse(request, "plan.html", {"page": site})

    @router.get("/api/plan", response_model=Chart, name="plan")
    def plan_json() -> Response:
        """The plan chart: rows, open hours, bars."""
        return Response(document(), media_type="application/json")

    @router.get("/api/operations/{op}", name="one operation")
    def operation_json(op: int, plan: str | None = None) -> OperationPage:
        """One operation with all its times; 409 where ``plan`` (as the chart names it) is not the plan any more."""
        if plan not in (None, site.mark):
            raise HTTPException(409, "Another plan is shown by now: load the page again.")
        return operation_page(site, op)


def _index_route(router: APIRouter) -> None:
    @router.get("/api", include_in_schema=False)
    def index(request: Request) -> dict[str, str]:
        """Addresses of all the JSON documents, and of their description; not of runs, which come and go."""
        found = {
            r.name: r.path
            for r in router.routes
            if isinstance(r, APIRoute)
            and r.path.startswith("/api/")
            and "GET" in (r.methods or ())
            and "{number}" not in r.path
        }
        return {**found, "description of these": "/openapi.json"}
