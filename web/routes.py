"""Addresses: each page and its JSON twin below ``/api`` are made from the same record."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from fastapi import APIRouter, Request
from pydantic import TypeAdapter
from starlette.responses import RedirectResponse, Response

from web import errors
from web.chart import Chart, chart
from web.operation import OperationPage, operation_page
from web.site import Site
from web.templating import TEMPLATES

FAILURES: dict[int | str, dict[str, Any]] = {404: {"model": errors.FailureAnswer}, 422: {"model": errors.FailureAnswer}}


def router_for(site: Site) -> APIRouter:
    """All addresses of one plan."""
    router = APIRouter(responses=FAILURES)
    _chart_routes(router, site)
    return router


def _chart_routes(router: APIRouter, site: Site) -> None:
    document = lru_cache(maxsize=1)(lambda: as_json(chart(site)))

    @router.get("/", include_in_schema=False)
    def front() -> Response:
        return RedirectResponse("/plan")

    @router.get("/plan", include_in_schema=False)
    def plan_page(request: Request) -> Response:
        return TEMPLATES.TemplateResponse(request, "plan.html", {"page": site})

    @router.get("/api/plan", response_model=Chart)
    def plan_json() -> Response:
        """The plan chart: rows, open hours, bars."""
        return Response(document(), media_type="application/json")

    @router.get("/api/operations/{op}")
    def operation_json(op: int) -> OperationPage:
        """One operation with all its times."""
        return operation_page(site, op)


def as_json(record: Any) -> bytes:
    """A frozen record as JSON; many times quicker than going through dicts."""
    return TypeAdapter(type(record)).dump_json(record)
