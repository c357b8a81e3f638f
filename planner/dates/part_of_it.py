"""How many pieces can be had by a date, behind everything."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import isqrt

from planner.dates.enquiry import Asked, Enquiry, asked
from planner.dates.placing import behind, finish_of
from planner.main_job import Job
from planner.plan import Plan


def part_of_it(
    job: Job, enquiry: Enquiry, by_min: int, stop: Callable[[], bool] | None = None
) -> tuple[Asked, Plan] | None:
    """The most pieces found, up to those asked for, that are ready by ``by_min`` with nothing in the plan moved.

    Found by halving, as times and not as pieces until it is known within twice: a few of many are found in few looks, and what has
    been found when it is stopped is of the right order. More pieces are taken never to be ready sooner than fewer. Where that does not hold
    (another collection, another gap) the number is one that can be had, but a greater one may be possible too.

    Returns
    -------
    tuple[Asked, Plan] | None
        The lot of that many pieces and its plan; None where not one piece can be had by then, or when stopped before
        the first was found.
    """
    found: tuple[Asked, Plan] | None = None
    least, most = 1, enquiry.pieces
    while least <= most and not (stop is not None and stop()):
        middle = isqrt(least * most) if most > 2 * least else (least + most + 1) // 2
        pieces = middle if found else 1
        tried = asked(job, replace(enquiry, pieces=pieces))
        plan = behind(job, tried)
        if plan is not None and finish_of(tried, plan) <= by_min:
            found, least = (tried, plan), pieces + 1
        elif pieces == 1:
            return None
        else:
            most = pieces - 1
    return found
