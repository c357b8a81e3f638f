"""How sure the plan is: a page, its JSON twin, and what the orders page asks for its own column."""

from __future__ import annotations

from dataclasses import dataclass, replace

from fastapi import APIRouter, Request
from pydantic import TypeAdapter
from starlette.responses import Response

from planner.answers.risk import DRAW, Risk
from planner.booked import dates_given, record_of
from planner.faults import PlanFileFault
from web.errors import NotHere
from web.site import Site
from web.templating import TEMPLATES


@dataclass(frozen=True)
class RiskPage:
    """``answer`` is None where the plan cannot be timed again; ``fault`` then says why."""

    answer: Risk | None
    fault: str = ""

    @property
    def unsure(self) -> int:
        """Orders whose chance to be in time is below the one the safe day has."""
        return sum(100 * r.on_time < self.answer.sure_percent for r in self.answer.orders) if self.answer else 0


def add_risk(router: APIRouter, site: Site) -> None:
    """The page and its twin; what they show is worked out when it is first asked for."""

    @router.get("/risk", include_in_schema=False)
    def page(request: Request) -> Response:
        return TEMPLATES.TemplateResponse(request, "risk.html", {"page": site, "view": _view(site), "draw": DRAW})

    @router.get("/api/risk", response_model=Risk, name="risk")
    def twin() -> Response:
        """How sure each order and each kit is, over a thousand draws."""
        view = _view(site)
        if view.answer is None:
            raise NotHere(view.fault)
        return Response(TypeAdapter(Risk).dump_json(view.answer), media_type="application/json")


def _view(site: Site) -> RiskPage:
    try:
        return RiskPage(replace(site.risk, record=record_of(dates_given(site.folder))))
    except PlanFileFault as fault:
        return RiskPage(None, str(fault))
