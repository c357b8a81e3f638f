"""What a store shows while no plan of it can be followed: why, the plan that waits, and planning from now."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fastapi import APIRouter, Request
from starlette.exceptions import HTTPException
from starlette.responses import Response

from planner.answers.orders import orders
from planner.counted import counted
from planner.main_job import Job
from planner.store import ShopPlace, Store
from web.asking import told
from web.day import SECONDS, Waiting, add_entries
from web.errors import wants_json
from web.running import Runs
from web.templating import TEMPLATES

TO_DO = "Plan from now and accept the plan, here or with 'batchwright replan' and 'batchwright accept'."


def add_unplanned(router: APIRouter, place: ShopPlace, runs: Runs, title: str, reasons: Sequence[str]) -> None:
    """One page at every address; what pages send is entered as ever.

    Parameters
    ----------
    title, reasons
        Why there is no plan to show, in a sentence, and more of it.
    """
    runs.add_routes(router)
    add_entries(router, place, runs)
    waiting = Waiting(_counts, str)

    @router.get("/{path:path}", include_in_schema=False)
    def page(request: Request, path: str) -> Response:
        if wants_json(request):
            raise HTTPException(409, " ".join([title, *reasons, TO_DO]))
        context = {"title": title, "reasons": reasons, "seconds": SECONDS, **told(lambda: _now(place, waiting))}
        return TEMPLATES.TemplateResponse(request, "unplanned.html", context, 409 if path else 200)


def _now(place: ShopPlace, waiting: Waiting) -> dict[str, Any]:
    with Store(place) as store:
        return {"waiting": waiting.plan(store), "may_go_back": store.followed() is not None}


def _counts(job: Job) -> str:
    rows = orders(job.work, job.plan)
    return f"{counted(len(rows), 'order')}, {sum(row.late for row in rows)} of them late."
