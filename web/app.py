"""Applications: one for a plan, one for tables that cannot be planned.

app = create_app(work, plan, shop)
web.serve.serve(app, host="127.0.0.1", port=8000)
"""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence

from fastapi import FastAPI
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import Response

from planner.counted import counted
from planner.faults import Fault
from planner.main_job import load_plan
from planner.plan import AcceptedStep, Plan
from planner.shop import Shop
from planner.store import ShopPlace, Store
from planner.work import Work
from web import assets, errors, routes
from web.following import Following
from web.headers import SafeHeaders
from web.site import Site
from web.templating import BAR, STORE_BAR, Place


def create_app(
    work: Work,
    plan: Plan,
    shop: Shop | None = None,
    folder: ShopPlace | None = None,
    accepted: Sequence[AcceptedStep] = (),
) -> FastAPI:
    """Pages and their JSON twins for one plan, which must have been verified before.

    Parameters
    ----------
    work, plan
        The plan and what it was made for.
    shop
        The shop's tables, for what ``work`` does not carry.
    folder
        Where they are: an enquiry can then be kept as an order, and a question by its name.
    accepted
        What the plan was made to stay close to.
    """
    site = Site(work, plan, shop, folder, accepted)
    app = _bare_app(f"{work.shop}: plan", STORE_BAR if site.in_store else BAR)
    app.state.site = site
    app.include_router(routes.router_for(site))
    return app


def create_store_app(store: Store) -> Following:
    """Pages of a store's accepted plan, also after another one is accepted; there must be one.

    Raises
    ------
    DataFaults, PlanFileFault, PlanRefused, StoreFault
        The accepted plan cannot be read or breaks a rule.
    """

    def build() -> FastAPI:
        job = load_plan(store.place)
        app = create_app(job.work, job.plan, job.shop, store.place, job.accepted)
        threading.Thread(target=app.state.site.work_out_risk, daemon=True).start()
        return app

    return Following(store.followed, build)


def create_fault_app(faults: Sequence[Fault]) -> FastAPI:
    """Every address answers 503 with all the faults, so that no page ever shows a plan from tables that are wrong."""
    app = _bare_app("Faults in the shop's tables", {})
    files = counted(len({f.file for f in faults}), "table")
    detail = f"{counted(len(faults), 'thing')} to mend in {files}. Nothing was planned."
    failure = errors.Failure(503, errors.TITLES[503], detail, tuple(faults))

    @app.get("/{path:path}", responses={503: {"model": errors.FailureAnswer}})
    def all_faults(request: Request, path: str) -> Response:
        return errors.answer(request, failure)

    return app


def _bare_app(title: str, bar: Mapping[str, Sequence[Place]]) -> FastAPI:
    """What every application has; ``bar``: places by what they are for, at the top of its pages where they lead somewhere."""
    app = FastAPI(title=title, version="1", docs_url=None, redoc_url=None)
    app.state.bar = bar
    app.add_middleware(GZipMiddleware, minimum_size=1000, compresslevel=5)
    app.add_middleware(SafeHeaders)
    app.include_router(assets.router)
    app.mount("/static", assets.own_files, name="static")
    errors.add_handlers(app)
    return app
