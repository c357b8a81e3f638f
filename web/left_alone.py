"""What the Summary page says of batches that are left as they are: those in the store now, each with its undo."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from planner.answers.proposals import LEFT_ALONE_FILE, switched_off_by
from planner.day.left_alone import LeftAlone, left_alone
from planner.explode.left_alone import meant
from planner.store import ShopPlace, Store
from web.asking import told
from web.site import Site


def left_alone_now(site: Site) -> Mapping[str, Any]:
    """For the page: all that is left alone (None where the shop is a folder), and of a proposal how to be without it.

    ``is_off``: is a proposal about these batches switched off from the next plan on?
    """
    place = site.folder
    rows = told(lambda: _rows(place)) if place is not None and site.in_store else None
    names = [row.batch for row in rows or ()]

    def is_off(batches: Sequence[str]) -> bool:
        return bool(meant(names, batches))

    words = {"switched_off_by": switched_off_by, "left_alone_file": LEFT_ALONE_FILE}
    return {"left_alone": rows, "is_off": is_off, **words}


def _rows(place: ShopPlace) -> list[LeftAlone]:
    with Store(place) as store:
        return left_alone(store)
