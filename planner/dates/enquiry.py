"""What someone asks for, and the shop with it: one more order, which is given what supplies all others leave."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from planner.explode import explode
from planner.explode.clock import clock_of
from planner.faults import QuestionFault
from planner.intake.nearest import did_you_mean
from planner.main_job import Job
from planner.shop import Operation, Order, Part, Routing, Shop
from planner.work import NEVER, Batch, Kind, Work

NUMBER = "enquiry"
LARGEST = 1_000_000  # pieces


@dataclass(frozen=True)
class Enquiry:
    """``pieces`` of ``part``: when?

    ``wanted`` is the date asked for (a plain date: ready by that day's dispatch cut-off). Nothing of it starts before
    ``earliest``, the day from which material can be here. ``steps`` is a routing for a part that the shop does not have
    yet; a part that has one is made by its own. ``priority`` is the class (empty: the one most orders have); it counts
    only where other orders have to yield, or when the enquiry is kept.
    """

    part: str
    pieces: int
    wanted: date | datetime | None = None
    earliest: date | None = None
    priority: str = ""
    steps: tuple[Operation, ...] = ()
    number: str = NUMBER
    customer: str = ""


@dataclass(frozen=True)
class Asked:
    """The shop and its work with the enquiry in it. ``order`` is its index among the orders."""

    enquiry: Enquiry
    shop: Shop
    work: Work
    order: int
    batches: frozenset[int]  # made for it alone
    wanted_min: int | None


def asked(job: Job, enquiry: Enquiry) -> Asked:
    """Put the enquiry into the job's shop; whatever is planned there is left as it is.

    Raises
    ------
    QuestionFault
        With everything that is wrong with the question.
    DataFaults
        Where a step of it could never be placed, as in the tables.
    """
    check_question(job.shop, enquiry)
    return in_shop(job, enquiry, *with_order(job.shop, enquiry))


def in_shop(job: Job, enquiry: Enquiry, shop: Shop, number: str) -> Asked:
    """The same, for a shop that has it as an order already."""
    work = explode(shop, job.accepted, job.work.proposals)
    known = {batch.name for batch in job.work.batches}
    own = frozenset(batch.index for batch in work.batches if batch.name not in known)
    order = next(order.index for order in work.orders if order.number == number)
    wanted = None if enquiry.wanted is None else clock_of(shop).due(enquiry.wanted)
    return Asked(enquiry, shop, work, order, own, wanted)


def with_order(shop: Shop, enquiry: Enquiry) -> tuple[Shop, str]:
    """The shop with the enquiry as an order that comes after all, and that order's number."""
    number = enquiry.number
    while number in shop.orders:
        number += "'"
    last = max((_day(order.due) for order in shop.orders.values()), default=shop.settings.plan_start.date())
    order = Order(
        number=number, customer=enquiry.customer, part=enquiry.part, quantity=enquiry.pieces,
        due=enquiry.wanted or last + timedelta(days=1), priority=enquiry.priority or usual_class(shop),
        material_date=enquiry.earliest, after_all=True, is_asked=True,
    )  # fmt: skip
    if enquiry.steps:
        part = Part(enquiry.part, "", "as asked", made=True, first_time=True)
        routing = Routing(enquiry.part, enquiry.steps)
        shop = replace(shop, parts={**shop.parts, part.number: part}, routings={**shop.routings, part.number: routing})
    return replace(shop, orders={**shop.orders, number: order}), number


def usual_class(shop: Shop) -> str:
    """The class that most orders have; of several the heaviest."""
    count = Counter(order.priority for order in shop.orders.values())
    return max(shop.classes.values(), key=lambda c: (count[c.name], c.weight, c.name)).name


def own_batches(asked: Asked) -> list[Batch]:
    """Batches made for the enquiry alone, those of components first."""
    return sorted((asked.work.batches[i] for i in asked.batches), key=lambda b: (b.name.count("/") == 0, b.name))


def goes_outside(asked: Asked) -> bool:
    """Does some step of what is made for the enquiry go to an outside firm?"""
    operations = asked.work.operations
    return any(operations[o].kind is Kind.OUTSIDE for b in own_batches(asked) for o in b.operations)


def _day(due: date | datetime) -> date:
    return due.date() if isinstance(due, datetime) else due


# --- what can be wrong with a question ---------------------------------------------------------


def check_question(shop: Shop, enquiry: Enquiry) -> None:
    """Raises ``QuestionFault`` with everything that is wrong with the question, as far as the shop's tables tell."""
    faults = [*_part_faults(shop, enquiry), *_other_faults(shop, enquiry)]
    if faults:
        raise QuestionFault(faults)


def _part_faults(shop: Shop, enquiry: Enquiry) -> list[str]:
    part = shop.parts.get(enquiry.part)
    if not enquiry.part.strip():
        return ["No part is named. Say which part it is about, or give steps for a new one."]
    if enquiry.steps:
        if part is not None:
            return [
                f"Part {enquiry.part} has steps in the tables already. Leave the steps out, or give the new part a number of its own."
            ]
        return []
    if part is None:
        return [
            f"There is no part '{enquiry.part}'. "
            + did_you_mean(enquiry.part, shop.parts, "take a part number of parts.csv, or give steps for a new part.")
        ]
    if not part.made:
        here = shop.stock.get(part.number, 0)
        return [
            f"Part {part.number} is bought, not made: its date is its supplier's ({here:,} in stock). Ask for a part that is made here."
        ]
    return []


def _other_faults(shop: Shop, enquiry: Enquiry) -> list[str]:
    faults = []
    today = shop.settings.plan_start.date()
    if not 1 <= enquiry.pieces <= LARGEST:
        faults.append(f"The quantity is {enquiry.pieces:,}: expected 1 to {LARGEST:,} pieces.")
    if enquiry.priority and enquiry.priority not in shop.classes:
        faults.append(
            f"There is no class '{enquiry.priority}'. "
            + did_you_mean(enquiry.priority, shop.classes, f"take one of {', '.join(sorted(shop.classes))}.")
        )
    if enquiry.earliest is not None and clock_of(shop).usable_from(enquiry.earliest) >= NEVER:
        calendar = shop.settings.shop_calendar
        faults.append(
            f"Its material comes on {enquiry.earliest} (--from), which is not within the known days of calendar '{calendar}' "
            f"(to {shop.calendars[calendar].known_to}). Give an earlier day, or a later 'known_to' in calendars.csv."
        )
    if enquiry.wanted is not None and _day(enquiry.wanted) < today:
        faults.append(f"The wanted date {_day(enquiry.wanted)} is before the plan start {today}. Ask for a later one.")
    if enquiry.wanted is not None and enquiry.earliest is not None and _day(enquiry.wanted) < enquiry.earliest:
        faults.append(
            f"It is wanted on {_day(enquiry.wanted)} and its material comes on {enquiry.earliest}. "
            "Check the two dates: nothing starts before the material is here."
        )
    return faults
