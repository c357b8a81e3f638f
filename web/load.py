"""The load page, in each of its three views, by week or by day."""

from __future__ import annotations

from functools import lru_cache

from fastapi import APIRouter, Request
from starlette.responses import Response

from planner.answers.load import By, View, load
from web.headers import POLICY_WITH_PLOTLY
from web.loads import LoadView, load_view
from web.pages import JSON, as_json
from web.site import Site
from web.templating import TEMPLATES

VIEWS = {
    View.PLANNED: ("As planned", "Setting and running where the plan has them, as a share of the hours there are."),
    View.LATEST: (
        "Before levelling",
        "Every step at its latest dates, back from the due dates: where demand truly falls. Nothing is cut off at 100 %.",
    ),
    View.BACKLOG: (
        "Backlog",
        "All that has to be done by the end of each period, released or not, against all hours to then. Above 100 % no order of work can help.",
    ),
}


def add_load(router: APIRouter, site: Site) -> None:
    """The page and its JSON twin."""

    @lru_cache(maxsize=len(View) * len(By))
    def answer(view: View, by: By) -> LoadView:
        found = site.load if (view, by) == (View.PLANNED, By.WEEK) else load(site.work, site.plan, view, by)
        return load_view(found, site.feeds.classes)

    @lru_cache(maxsize=len(View) * len(By))
    def document(view: View, by: By) -> bytes:
        return as_json(answer(view, by))

    @router.get("/load", include_in_schema=False)
    def page(request: Request, view: View = View.PLANNED, by: By = By.WEEK) -> Response:
        context = {"page": site, "answer": answer(view, by), "views": VIEWS, "view": view, "by": by}
        return TEMPLATES.TemplateResponse(
            request, "load.html", context, headers={"Content-Security-Policy": POLICY_WITH_PLOTLY}
        )

    @router.get("/api/load", name="load")
    def twin(view: View = View.PLANNED, by: By = By.WEEK) -> Response:
        """Hours needed and hours there are, by ISO week or day: as planned, at the latest dates, or as backlog."""
        return Response(document(view, by), media_type=JSON)
