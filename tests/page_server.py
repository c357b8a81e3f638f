"""Serving an application to a real browser in tests, with a page that tells on whatever is amiss."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urljoin

import uvicorn
from fastapi import FastAPI
from playwright.sync_api import Browser, Page, sync_playwright

ARTIFACTS = Path(__file__).parent.parent / "test-artifacts"
WIDE, NARROW = (1400, 900), (390, 844)
Kept = tuple[Page, list[str]]  # and what is amiss with it


@contextmanager
def served(app: FastAPI) -> Iterator[str]:
    """The application on a free port of this machine; gives its address."""
    server = uvicorn.Server(uvicorn.Config(app, host="127.0.0.1", port=0, log_level="warning"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    for _ in range(400):
        if server.started:
            break
        time.sleep(0.02)
    try:
        port = server.servers[0].sockets[0].getsockname()[1]
        yield f"http://127.0.0.1:{port}"
    finally:
        server.should_exit = True
        thread.join(timeout=10)


@contextmanager
def browser(path: str) -> Iterator[Browser]:
    """Chromium without a window."""
    with sync_playwright() as tools:
        found = tools.chromium.launch(executable_path=path, args=["--no-sandbox"])
        try:
            yield found
        finally:
            found.close()


@contextmanager
def watched(found: Browser, base: str, size: tuple[int, int] = WIDE, touch: bool = False) -> Iterator[Page]:
    """A page that fails the test for a console error, an uncaught fault or a request that leaves this machine."""
    context = found.new_context(viewport={"width": size[0], "height": size[1]}, has_touch=touch)
    page = context.new_page()
    amiss = whatever_is_amiss(page, base)
    try:
        yield page
        assert amiss == []
    finally:
        context.close()


def whatever_is_amiss(page: Page, base: str) -> list[str]:
    """A list that is added to from now on."""
    amiss: list[str] = []
    page.on("console", lambda said: amiss.append(said.text) if said.type in ("error", "warning") else None)
    page.on("pageerror", lambda fault: amiss.append(str(fault)))
    page.on("request", lambda ask: amiss.append(ask.url) if not ask.url.startswith((base, "data:", "blob:")) else None)
    return amiss


@contextmanager
def kept(found: Browser, base: str) -> Iterator[Kept]:
    """A page that several tests use, one after the other: see :func:`cleared`."""
    with found.new_context() as context:
        page = context.new_page()
        yield page, whatever_is_amiss(page, base)


@contextmanager
def cleared(used: Kept, size: tuple[int, int] = WIDE) -> Iterator[Page]:
    """A page that others have used, as :func:`watched` gives a new one, in which plotly takes three seconds more."""
    page, amiss = used
    amiss.clear()
    page.set_viewport_size({"width": size[0], "height": size[1]})
    page.emulate_media(media="null")
    page.mouse.move(0, 0)
    try:
        yield page
        assert amiss == []
        page.evaluate("() => { localStorage.clear(); sessionStorage.clear(); }")
    finally:
        # a short one of the same origin: for any other the browser begins a new process
        page.goto(urljoin(page.url, "/vans"))


def shot(page: Page, name: str) -> None:
    """Keep a picture of the page for people to look at, down to where they stop looking: a long one takes seconds."""
    ARTIFACTS.mkdir(exist_ok=True)
    width, height = page.evaluate("[innerWidth, Math.min(document.documentElement.scrollHeight, 2400)]")
    clip = {"x": 0, "y": 0, "width": width, "height": height}
    page.screenshot(path=ARTIFACTS / f"{name}-{width}.png", full_page=True, clip=clip)


def fits_sideways(page: Page) -> bool:
    """Does the page fit its window sideways?"""
    return bool(page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth"))


def fits_at(page: Page, size: tuple[int, int], name: str) -> None:
    """In a window made this size the page fits sideways; keeps a picture of it."""
    page.set_viewport_size({"width": size[0], "height": size[1]})
    page.wait_for_function("width => window.innerWidth === width", arg=size[0])
    assert fits_sideways(page)
    shot(page, name)
