"""Templates: everything that goes into a page is escaped."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from fastapi.templating import Jinja2Templates
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from planner.answers.wording import capital, elapsed_text, late_text, pounds, span_text
from planner.counted import counted
from web.assets import PLOTLY_URL
from web.loads import mark

HERE = Path(__file__).parent


@dataclass(frozen=True)
class Place:
    """One entry of the bar at the top of each page."""

    path: str
    title: str


DAY_PLACES = (Place("/today", "Today"), Place("/booking", "Booking"))  # where the shop is in a store
BAR = {
    "Each day": (Place("/lists", "Lists"), Place("/kits", "Kits"), Place("/vans", "Vans")),
    "The plan": (Place("/", "Summary"), Place("/plan", "Plan"), Place("/orders", "Orders"), Place("/risk", "Risk")),
    "Questions": (Place("/date", "When?"), Place("/sooner", "Sooner?"), Place("/whatif", "What if?")),
    "Capacity": (
        Place("/load", "Load"), Place("/limits", "Limits"), Place("/months", "Months"), Place("/quantities", "Quantities")
    ),
}  # fmt: skip
STORE_BAR = {**BAR, "Each day": DAY_PLACES + BAR["Each day"]}


def _environment() -> Environment:
    found = Environment(
        loader=FileSystemLoader(HERE / "templates", encoding="utf-8"),
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    found.filters.update(
        capital=capital, counted=counted, span=span_text, elapsed=elapsed_text, late=late_text, pounds=pounds, full=mark
    )
    found.globals["plotly_url"] = PLOTLY_URL
    return found


TEMPLATES = Jinja2Templates(env=_environment())
