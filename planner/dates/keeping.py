"""An enquiry written into the shop's tables: as a provisional order that holds its place, or as a firm one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from typing import Any

import numpy as np

from planner.booked.dates_given import STATED
from planner.dates.enquiry import Asked, Enquiry, asked, in_shop, usual_class
from planner.dates.placing import behind, moved_steps, retimed
from planner.dates.replies import Reply
from planner.dates.writing import put_down, rows_of, shop_with, write_rows
from planner.explode.clock import Clock, clock_of
from planner.faults import DataFaults, Fault, QuestionFault
from planner.intake.adding import Named
from planner.intake.nearest import did_you_mean
from planner.intake.tables import table_named
from planner.main_job import Job, document_of, save, verified, work_of
from planner.plan import Plan
from planner.risk import safe_day
from planner.shop import Operation, Shop
from planner.store import ShopPlace
from planner.work import Batch, Work

Cells = Mapping[str, str]
STEPS = Named("the steps")
COPIED = ("routings", "routing_machines")


@dataclass(frozen=True)
class NewPart:
    """A part that the shop does not have, as rows of its tables. ``machines`` are rows with machines' own times.

    ``steps_from`` is what the steps are called in faults: words, or the file that they came from with the row of each.
    """

    number: str
    steps: Sequence[Cells]
    description: str = ""
    machines: Sequence[Cells] = ()
    steps_from: Named = STEPS

    @property
    def named(self) -> dict[str, Named]:
        """By table: what its rows are called in faults."""
        machines = Named("its machines' own times")
        found = {"parts": Named("the new part"), "routings": self.steps_from, "routing_machines": machines}
        return {table: found[table] for table in self.rows}

    @property
    def rows(self) -> dict[str, list[dict[str, str]]]:
        """Rows for ``parts``, ``routings`` and ``routing_machines``."""
        found = {
            "parts": [{"part": self.number, "description": self.description, "made": "yes", "first_time": "yes"}],
            "routings": [{**row, "part": self.number} for row in self.steps],
        }
        if self.machines:
            found["routing_machines"] = [{**row, "part": self.number} for row in self.machines]
        return found


@dataclass(frozen=True)
class Kept:
    """An enquiry as an order of the shop; ``entry``: of its tables' store, with which it came in."""

    number: str
    shop: Shop
    entry: int | None


def like(place: ShopPlace, part: str, number: str) -> NewPart:
    """A new part that is made as another one is; a part without steps gives one without."""
    steps, machines = (rows_of(place, table, "part", part) for table in COPIED)
    return NewPart(number, steps, f"like {part}", machines)


def steps_of(place: ShopPlace, part: NewPart) -> tuple[Operation, ...]:
    """The routing of a new part, read and checked with the shop's tables.

    Raises
    ------
    DataFaults
        With every fault; those of the steps are told by what the steps are called.
    """
    faults = [*_strange(part), *_doubled(part)]
    if faults:
        raise DataFaults(faults)
    return shop_with(place, part.rows, part.named).routings[part.number].operations


def _strange(part: NewPart) -> list[Fault]:
    """Columns that steps do not have: a store would keep them where nobody sees them."""
    known = {column.name for column in table_named("routings").columns}
    return [
        Fault(part.steps_from.called, None, name, name, f"one of {', '.join(sorted(known))}", did_you_mean(name, known, "leave it out."))
        for name in dict.fromkeys(name for row in part.steps for name in row)
        if name not in known
    ]  # fmt: skip


def _doubled(part: NewPart) -> list[Fault]:
    """Steps under one number: in the tables each would be told by the other's row there, which nobody sees."""
    numbers = [row.get("operation", "") for row in part.steps]
    rows = part.steps_from.numbers or range(1, len(numbers) + 1)
    return [
        Fault(
            part.steps_from.called, row, "operation", number, "a number that no step before it has",
            "Give each step a number of its own, in the order in which they are done.",
        )
        for n, (row, number) in enumerate(zip(rows, numbers, strict=True))
        if number and number in numbers[:n]
    ]  # fmt: skip


def keep(
    place: ShopPlace,
    shop: Shop,
    enquiry: Enquiry,
    number: str,
    promise: date | None,
    provisional_until: date | None = None,
    new_part: NewPart | None = None,
    who: str = "",
    answer: Reply | None = None,
) -> Kept:
    """Write the enquiry into the tables as order ``number``: it comes after all others where stock is given, as it was asked.

    Parameters
    ----------
    place
        The shop's folder, or its store.
    promise
        The day given to the customer; where none was wanted it is the due date as well.
    provisional_until
        It holds its place up to and with that day; None: a firm order.
    new_part
        Written too, where the part is not in the tables yet.
    who
        Whose entry it is, in the history of a store.
    answer
        The one that it is kept as: a store keeps with the entry how sure the promised day was by that (:func:`stated`).

    Raises
    ------
    DataFaults
        Nothing is written then: the tables would have a fault, or cannot be written.
    """
    due = enquiry.wanted or promise
    row = {
        "order": number,
        "customer": enquiry.customer,
        "part": enquiry.part,
        "quantity": str(enquiry.pieces),
        "due": f"{due:%Y-%m-%d %H:%M}" if isinstance(due, datetime) else str(due or ""),
        "class": enquiry.priority or usual_class(shop),
        "material_date": str(enquiry.earliest or ""),
        "promise": str(promise or ""),
        "provisional_until": str(provisional_until or ""),
        "after_all": "yes",
    }
    rows = {**(new_part.rows if new_part else {}), "orders": [row]}
    named = {"orders": Named("the order"), **(new_part.named if new_part else {})}
    held = f"provisional until {provisional_until}" if provisional_until else "firm"
    what = f"Enquiry kept as order {number}, {held}."
    said = None if answer is None or promise is None else stated(shop, answer, promise)
    data = {} if said is None else {STATED: {"order": number, "part": enquiry.part, **said}}
    return Kept(number, *write_rows(place, rows, {}, named, who, shop.settings.plan_start, what, data))


def stated(shop: Shop, answer: Reply, promise: date) -> dict[str, Any] | None:
    """How sure a promised day is by an answer to an enquiry.

    Returns
    -------
    dict or None
        Its ``chance`` (0 to 1), the answer's ``safe`` day with the ``sure_percent`` of that, what was promised, and the draws' own
        share by day, to be held against what becomes of it; None where no draws were made.
    """
    clock = clock_of(shop)
    chance = answer.chance_by(clock.due(promise))
    if chance is None:
        return None
    safe = None if answer.safe_min is None else safe_day(clock, answer.safe_min)
    return {
        "pieces": answer.pieces, "promise": promise.isoformat(), "way": answer.way, "chance": chance, "safe": answer.safe,
        "sure_percent": answer.sure_percent, "outside": answer.outside, "safe_day": "" if safe is None else safe.isoformat(),
        "by_day": _by_day(clock, answer.drawn),
    }  # fmt: skip


def _by_day(clock: Clock, drawn: np.ndarray | None) -> dict[str, float]:
    """Share of the draws (sorted) that are ready by the cut-off of each day on which it rises."""
    days = [] if drawn is None else [safe_day(clock, int(minute)) for minute in drawn]
    return {day.isoformat(): round((n + 1) / len(days), 4) for n, day in enumerate(days) if day is not None}


def answer_job(job: Job, enquiry: Enquiry, kept: Kept, plan: Plan) -> Job | None:
    """An answer to an enquiry, as it was told, as a plan of the shop with the order that it was kept as.

    Parameters
    ----------
    job, enquiry, plan
        What was asked of, the question as it was asked, and the plan of the answer.

    Returns
    -------
    Job
        None where the tables have gone on since the job's plan was made: then plan again, which begins with it.

    Raises
    ------
    PlanRefused
        The plan breaks a rule.
    """
    before = {number: order for number, order in kept.shop.orders.items() if number != kept.number}
    if work_of(replace(kept.shop, orders=before), job.accepted, job.work.proposals).fingerprint != job.work.fingerprint:
        return None
    told = _called(asked(job, enquiry), kept.number)
    now = in_shop(job, enquiry, kept.shop, kept.number)
    for find in (lambda: retimed(now.work, plan, told), lambda: behind(job, now)):
        found = find()
        if found is not None and not moved_steps(told, plan, now.work, found.steps):
            return verified(Job(kept.shop, now.work, found, job.accepted))
    return None


def _called(told: Asked, number: str) -> Work:
    """The work that a plan is of, batch by batch as it was asked, with the batches called as those of an order of that number.

    Under its number the order may stand elsewhere among orders due at the same time, so places do not tell which is which.
    """
    asked_as = told.work.orders[told.order].number

    def called(batch: Batch) -> Batch:
        return replace(batch, name=number + batch.name.removeprefix(asked_as)) if batch.index in told.batches else batch

    return replace(told.work, batches=tuple(map(called, told.work.batches)))


def write_answer(place: ShopPlace, job: Job, kept: Kept, out: Path | None, who: str) -> str:
    """Write the plan of an answer to a file, or put it down in a store as waiting to be accepted; where it is, in words.

    Raises
    ------
    PlanFileFault
        The file cannot be written; the order is in the tables then all the same.
    """
    if out is not None:
        save(job, out)
        return f"The plan with it is in {out}"
    if kept.entry is None:
        return ""
    number = put_down(place, document_of(job), who, kept.shop.settings.plan_start, kept.entry)
    return f"Plan {number}, with it, waits to be accepted"


def make_firm(place: ShopPlace, shop: Shop, number: str, promise: date | None = None, who: str = "") -> Shop:
    """A provisional order becomes a firm one, with a promise if one is given; the shop with it.

    Raises
    ------
    QuestionFault
        There is no such order, or it is firm already.
    DataFaults
        As :func:`keep`.
    """
    order = shop.orders.get(number)
    if order is None:
        raise QuestionFault(
            [f"There is no order '{number}'. " + did_you_mean(number, shop.orders, "take a number of orders.csv.")]
        )
    if order.provisional_until is None:
        raise QuestionFault([f"Order {number} is a firm order already: nothing was changed."])
    cells = {"provisional_until": ""} | ({"promise": str(promise)} if promise else {})
    changed = {("orders", number): cells}
    shop, _ = write_rows(place, {}, changed, {}, who, shop.settings.plan_start, f"Order {number} made firm.")
    return shop
