"""Today: what needs somebody's eye now, from the accepted plan and from what was booked since.

An answer depends on the plan, on what was entered, and on the minute: :class:`Days` finds what is the plan's once, and the rest anew
only when something was entered or the moment is another.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property
from threading import Lock

from planner import worktime
from planner.answers.leeway import Rooms
from planner.answers.orders import OrderRow, orders
from planner.answers.whom import SOON_MIN, Wait, WaitedFor, Waits
from planner.answers.wording import DAY_MIN, local_text
from planner.day.board import typed
from planner.day.clock import now_in
from planner.main_job import Job
from planner.plan import Step
from planner.store import Entry, Store
from planner.store.sheets import Sheets
from planner.work import Begun, Kind, Operation

VAN_DAYS = 2
WORKING_DAYS = 2  # after today, for what waits for whom


@dataclass(frozen=True)
class LateOrder:
    order: str
    customer: str
    due: str
    expected: str
    late: bool
    why: str  # late: the reason; else what it waits for


@dataclass(frozen=True)
class StepLine:
    """A step that needs a look; ``what`` says why."""

    batch: str
    operation: int
    description: str
    part: str
    pieces: int
    machine: str
    planned: str
    what: str


@dataclass(frozen=True)
class Today:
    """``now``: the moment that it is about. All but ``open_first_offs`` are of the accepted plan.

    ``waiting``: what waits for whom, from now to the end (``waiting_until``) of the next working days.
    """

    now: str
    late: tuple[LateOrder, ...]
    waiting: tuple[WaitedFor, ...]
    waiting_until: str
    open_first_offs: tuple[StepLine, ...]
    missing: tuple[StepLine, ...]  # planned to have begun or ended by now, and not booked
    starts: tuple[StepLine, ...]  # planned to begin by the end of today
    not_yet: tuple[StepLine, ...]  # could begin, but there is no need to today
    next_vans: tuple[StepLine, ...]
    entries: tuple[Entry, ...]  # of today, the last first

    @property
    def binding(self) -> list[tuple[WaitedFor, Wait]]:
        """The waits that make orders late, or nearly, the latest order first."""
        found = [(whom, wait) for whom in self.waiting for wait in whom.waits if wait.binds]
        return sorted(found, key=lambda both: (-(both[1].late_min or 0), both[1].order, both[1].until_min))


class Days:
    """Looks at the days of one accepted plan, with the shop as it was then; for pages, which ask from several threads."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.rooms = Rooms(job.work, job.plan)
        self._lock = Lock()
        self._sheets: tuple[int, Sheets] | None = None
        self._found: tuple[tuple[int, datetime], Today] | None = None

    @cached_property
    def orders(self) -> list[OrderRow]:
        return orders(self.job.work, self.job.plan)

    @cached_property
    def waits(self) -> Waits:
        return Waits(self.job.work, self.job.plan, self.orders)

    def today(self, store: Store, now: datetime | None = None) -> Today:
        """What needs a look.

        Parameters
        ----------
        store
            Whose accepted plan it is.
        now
            Local moment; without, the present one, but not before what the tables tell.
        """
        with self._lock:
            entry = store.entries(last=1)[0].id
            if self._sheets is None or self._sheets[0] != entry:
                self._sheets = entry, store.sheets()
            at = now or now_in(self._sheets[1])
            if self._found is None or self._found[0] != (entry, at):
                self._found = (entry, at), self._look(store, self._sheets[1], at)
            return self._found[1]

    def _look(self, store: Store, sheets: Sheets, at: datetime) -> Today:
        look = _Look(self, sheets, at)
        entries = [e for e in store.entries(last=200) if e.at.date() == at.date() and e.kind != "plan"]
        until = look.end_of_working_days()
        return Today(
            f"{at:%Y-%m-%d %H:%M}", tuple(look.late()), look.waiting(until), local_text(self.job.work.local(until - 1)),
            tuple(look.first_offs()), tuple(look.missing()), tuple(look.starts()), tuple(look.not_yet()), tuple(look.vans()),
            tuple(reversed(entries)),
        )  # fmt: skip


def today(store: Store, job: Job, now: datetime | None = None) -> Today:
    """What needs a look, once; see :meth:`Days.today`."""
    return Days(job).today(store, now)


class _Look:
    def __init__(self, days: Days, sheets: Sheets, at: datetime) -> None:
        self.days, self.job, self.work, self.sheets, self.at = days, days.job, days.job.work, sheets, at
        self.minute = worktime.minute_of(at, self.work.zone, self.work.plan_start)
        self.midnight = worktime.midnight(at.date() + timedelta(days=1), self.work.zone, self.work.plan_start)
        self.booked = {(r["batch"], int(r["operation"])): typed(r) for r in sheets.rows("progress")}
        self.steps = sorted(self.job.plan.steps, key=lambda s: (s.start, s.run_end, s.operation))

    def _local(self, minute: int) -> datetime:
        return self.work.local(minute).replace(tzinfo=None)

    def _name(self, op: Operation) -> tuple[str, int]:
        return self.work.batches[op.batch].name, op.number

    def _line(self, step: Step, what: str) -> StepLine:
        op = self.work.operations[step.operation]
        batch = self.work.batches[op.batch]
        machine = "" if step.machine is None else self.work.machines[step.machine].name
        planned = local_text(self.work.local(step.start))
        return StepLine(batch.name, op.number, op.description, batch.part, op.pieces_left, machine, planned, what)

    def late(self) -> list[LateOrder]:
        """Late orders, and those that are ready less than a day before they are due."""
        found = [r for r in self.days.orders if r.late_min is not None]
        near = [r for r in found if r.late or ((r.late_min or 0) > -SOON_MIN and (r.expected_min or 0) > self.minute)]
        return [LateOrder(r.order, r.customer, r.due, r.expected, r.late, r.reason or r.waits_for) for r in near]

    def waiting(self, until: int) -> tuple[WaitedFor, ...]:
        """What waits for whom until then, without what was begun or done since the plan."""
        places = self.work.places
        states = {places[name]: row["state"] for name, row in self.booked.items() if name in places}
        begun = {op for op, state in states.items() if state in ("running", "out")}
        return self.days.waits.between(
            self.minute, until, begun, {op for op, state in states.items() if state == "done"}
        )

    def end_of_working_days(self) -> int:
        """The midnight that ends the next working days of the shop calendar; without one, of the next days."""
        calendar = self.work.shop_calendar
        if calendar is None:
            return self.midnight + WORKING_DAYS * DAY_MIN
        coming = (a for a, _ in self.work.move_calendars[calendar] if a >= self.midnight)
        later: list[date] = []
        for day in (self._local(a).date() for a in coming):
            later += [] if day in later else [day]
            if len(later) == WORKING_DAYS:
                break
        last = later[-1] if later else self.at.date()
        return worktime.midnight(last + timedelta(days=1), self.work.zone, self.work.plan_start)

    def first_offs(self) -> list[StepLine]:
        """Steps on a machine whose first piece nobody has passed yet."""
        found = []
        shop = self.job.shop
        for (batch, number), row in self.booked.items():
            part = next((r["part"] for r in self.sheets.rows("batches") if r["batch"] == batch), "")
            op = (
                next((o for o in shop.routings[part].operations if o.number == number), None)
                if part in shop.routings
                else None
            )
            if row["state"] == "running" and op is not None and op.first_off_skill and not row["first_off_passed"]:
                what = (
                    f"being set, {row['setup_left_min']} min left"
                    if row["setup_left_min"]
                    else f"waits for '{op.first_off_skill}'"
                )
                found.append(StepLine(batch, number, op.description, part, 0, row["machine"] or "", "", what))
        return sorted(found, key=lambda line: (line.machine, line.batch))

    def missing(self) -> list[StepLine]:
        """Planned to have begun, or ended, by now, and nothing says so. Waits need no booking."""
        found = []
        for step in self.steps:
            op = self.work.operations[step.operation]
            if op.kind is Kind.WAIT or step.start > self.minute:
                continue
            row = self.booked.get(self._name(op))
            outside = op.kind is Kind.OUTSIDE
            begun = step.run_start if outside else step.start
            if row is None or (row["state"] == "part" and op.begun is not Begun.PART):
                if begun <= self.minute and not (begun == self.minute == 0):
                    found.append(self._line(step, "should be out" if outside else "should have begun"))
            elif row["state"] in ("running", "out") and step.run_end <= self.minute:
                found.append(self._line(step, "should be back" if outside else "should be done"))
        return found

    def starts(self) -> list[StepLine]:
        """Still to begin today, in order of time."""
        return [self._line(s, "starts today") for s in self._coming() if s.start < self.midnight]

    def not_yet(self) -> list[StepLine]:
        """First in line on their machine and planned for another day: somebody might begin them too soon."""
        first: dict[int, Step] = {}
        for step in self._coming():
            if step.machine is not None:
                first.setdefault(step.machine, step)
        later = [s for s in first.values() if s.start >= self.midnight]
        room = self.days.rooms.of([s.operation for s in later])
        found = []
        for step in later:
            need = room.get(step.operation)
            if need is not None and need.no_need_before >= self.midnight:
                found.append(self._line(step, f"no need before {local_text(self.work.local(need.no_need_before))}"))
        return found

    def _coming(self) -> list[Step]:
        """Not begun, on a machine or bench."""
        kinds = (Kind.MACHINE, Kind.MANUAL)
        return [
            s for s in self.steps
            if s.start >= self.minute and s.machine is not None and self.work.operations[s.operation].kind in kinds
            and self._name(self.work.operations[s.operation]) not in self.booked
        ]  # fmt: skip

    def vans(self) -> list[StepLine]:
        """What goes with the vans of the next two days."""
        until = self.minute + VAN_DAYS * DAY_MIN
        found = []
        for step in self.steps:
            op = self.work.operations[step.operation]
            to_go = op.kind is Kind.OUTSIDE and op.begun is not Begun.OUT and self._name(op) not in self.booked
            if to_go and op.service is not None and self.minute <= step.run_start < until:
                supplier = self.work.services[op.service].supplier
                found.append(self._line(step, f"{supplier}, {local_text(self.work.local(step.run_start))}"))
        return found
