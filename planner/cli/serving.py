"""Serving the pages on this machine: a plan, or the faults that stand in its way.

The one place of the planner that knows of the pages; they are loaded only when they are served.
"""

from __future__ import annotations

import ipaddress
import os
import socket
import threading
from typing import TYPE_CHECKING

import typer

from planner.answers.summary import summary
from planner.cli.output import say, say_json
from planner.cli.summary import show_summary
from planner.faults import DataFaults, PlanFileFault
from planner.main_job import Job, PlanRefused, load_plan
from planner.store import ShopPlace, Store

if TYPE_CHECKING:
    from starlette.types import ASGIApp

HOST = "127.0.0.1"
PORT = 8021


def serve_store(place: ShopPlace, host: str, port: int) -> None:
    """Serve a store until Ctrl-C: its accepted plan, whichever that is."""
    from web.app import create_store_app

    with Store(place) as store:
        _serve(create_store_app(store), host, port, "read the plan there, and book and accept under any name")


def tell_followed(place: ShopPlace, as_json: bool) -> None:
    """Say what a store's accepted plan comes to, or why there is none to show."""
    with Store(place) as store:
        is_followed = store.followed() is not None
    try:
        job = load_plan(place) if is_followed else None
    except (DataFaults, PlanFileFault, PlanRefused) as fault:
        job, why = None, f"The accepted plan cannot be shown: {fault}"
    else:
        why = "No plan is accepted now."
    if job is not None:
        data = summary(job.work, job.plan)
        say_json({"good": job.plan.complete, **data}) if as_json else show_summary(data, in_store=True)
    elif as_json:
        say_json({"good": False, "message": why})
    else:
        say(f"{why} The page says what to do.", stderr=True)


def serve_job(job: Job, folder: ShopPlace, host: str, port: int) -> None:
    """Serve a verified plan until Ctrl-C."""
    from web.app import create_app

    app = create_app(job.work, job.plan, job.shop, folder, job.accepted)
    threading.Thread(target=app.state.site.work_out_risk, daemon=True).start()
    _serve(app, host, port)


def serve_faults(found: DataFaults, host: str, port: int) -> None:
    """Serve the list of faults in the tables until Ctrl-C."""
    from web.app import create_fault_app

    _serve(create_fault_app(found.faults), host, port)


def free_port(host: str, port: int) -> int:
    """The port itself, or any free one for 0; a wrong use when it cannot be had."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        with socket.socket(family, socket.SOCK_STREAM) as probe:
            if os.name == "posix":  # elsewhere the option would let two programs share a port
                probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind((host, port))
            return probe.getsockname()[1]
    except (OSError, OverflowError) as fault:
        reason = getattr(fault, "strerror", None) or fault
        raise typer.BadParameter(
            f"cannot serve on {host} port {port} ({reason}); try --port 0 for any free port"
        ) from fault


def _serve(app: ASGIApp, host: str, port: int, may: str = "read the plan there") -> None:
    port = free_port(host, port)
    address = _reachable(host)
    shown = f"[{address}]" if ":" in address else address
    say(f"Pages on http://{shown}:{port}/  (Ctrl-C ends)")
    if not _loopback(host):
        say(f"Anyone who can reach this machine can {may}: no password is asked.")
    run_server(app, host, port)


def run_server(app: ASGIApp, host: str, port: int) -> None:
    """Serve until Ctrl-C."""
    from web.serve import serve

    serve(app, host=host, port=port)


def _reachable(host: str) -> str:
    """What a browser opens: the host itself, or for 'every address' (0.0.0.0, ::) the one this machine has for others."""
    try:
        if not ipaddress.ip_address(host).is_unspecified:
            return host
    except ValueError:
        return host
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # an address of no machine (RFC 5737); nothing is sent by this
            return probe.getsockname()[0]
        except OSError:
            return socket.gethostname()


def _loopback(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"
