"""How sure an answer is: its plan timed again in draws of what usually goes otherwise, and what draws have been worth."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from planner.answers.wording import BEYOND, day_text, moment_text
from planner.dates.enquiry import Asked
from planner.dates.placing import as_listed, finish_of
from planner.dates.replies import Reply
from planner.risk import Spreads, draw, safe_day
from planner.risk.allowance import Station, delayed, later_min, shop_hours
from planner.risk.record import Record
from planner.work import NEVER

DRAWS = 300


def with_chances(
    asked: Asked, found: Reply, spreads: Spreads, stations: Mapping[str, Station], record: Record, sure: float,
    draws: int = DRAWS, seed: int = 1,
) -> Reply:  # fmt: skip
    """The reply with its likely date, its safe day and the chance of the wanted date.

    Draws hold the plan's running order. Where an enquiry stands in gaps that no running order gives to the minute, the
    order by starts is drawn, and what that makes of the planned date is taken off again.

    Parameters
    ----------
    stations
        Machine groups as queues by name: where the enquiry stands behind gaps of the plan, time is left for work that is not
        ordered yet (:func:`planner.risk.allowance.later_min`).
    record
        What became of earlier dates: how many of the draws a chance needs.
    sure
        How sure the safe day is to be, 0 to 1.
    """
    assert found.plan is not None
    plan = as_listed(asked, found.plan)
    if plan is None:
        return found
    seen = draw(asked.work, plan, spreads, draws, seed)
    shift = found.ready_min - finish_of(asked, plan)
    later = later_min(asked.work, plan, asked.order, stations, draws, seed)
    finish = delayed(seen.finish[:, asked.order], later, shop_hours(asked.work)) + shift
    needed = [record.needed(share) for share in (0.5, sure)]
    likely, safe = (min(NEVER, int(np.quantile(finish, share, method="inverted_cdf"))) for share in needed)
    said = min(sure, record.worth(needed[1]))  # less where even the last draw has not been worth it
    day = safe_day(asked.shop, safe)
    wanted = asked.wanted_min
    found = replace(found, drawn=np.sort(finish), record=record)
    return replace(
        found,
        likely=moment_text(asked.work, likely), likely_min=likely,
        safe=BEYOND if day is None else day_text(day), safe_min=safe,
        sure_percent=round(100 * said), chance_wanted=None if wanted is None else found.chance_by(wanted),
    )  # fmt: skip
