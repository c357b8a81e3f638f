"""What a store shows while no plan of it can be followed: why, the plan that waits, and planning from now."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fastapi import APIRouter, Request
from starlette.exceptions import HTTPException
from starlette.responses import Response

from planner.answers.orders import orders
from planner.counted import counted
from planner.main_job import stored_job
from planner.store import ShopPlace, Store
from web.asking import told
from web.day import EXPECTED, SECONDS, add_entries
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

    @router.get("/{path:path}", include_in_schema=False)
    def page(request: Request, path: str) -> Response:
        if wants_json(request):
            raise HTTPException(409, " ".join([title, *reasons, TO_DO]))
        context = {"title": title, "reasons": reasons, "seconds": SECONDS, **told(lambda: _now(place))}
        return TEMPLATES.TemplateResponse(request, "unplanned.html", context, 409 if path else 200)


def _now(place: ShopPlace) -> dict[str, Any]:
    with Store(place) as store:
        return {"waiting": _waiting(store), "may_go_back": store.followed() is not None}


def _waiting(store: Store) -> dict[str, Any] | None:
    """The last plan that waits for a decision, and how it does."""
    plan = store.waiting()
    if plan is None:
        return None
    try:
        job = stored_job(store, plan)
    except EXPECTED as fault:
        return {"number": plan.id, "who": plan.who, "words": f"It cannot be read any more, so refuse it: {fault}"}
    rows = orders(job.work, job.plan)
    late = sum(row.late for row in rows)
    return {"number": plan.id, "who": plan.who, "words": f"{counted(len(rows), 'order')}, {late} of them late."}
