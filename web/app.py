"""Applications: one for a plan, one for tables that cannot be planned.

app = create_app(work, plan, shop)
web.serve.serve(app, host="127.0.0.1", port=8000)
"""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from typing import Any

from fastapi import FastAPI
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import Response

from planner.counted import counted
from planner.faults import DataFaults, Fault, PlanFileFault
from planner.main_job import PlanRefused, load_plan
from planner.plan import AcceptedStep, Plan
from planner.shop import Shop
from planner.store import ShopPlace, Store, StoreFault
from planner.work import Work
from web import assets, errors, routes
from web.following import Following
from web.headers import SafeHeaders
from web.running import Runs
from web.site import Site
from web.templating import BAR, STORE_BAR, Place
from web.unplanned import add_unplanned


def create_app(
    work: Work,
    plan: Plan,
    shop: Shop | None = None,
    folder: ShopPlace | None = None,
    accepted: Sequence[AcceptedStep] = (),
    runs: Runs | None = None,
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
    runs
        Runs that go on when other pages take the place of these; without, they have their own.
    """
    site = Site(work, plan, shop, folder, accepted, runs)
    app = _bare_app(f"{work.shop}: plan", STORE_BAR if site.in_store else BAR, routes.FAILURES)
    app.state.site = site
    routes.add_routes(app.router, site)
    return app


def create_store_app(store: Store) -> Following:
    """Pages of a store's accepted plan, whichever that is; where there is none, or it cannot be read, one that says what to do.

    Raises
    ------
    StoreFault
        The store cannot be used.
    """
    runs = Runs()

    def build() -> FastAPI:
        if store.followed() is None:
            return _unplanned_app(store.place, runs, "No plan is accepted now.")
        try:
            job = load_plan(store.place)
        except (DataFaults, PlanFileFault, PlanRefused) as fault:
            return _unplanned_app(store.place, runs, "The accepted plan cannot be shown.", str(fault).splitlines())
        app = create_app(job.work, job.plan, job.shop, store.place, job.accepted, runs)
        draw_ahead(app.state.site)
        return app

    return Following(store.followed, build, _trouble_app)


def draw_ahead(site: Site) -> None:
    """Have it worked out how sure everything is, while nobody has asked yet."""
    threading.Thread(target=site.work_out_risk, daemon=True).start()


def _unplanned_app(place: ShopPlace, runs: Runs, title: str, reasons: Sequence[str] = ()) -> FastAPI:
    app = _bare_app(title, {}, routes.FAILURES)
    add_unplanned(app.router, place, runs, title, reasons)
    return app


def _trouble_app(fault: StoreFault) -> FastAPI:
    """Every address says that the store cannot be used just now, also to what is sent there."""
    failure = errors.Failure(503, "The store cannot be used just now", str(fault))
    return _failing_app("The store cannot be used", failure, ("GET", "POST"))


def create_fault_app(faults: Sequence[Fault]) -> FastAPI:
    """Every address answers 503 with all the faults, so that no page ever shows a plan from tables that are wrong."""
    files = counted(len({f.file for f in faults}), "table")
    detail = f"{counted(len(faults), 'thing')} to mend in {files}. Nothing was planned."
    return _failing_app("Faults in the shop's tables", errors.Failure(503, errors.TITLES[503], detail, tuple(faults)))


def _failing_app(title: str, failure: errors.Failure, methods: Sequence[str] = ("GET",)) -> FastAPI:
    """Every address answers with the same failure."""
    app = _bare_app(title, {})

    @app.api_route("/{path:path}", methods=list(methods), responses={503: {"model": errors.FailureAnswer}})
    def failing(request: Request, path: str) -> Response:
        return errors.answer(request, failure)

    return app


def _bare_app(
    title: str, bar: Mapping[str, Sequence[Place]], failures: dict[int | str, dict[str, Any]] | None = None
) -> FastAPI:
    """What every application has.

    Parameters
    ----------
    bar
        Places by what they are for, at the top of its pages where they lead somewhere.
    failures
        What any of its addresses may answer besides what it is for, in its description.
    """
    app = FastAPI(title=title, version="1", docs_url=None, redoc_url=None, responses=failures)
    app.state.bar = bar
    app.add_middleware(GZipMiddleware, minimum_size=1000, compresslevel=5)
    app.add_middleware(SafeHeaders)
    app.include_router(assets.router)
    app.mount("/static", assets.own_files, name="static")
    errors.add_handlers(app)
    return app
