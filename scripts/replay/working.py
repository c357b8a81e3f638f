"""A working day in the simulated shop: the plan's running order is kept, the times are the true ones.

The plan's list is timed again by the product's own rules with true setup and run times, true breakdowns and vans; what
lies before the next working day is what happened. With no disturbance that is the plan itself, to the minute.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from planner.explode.clock import clock_of
from planner.explode.quantities import run_minutes
from planner.explode.resources import index_of, resources_of
from planner.plan import Plan, Step
from planner.shop import Shop
from planner.timetable import Timetable
from planner.work import Alternative, Begun, Kind, Operation, Service, Work
from planner.worktime import OpenTime, common, run_hours
from replay.floor import Floor, Live, Released
from replay.truth import Truth
from replay.world import opening


@dataclass(frozen=True)
class Ended:
    """A step that ended, as the shop books it. ``standard_*``: minutes as planned; for outside work elapsed minutes."""

    batch: str
    part: str
    number: int
    kind: Kind
    group: str  # of machines; the supplier for outside work
    standard_setup_min: int
    setup_min: int
    standard_run_min: int
    run_min: int
    began: datetime
    ended: datetime
    first_time: bool


@dataclass(frozen=True)
class DayDone:
    """What a day brought: steps that ended, and orders with the moment at which they were ready."""

    ended: tuple[Ended, ...]
    ready: dict[str, datetime]


def order_of(batch: str) -> str:
    """The order a batch is made for, from its name (``O`` in 'O-1' and in 'O/part-1')."""
    return batch.split("/")[0] if "/" in batch else batch.rsplit("-", 1)[0]


def work_a_day(floor: Floor, truth: Truth, shop: Shop, work: Work, plan: Plan) -> DayDone:
    """Work by a plan until the next working day opens; ``floor`` is changed, and on its next day.

    Parameters
    ----------
    shop, work
        What the planner was told, and made of it.
    """
    return _Day(floor, truth, shop, work, plan).run()


class _Day:
    def __init__(self, floor: Floor, truth: Truth, shop: Shop, work: Work, plan: Plan) -> None:
        self.floor, self.truth, self.told, self.plan = floor, truth, work, plan
        self.now, self.length = opening(floor.day), 0
        self.length = self._minute(opening(floor.day + 1))
        self.week = truth.week_factor(floor.day)
        self.work = self._true_work(floor.true_shop(shop, truth))
        self.ended: list[Ended] = []

    def run(self) -> DayDone:
        table = Timetable(self.work)
        choice = np.full(len(self.work.operations), -1, np.int64)
        for step in self.plan.steps:
            choice[step.operation] = table.alternative(step.operation, step.machine)
        table.time(table.repaired(self.plan.sequence), choice)
        for step in sorted(table.steps(), key=lambda s: (s.start, s.operation)):
            self._happen(step)
        ready = self._deliver()
        self.floor.day += 1
        return DayDone(tuple(self.ended), ready)

    def _minute(self, moment: datetime) -> int:
        return int((moment - self.now).total_seconds()) // 60

    def _moment(self, minute: int) -> datetime:
        return self.now + timedelta(minutes=minute)

    # --- true times --------------------------------------------------------------------------------

    def _true_work(self, true: Shop) -> Work:
        """What the planner was told, with true times, collections and hours of machines."""
        return replace(
            self.told,
            machines=resources_of(true, index_of(true), clock_of(true)).machines,
            operations=tuple(self._true_operation(op) for op in self.told.operations),
            services=tuple(self._true_service(service) for service in self.told.services),
        )

    def _true_service(self, service: Service) -> Service:
        """Without today's collection where the van does not come."""

        def comes(minute: int) -> bool:
            return minute >= self.length or not self.truth.missed(service.supplier, self._moment(minute))

        return replace(service, trips=tuple(trip for trip in service.trips if comes(trip.collect_min)))

    def _true_operation(self, op: Operation) -> Operation:
        if op.begun is Begun.OUT:
            back = self._live(op).back
            assert back is not None
            return replace(op, back_min=self._minute(back))
        if op.begun is Begun.RUNNING:
            live = self._live(op)
            again = self.week / live.week_factor
            live.setup_left_min, live.run_left_min = (
                round(live.setup_left_min * again),
                max(1, round(live.run_left_min * again)),
            )
            live.week_factor = self.week
            one = tuple(replace(a, cycle_sec=60 * live.run_left_min) for a in op.alternatives)
            return replace(op, alternatives=one, pieces_left=1, pieces_per_cycle=1, setup_left_min=live.setup_left_min)
        if op.begun is Begun.NO and op.kind in (Kind.MACHINE, Kind.MANUAL):
            batch = self.told.batches[op.batch]
            one_off = self.floor.world.shop.parts[batch.part].first_time
            set_by = self.week * self.truth.setup_factor(batch.name, op.number, one_off)
            run_by = self.week * self.truth.run_factor(batch.name, batch.part, op.number, one_off)
            on = tuple(self._true_alternative(op, a, set_by, run_by) for a in op.alternatives)
            return replace(op, alternatives=on, pieces_left=1, pieces_per_cycle=1)
        return op

    def _true_alternative(self, op: Operation, on: Alternative, set_by: float, run_by: float) -> Alternative:
        minutes = max(1, round(run_by * _standard_run(op, on)))
        return replace(on, setup_min=round(set_by * on.setup_min), cycle_sec=60 * minutes)

    def _live(self, op: Operation) -> Live:
        return self.floor.batches[self.told.batches[op.batch].name].steps[op.number]

    # --- what happened -----------------------------------------------------------------------------

    def _happen(self, step: Step) -> None:
        op = self.work.operations[step.operation]
        if step.start >= self.length:
            return
        batch = self.told.batches[op.batch]
        released = self.floor.batches.setdefault(
            batch.name, Released(batch.part, batch.start_pieces, order_of(batch.name))
        )
        live = released.steps.setdefault(op.number, Live())
        live.began = live.began or self._moment(step.start)
        if op.kind is Kind.OUTSIDE:
            self._outside(op, step, live)
        else:
            self._inside(op, step, live)
        if step.run_end <= self.length:
            live.done, live.setup_left_min, live.run_left_min = True, 0, 0
            self._book(op, live, self._moment(step.run_end))

    def _outside(self, op: Operation, step: Step, live: Live) -> None:
        if op.begun is Begun.OUT:
            return
        live.collected, live.expected = self._moment(step.run_start), self._moment(step.run_end)
        backs = sorted({trip.back_min for trip in self.work.services[op.service or 0].trips})
        late = self.truth.late_deliveries(self.told.batches[op.batch].name, op.number)
        live.back = self._moment(backs[backs.index(step.run_end) + late])

    def _inside(self, op: Operation, step: Step, live: Live) -> None:
        """Minutes worked today, and those that are left."""
        assert step.machine is not None
        if op.begun is not Begun.RUNNING:
            told = next(a for a in self.told.operations[op.index].alternatives if a.machine == step.machine)
            true = next(a for a in op.alternatives if a.machine == step.machine)
            live.machine, live.week_factor = self.work.machines[step.machine].name, self.week
            live.setup_left_min, live.run_left_min = step.setup_min, true.cycle_sec // 60
            live.standard_setup_min = told.setup_min if step.setup_min else 0
            live.standard_run_min = _standard_run(self.told.operations[op.index], told)
            self.floor.set_up[live.machine] = (self.told.batches[op.batch].part, op.number)
        setting, running = self._worked(op, step)
        live.setup_min, live.setup_left_min = live.setup_min + setting, live.setup_left_min - setting
        live.run_min, live.run_left_min = live.run_min + running, live.run_left_min - running

    def _worked(self, op: Operation, step: Step) -> tuple[int, int]:
        """Setup and run minutes before the next working day."""
        assert step.machine is not None
        end = self.length
        if op.kind is Kind.MANUAL:
            done = sum(min(s.end, end) - s.start for s in step.stints if s.start < end)
            return min(done, step.setup_min), max(0, done - step.setup_min)
        hours = self.work.machines[step.machine].hours
        setting = 0
        for stint in step.setup:
            free = hours.attended if stint.person < 0 else common(hours.attended, self.work.people[stint.person].hours)
            setting += OpenTime(tuple(free)).open_between(stint.start, max(stint.start, min(stint.end, end)))
        if step.run_start >= end:
            return setting, 0
        run = OpenTime(tuple(run_hours(hours, op.unattended_limit_min)))
        return setting, run.open_between(step.run_start, min(step.run_end, end))

    def _book(self, op: Operation, live: Live, ended: datetime) -> None:
        batch = self.told.batches[op.batch]
        if op.kind is Kind.OUTSIDE:
            assert live.collected and live.expected and live.back
            group = self.work.services[op.service or 0].supplier
            expected, taken = (int((t - live.collected).total_seconds()) // 60 for t in (live.expected, live.back))
            row: tuple[Kind, str, int, int, int, int] = (op.kind, group, 0, 0, expected, taken)
        else:
            group = self.work.groups[self.work.machines[op.alternatives[0].machine].group].name
            row = (op.kind, group, live.standard_setup_min, live.setup_min, live.standard_run_min, live.run_min)
        assert live.began is not None
        one_off = self.floor.world.shop.parts[batch.part].first_time
        self.ended.append(Ended(batch.name, batch.part, op.number, *row, live.began, ended, one_off))

    def _deliver(self) -> dict[str, datetime]:
        """Orders that are ready leave; components leave when what they go into has begun."""
        ready = {}
        last = {e.batch: e.ended for e in self.ended}
        for number in list(self.floor.orders):
            own = self.floor.batches.get(f"{number}-1")
            if own is None:
                continue
            for name in [n for n in self.floor.batches if n.startswith(f"{number}/")]:
                del self.floor.batches[name]
            steps = self.work.batches[self.batch_at[f"{number}-1"]].operations
            if len(own.steps) == len(steps) and all(live.done for live in own.steps.values()):
                ready[number] = last[f"{number}-1"]
                del self.floor.batches[f"{number}-1"], self.floor.orders[number]
        return ready

    @property
    def batch_at(self) -> dict[str, int]:
        return {batch.name: batch.index for batch in self.work.batches}


def _standard_run(op: Operation, on: Alternative) -> int:
    """Run minutes by the standard time."""
    return run_minutes(op.pieces_left, op.pieces_per_cycle, on.cycle_sec)
