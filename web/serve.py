"""Serving an application on this machine."""

from __future__ import annotations

import uvicorn
from starlette.types import ASGIApp

from web.workers import WORKERS

HERE = "127.0.0.1"
PORT = 8021


def serve(app: ASGIApp, *, host: str = HERE, port: int = PORT) -> None:
    """Serve until Ctrl-C. Other machines can look only if ``host`` is given; port 0 takes any that is free."""
    WORKERS.get_ready()
    try:
        uvicorn.run(app, host=host, port=port, log_level="warning", timeout_graceful_shutdown=2)
    finally:
        WORKERS.end()
