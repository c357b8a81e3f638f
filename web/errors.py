"""One shape for everything that goes wrong, as a page or as JSON.

``{"error": {"status": 404, "title": ..., "detail": ..., "faults": [...]}}``; ``faults`` is empty except
where the shop's tables cannot be used.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from pydantic import BaseModel
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, Response

from planner.answers.why import ChainRefused
from planner.faults import Fault
from web.templating import TEMPLATES

TITLES = {
    404: "Not found",
    405: "Not possible here",
    409: "Not now",
    422: "Wrong question",
    503: "The shop's tables need mending",
}


@dataclass(frozen=True)
class Failure:
    """What went wrong and what to do about it, in words for the person at the screen."""

    status: int
    title: str
    detail: str
    faults: tuple[Fault, ...] = ()


class FailureAnswer(BaseModel):  # every address names it, twice: a model's schema is made once, a record's each time
    """The JSON document of a failure."""

    error: Failure


class NotHere(HTTPException):
    """Something asked for by name or number that this plan does not have."""

    def __init__(self, detail: str) -> None:
        super().__init__(404, detail)


def wants_json(request: Request) -> bool:
    """JSON is for addresses below ``/api/`` and for who asks for it; all else gets a page."""
    return f"{request.url.path}/".startswith("/api/") or "application/json" in request.headers.get("accept", "")


def answer(request: Request, failure: Failure) -> Response:
    """A page for people, or JSON."""
    if wants_json(request):
        return JSONResponse({"error": asdict(failure)}, failure.status)
    return TEMPLATES.TemplateResponse(request, "failure.html", {"page": failure}, failure.status)


def add_handlers(app: FastAPI) -> None:
    """Every failure of ``app`` goes through ``answer``."""

    @app.exception_handler(HTTPException)
    def http(request: Request, fault: HTTPException) -> Response:
        title = TITLES.get(fault.status_code, "That did not work")
        detail = fault.detail if isinstance(fault, NotHere) else f"Nothing is at {request.url.path}."
        if fault.status_code != 404:
            detail = str(fault.detail)
        return answer(request, Failure(fault.status_code, title, detail))

    @app.exception_handler(RequestValidationError)
    def invalid(request: Request, fault: RequestValidationError) -> Response:
        parts = (f"{'.'.join(str(p) for p in e['loc'])}: {e['msg']}" for e in fault.errors())
        return answer(request, Failure(422, TITLES[422], "; ".join(parts)))

    @app.exception_handler(ChainRefused)
    def refused(request: Request, fault: ChainRefused) -> Response:
        detail = f"The explanation does not agree with the plan and is not shown: {'; '.join(map(str, fault.breaches))}"
        return answer(request, Failure(500, "A fault in the program", detail))

    @app.exception_handler(Exception)
    def broken(request: Request, fault: Exception) -> Response:
        detail = "The page could not be made. The plan and the shop's tables are as they were."
        return answer(request, Failure(500, "A fault in the program", detail))
