"""Pages of a store: always those of the accepted plan, built anew when another one is accepted, or none any more."""

from __future__ import annotations

import threading
from collections.abc import Callable

from starlette.concurrency import run_in_threadpool
from starlette.types import ASGIApp, Receive, Scope, Send

from planner.store import StoreFault


class Following:
    """An application that changes with what it follows.

    Parameters
    ----------
    state
        What is followed now, as anything that can be compared; looked up at each request.
    build
        Makes the application for it.
    trouble
        Makes the one that answers while the store cannot be used; the next request tries again.
    """

    def __init__(
        self, state: Callable[[], object], build: Callable[[], ASGIApp], trouble: Callable[[StoreFault], ASGIApp]
    ) -> None:
        self._state, self._build, self._trouble = state, build, trouble
        self._lock = threading.Lock()
        self._seen: object = state()
        self._app = build()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        app = await run_in_threadpool(self._current) if scope["type"] == "http" else self._app
        await app(scope, receive, send)

    def _current(self) -> ASGIApp:
        try:
            state = self._state()
            if state != self._seen:
                with self._lock:  # others wait for the one that builds it
                    if state != self._seen:
                        self._app, self._seen = self._build(), state
        except StoreFault as fault:
            return self._trouble(fault)
        return self._app
