"""A date for an enquiry, with only what is known that morning.

The enquiry goes into the gaps of the present plan as the product's own answer "behind everything" has it, so that nothing that
is promised moves; the plan with it is drawn many times. What is remembered of a quote is what the ways of promising
(``promising.py``) may use, then and in hindsight.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.answers.feeds import order_finish
from planner.dates.enquiry import Enquiry as Question
from planner.dates.enquiry import asked
from planner.dates.placing import behind, retimed
from planner.main_job import Job
from planner.risk import draw
from planner.risk.allowance import delayed, later_min, shop_hours
from planner.risk.record import Record
from planner.work import Work
from replay.learning import Bookings
from replay.stream import Enquiry
from replay.world import World, day_of


@dataclass(frozen=True)
class Quote:
    """What is known when a date is given. Minutes from the opening of day ``day``; ``drawn`` (with ``later``, the open
    minutes for work that is not ordered yet) is sorted; ``plain`` is without.

    ``backlog_days``: planned work on the limiting group, in days of all its machines. ``record``: of earlier quotes, those of
    orders that go outside too, or that do not.
    """

    day: int
    planned_min: int
    drawn: np.ndarray
    plain: np.ndarray
    later: np.ndarray
    backlog_days: float
    record: Record


def placed(job: Job, enquiry: Enquiry, world: World) -> Job | None:
    """The job with the enquiry in the gaps of its plan; None where it finds no time within the known calendars."""
    item = world.items[enquiry.item]
    here = day_of(enquiry.day + enquiry.material_days)
    question = Question(item.part, enquiry.quantity, earliest=here, priority="normal", number=enquiry.number)
    found = asked(job, question)
    plan = behind(job, found)
    own = None if plan is None else retimed(found.work, plan, found.work)
    return None if own is None else Job(found.shop, found.work, own)


def quoted(job: Job, enquiry: Enquiry, world: World, bookings: Bookings, draws: int, seed: int) -> Quote:
    """The quote of an enquiry that is in the plan."""
    day = enquiry.day
    order = next(o for o in job.work.orders if o.number == enquiry.number)
    planned = order_finish(job.work, job.plan.step_of(), order)
    assert planned is not None
    plain = draw(job.work, job.plan, bookings.spreads(job.shop, job.work, day), draws=draws, seed=seed)
    finish = plain.finish[:, order.index]
    later = later_min(job.work, job.plan, order.index, bookings.stations(job.shop), draws, seed)
    put_off = delayed(finish, later, shop_hours(job.work))
    record = bookings.record(day, world.items[enquiry.item].outside)
    return Quote(day, planned, np.sort(put_off), finish, later, backlog_days(job, world), record)


def backlog_days(job: Job, world: World) -> float:
    """Work on the limiting group that is planned, in days of eight hours of all its machines."""
    group = next(i for i, g in enumerate(job.work.groups) if g.name == world.limiting)
    machines = job.work.groups[group].machines
    left = sum(_left_min(job.work, s.operation, s.machine) for s in job.plan.steps if s.machine in machines)
    return left / (480 * len(machines))


def _left_min(work: Work, operation: int, machine: int | None) -> int:
    op = work.operations[operation]
    on = next(a for a in op.alternatives if a.machine == machine)
    setup = op.setup_left_min if op.begun else on.setup_min
    return setup + op.pieces_left * on.cycle_sec // 60
