"""The longer view and batch quantities: both from the tables alone, so the pages need the shop and no plan."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from planner.answers.caution_words import EXTRA_HOURS, SENT_OUT
from planner.capacity.months import long_view
from planner.capacity.quantities import CONFIDENCES, quantities
from planner.shop import Shop
from web.headers import POLICY_WITH_PLOTLY
from web.pages import JSON, as_json
from web.site import Site
from web.templating import TEMPLATES

NO_SHOP = "These pages were made without the shop's tables: this cannot be worked out."


def add_longer(router: APIRouter, site: Site) -> None:
    """Two pages and their JSON twins."""
    _add(router, site, "months", long_view, "Rough load by month, and how many of a product fit in beside other work.")
    _add(router, site, "quantities", quantities, "What quantity to make each part of the own products in, and why.")


def _add(router: APIRouter, site: Site, name: str, find: Callable[[Shop], Any], what: str) -> None:
    @lru_cache(maxsize=1)
    def answer() -> Any:
        return None if site.shop is None else find(site.shop)

    document = lru_cache(maxsize=1)(lambda: as_json(answer()))

    @router.get(f"/{name}", include_in_schema=False)
    def page(request: Request) -> Response:
        context = {
            "page": site, "answer": answer(), "no_shop": NO_SHOP, "confidences": CONFIDENCES,
            "cautions": (EXTRA_HOURS, SENT_OUT),
        }  # fmt: skip
        headers = {"Content-Security-Policy": POLICY_WITH_PLOTLY}
        return TEMPLATES.TemplateResponse(request, f"{name}.html", context, headers=headers)

    @router.get(f"/api/{name}", description=what, name=name)
    def twin() -> Response:
        return Response(document(), media_type=JSON)
