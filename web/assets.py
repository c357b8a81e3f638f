"""Scripts and styles, all from this machine: our own files, and plotly's from its installed package."""

from __future__ import annotations

import gzip
from functools import lru_cache
from importlib import metadata, resources
from pathlib import Path

from fastapi import APIRouter, Request
from fastapi.responses import Response
from starlette.staticfiles import StaticFiles

PLOTLY_VERSION = metadata.version("plotly")
PLOTLY_PATH = "/assets/plotly.min.js"
PLOTLY_URL = f"{PLOTLY_PATH}?v={PLOTLY_VERSION}"
A_YEAR = "public, max-age=31536000, immutable"

router = APIRouter()
own_files = StaticFiles(directory=Path(__file__).parent / "static")


@lru_cache(maxsize=2)
def plotly_script(packed: bool) -> bytes:
    """plotly's script as it came, or packed once with gzip (4.8 MB becomes 1.5 MB)."""
    raw = resources.files("plotly").joinpath("package_data", "plotly.min.js").read_bytes()
    return gzip.compress(raw, 6, mtime=0) if packed else raw


@router.get(PLOTLY_PATH, include_in_schema=False)
def plotly(request: Request) -> Response:
    """Kept by browsers for a year: a new version has a new address."""
    packed = "gzip" in request.headers.get("accept-encoding", "")
    etag = f'"plotly-{PLOTLY_VERSION}{"-gz" if packed else ""}"'
    headers = {"Cache-Control": A_YEAR, "ETag": etag, "Vary": "Accept-Encoding"}
    if request.headers.get("if-none-match") == etag:
        return Response(status_code=304, headers=headers)
    if packed:
        headers["Content-Encoding"] = "gzip"
    return Response(plotly_script(packed), media_type="text/javascript", headers=headers)
