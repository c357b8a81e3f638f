"""The replay itself: day after day plan, promise, work, book."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime

from planner.explode import explode
from planner.main_job import Job, verified
from planner.plan import AcceptedStep
from planner.proposals.carry import carried
from planner.search import search
from planner.shop import Order, Shop
from replay.floor import Floor, Taken
from replay.learning import Bookings, Outcome
from replay.promising import Way, reached
from replay.quoting import Quote, placed, quoted
from replay.stream import Demand, Enquiry, enquiries
from replay.truth import Truth
from replay.working import Ended, work_a_day
from replay.world import World, day_of, opening, promise_day

VERIFY_DAYS = 50
LEARNING_DAYS = 60  # quotes made before there are bookings to draw from do not count in the record


@dataclass(frozen=True)
class Effort:
    """How much is worked out: lists timed each morning, draws for each quote."""

    trials: int = 400
    draws: int = 300


@dataclass
class Sold:
    """One order from its enquiry to its end. Days are working days; ``finish_min`` counts from the opening of ``day``.

    A hot order has no quote.
    """

    number: str
    day: int
    item: int
    hot: bool
    promised: int
    stated: float
    material_days: int
    quote: Quote | None = None
    outcome: Outcome | None = None
    ready: int | None = None  # working day whose cut-off it was ready by
    finish_min: int | None = None


@dataclass
class Replay:
    """A replayed shop with all that has happened in it; goes on from where it is."""

    world: World
    demand: Demand
    truth: Truth
    way: Way
    effort: Effort = Effort()
    seed: int = 1
    last_day: int | None = None  # nothing is ordered from here on
    floor: Floor = field(init=False)
    bookings: Bookings = field(default_factory=Bookings)
    job: Job | None = None
    sold: dict[str, Sold] = field(default_factory=dict)
    busy_min: list[int] = field(default_factory=list)  # by day, on the limiting group
    open_steps: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.floor = Floor(self.world)

    @property
    def over(self) -> bool:
        """Is nothing ordered any more, and nothing open?"""
        return self.last_day is not None and self.floor.day >= self.last_day and not self.floor.orders

    def a_day(self) -> None:
        """Plan, answer enquiries, work and book one working day."""
        day, truth = self.floor.day, self.truth
        job = self._plan(self._shop())
        if self.last_day is None or day < self.last_day:
            for enquiry in enquiries(self.world, self.demand, self.seed, day):
                if enquiry.accepted:  # whatever the date: those that are refused leave no trace
                    job = self._take(job, enquiry)
        if day % VERIFY_DAYS == 0:
            verified(job)
        self.open_steps.append(len(job.plan.steps))
        self._book_absence(day)
        done = work_a_day(self.floor, truth, job.shop, job.work, job.plan)
        self.job = job
        self.bookings.add(done.ended)
        self.busy_min.append(sum(_busy(row) for row in done.ended if row.group == self.world.limiting))
        for number, moment in done.ready.items():
            self._finish(self.sold[number], moment)

    # --- planning ----------------------------------------------------------------------------------

    def _shop(self, more: tuple[Order, ...] = ()) -> Shop:
        return self.bookings.shop(self.floor.shop(self.truth, more))

    def _plan(self, shop: Shop, before: Job | None = None) -> Job:
        """The morning's plan, or the plan with a hot order in it, from the list of the last one."""
        before = before or self.job
        work = explode(shop, accepted_steps(before) if before else ())
        start = carried(before.work, before.plan, work) if before else None
        plan = search(
            work, trials=self.effort.trials, seed=self.seed + self.floor.day, workers=1, start=start, solver=False
        )
        return Job(shop, work, plan)

    def _take(self, job: Job, enquiry: Enquiry) -> Job:
        if enquiry.wanted_days is not None:
            return self._take_hot(job, enquiry, enquiry.day + enquiry.wanted_days)
        with_it = placed(job, enquiry, self.world)
        if with_it is None:
            raise RuntimeError(f"no time for {enquiry.number} within {len(job.work.batches)} batches")
        seed, item = self.seed + enquiry.day, self.world.items[enquiry.item]
        quote = quoted(with_it, enquiry, self.world, self.bookings, self.effort.draws, seed)
        due, stated = self.way.promise(quote, item.route)
        outcome = Outcome(enquiry.day, item.outside)
        if self.bookings.days >= LEARNING_DAYS:
            self.bookings.quotes.append(outcome)
        self.sold[enquiry.number] = Sold(
            enquiry.number,
            enquiry.day,
            enquiry.item,
            False,
            due,
            stated,
            enquiry.material_days,
            quote,
            outcome,
        )
        self.floor.orders[enquiry.number] = Taken(enquiry, due)
        return with_it

    def _take_hot(self, job: Job, enquiry: Enquiry, due: int) -> Job:
        self.sold[enquiry.number] = Sold(
            enquiry.number, enquiry.day, enquiry.item, True, due, 0.0, enquiry.material_days
        )
        order = self.floor.order(enquiry, day_of(due))
        self.floor.orders[enquiry.number] = Taken(enquiry, due)
        return self._plan(replace(job.shop, orders={**job.shop.orders, order.number: order}), job)

    # --- what is booked ----------------------------------------------------------------------------

    def _finish(self, sold: Sold, moment: datetime) -> None:
        sold.ready = promise_day(moment)
        sold.finish_min = int((moment - opening(sold.day)).total_seconds()) // 60
        if sold.quote is not None and sold.outcome is not None:
            sold.outcome.reached = reached(sold.quote, sold.ready - 1)

    def _book_absence(self, day: int) -> None:
        booked, now, next_day = self.bookings, opening(day), opening(day + 1)
        booked.days += 1
        booked.away_days += sum(self.truth.absent(person, day) for person in self.world.shop.people)
        for machine in self.world.shop.machines.values():
            if self.world.shop.groups[machine.group].setup_skill:
                ended = [d for d in self.truth.down_at(machine.name, now, next_day) if now < d.end <= next_day]
                booked.down_min += [d.repair_min for d in ended]
        for supplier in self.world.shop.suppliers.values():
            for van in supplier.collections:
                if van.weekday == now.weekday():
                    booked.vans += 1
                    booked.missed += self.truth.missed(supplier.name, datetime.combine(now.date(), van.collect))


def accepted_steps(job: Job) -> tuple[AcceptedStep, ...]:
    """The plan that the floor has been told."""
    return tuple(
        AcceptedStep(
            job.work.batches[job.work.operations[s.operation].batch].name, job.work.operations[s.operation].number,
            job.work.machines[s.machine].name, job.work.local(s.start).isoformat(),
        )
        for s in job.plan.steps if s.machine is not None
    )  # fmt: skip


def _busy(row: Ended) -> int:
    return row.setup_min + row.run_min


def days_until(replay: Replay, day: int) -> Iterator[int]:
    """Live through the days up to a day, or until all is over."""
    while replay.floor.day < day and not replay.over:
        replay.a_day()
        yield replay.floor.day
