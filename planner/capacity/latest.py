"""Where demand truly falls: every operation at its latest dates, as if each machine could do any amount at once.

Backward from each order's due time and from the step that uses a component, through the hours of machines and people, moves,
waits, sublots and the turns of outside firms. Nothing is levelled, so a week may ask for far more than there is, and
dates may lie before the plan start. Machines are those of the plan; setups are the base setups, since what ran before
is not known; work that feeds no order has no latest date and stays where the plan has it. Without a plan each step is on the first
machine that can do it, and work that feeds no order is wanted at once.
"""

from __future__ import annotations

from collections import defaultdict

from planner.answers.spent import CHECK, RUN, SETUP, Minutes, Spent, ceil_div, run_min
from planner.capacity.demand import Demand, as_planned
from planner.capacity.openings import Openings, laid_back, moved_back
from planner.plan import Plan
from planner.verify.amounts import base_setup, cycle_minutes, first_cycle_minutes, first_off_due
from planner.work import NEVER, Alternative, Begun, Kind, Operation, Work


def at_latest(work: Work, plan: Plan | None = None) -> list[Demand]:
    """Demands of all operations still to be done, in order of operation.

    Each asks for exactly its own minutes. Where hours are not known so far back they are counted as elapsed.
    """
    return _Backward(work, plan).all()


class _Backward:
    def __init__(self, work: Work, plan: Plan | None) -> None:
        self.work, self.no_plan = work, plan is None
        self.planned = {} if plan is None else {d.operation: d for d in as_planned(work, plan)}
        self.minutes, self.open = Minutes(work), Openings(work)
        self.stretched = {o.first_off_skill for o in work.operations if o.first_off_skill is not None}
        self.found: dict[int, Demand] = {}
        self.run_start: dict[int, int] = {}
        self.dues: dict[int, list[int]] = defaultdict(list)
        for order in work.orders:
            for source in order.sources:
                if source.batch is not None:
                    self.dues[source.batch].append(order.due_min)
        self.used: dict[int, list[int]] = defaultdict(list)
        for need in work.needs:
            if need.batch is not None:
                self.used[need.batch].append(need.operation)
        self.done: set[int] = set()

    def all(self) -> list[Demand]:
        for batch in self.work.batches:
            self._lay(batch.index)
        return [self.found[i] for i in sorted(self.found)]

    def _lay(self, batch: int) -> None:
        """All steps of a batch, after those of the batches it goes into."""
        if batch in self.done:
            return
        self.done.add(batch)
        for user in self.used[batch]:
            self._lay(self.work.operations[user].batch)
        uses = [self.found[user].start for user in self.used[batch] if user in self.found]
        end = min([NEVER, *self.dues[batch], *uses])
        left = [
            op for i in self.work.batches[batch].operations if (op := self.work.operations[i]).begun is not Begun.DONE
        ]
        if end >= NEVER and self.no_plan:
            end = 0
        if end >= NEVER:
            self.found.update({op.index: self.planned[op.index] for op in left if op.index in self.planned})
            return
        for before, op in _backward(left):
            self._place(op, end - op.wait_min)
            if before is not None:
                end = self._end_before(before, op)

    # --- one operation ---------------------------------------------------------------------------

    def _place(self, op: Operation, end: int) -> None:
        """The demand of an operation whose run ends by ``end``."""
        if op.kind is Kind.OUTSIDE:
            self._keep(op, self._sent(op, end))
            return
        alternative = self._alternative(op)
        if alternative is None:
            self._keep(op, Demand(op.index, None, end, end, end))
            return
        spent = (self._manual if op.kind is Kind.MANUAL else self._machined)(op, alternative, end)
        start = spent[0].start if spent else end
        self._keep(op, Demand(op.index, alternative.machine if spent else None, start, end, start, tuple(spent)))

    def _keep(self, op: Operation, demand: Demand) -> None:
        self.found[op.index] = demand
        running = [s.start for s in demand.spent if s.what == RUN]
        self.run_start[op.index] = min(running, default=demand.run_end)

    def _alternative(self, op: Operation) -> Alternative | None:
        """The machine of the plan; without one (nothing to do there, or no plan) the first that may do it."""
        planned = self.planned.get(op.index)
        named = (planned.machine if planned else None, op.begun_machine, op.pin_machine)
        machine = next((m for m in named if m is not None), None)
        return next((a for a in op.alternatives if machine in (None, a.machine)), None)

    def _sent(self, op: Operation, end: int) -> Demand:
        """On the last collection that is back in time; where none is, on the first, and too late by so much."""
        assert op.service is not None
        trips = self.work.services[op.service].trips
        if op.begun is Begun.OUT or not trips:
            return Demand(op.index, None, end, end, end)
        trip = max((t for t in trips if t.back_min <= end), key=lambda t: t.cutoff_min, default=None)
        if trip is not None:
            return Demand(op.index, None, trip.cutoff_min, trip.back_min, trip.cutoff_min, run=trip.run)
        start = end - (trips[0].back_min - trips[0].cutoff_min)
        return Demand(op.index, None, start, end, start, run=trips[0].run)

    def _machined(self, op: Operation, alternative: Alternative, end: int) -> list[Spent]:
        machine, run = alternative.machine, run_min(op, alternative.machine)
        if first_off_due(op):
            first = first_cycle_minutes(op, alternative)
            rest = self._run(op, machine, end, run - first)
            able = self.open.people(op.first_off_skill)
            begin = rest[0].start if rest else end
            check = [Spent(CHECK, a, b) for a, b in laid_back(able, begin, op.first_off_min)]
            begin = check[0].start if check else begin
            cycle = [Spent(RUN, a, b, machine) for a, b in laid_back(self.open.attended(machine), begin, first)]
            ran = [*cycle, *check, *rest]
        else:
            ran = self._run(op, machine, end, run)
        begin = ran[0].start if ran else end
        there = self.open.manned(machine, op.skill, op.pin_person)
        return [*(Spent(SETUP, a, b, machine) for a, b in laid_back(there, begin, base_setup(op, alternative))), *ran]

    def _run(self, op: Operation, machine: int, end: int, minutes: int) -> list[Spent]:
        """Run minutes that are worked off by ``end``; they begin with somebody there."""
        if not minutes:
            return []
        attended = self.open.attended(machine)
        start = self.open.run(machine, op.unattended_limit_min).before(end, minutes)
        if start > -NEVER and attended.first_open(start) != start:
            start = attended.before(start, 1)
        if start <= -NEVER:
            return [Spent(RUN, end - minutes, end, machine)]
        return list(self.minutes.run(machine, op.unattended_limit_min, start, end, minutes))

    def _manual(self, op: Operation, alternative: Alternative, end: int) -> list[Spent]:
        setup, machine = base_setup(op, alternative), alternative.machine
        run = run_min(op, machine)
        if op.skill in self.stretched:
            run = ceil_div(run * self.work.inspection_stretch_percent, 100)
        found = []
        for a, b in laid_back(self.open.manned(machine, op.skill, op.pin_person), end, setup + run):
            change = min(a + setup, b)
            setup -= change - a
            found += [Spent(what, c, d, machine) for what, c, d in ((SETUP, a, change), (RUN, change, b)) if c < d]
        return found

    # --- from one operation back to the one before -------------------------------------------------

    def _end_before(self, before: Operation, op: Operation) -> int:
        """Latest end of a step, its wait included, given where the next one is."""
        demand = self.found[op.index]
        ahead = op.kind is Kind.MACHINE and op.begun is not Begun.RUNNING
        if before.transfer_pieces and before.kind is Kind.MACHINE and ahead and before.pieces_left and demand.spent:
            return self._end_of_sublots(before, op, demand)
        ready = self.run_start[op.index] if ahead and op.setup_ahead else demand.start
        return moved_back(self.open.move(before, demand.machine), ready, before.move_min)

    def _end_of_sublots(self, before: Operation, op: Operation, demand: Demand) -> int:
        """So that each sublot is there when the next step comes to it."""
        giver, taker = self._alternative(before), self._alternative(op)
        assert giver is not None and taker is not None and before.transfer_pieces
        giving = self.open.run(giver.machine, before.unattended_limit_min)
        taking = self.open.run(taker.machine, op.unattended_limit_min)
        move = self.open.move(before, demand.machine)
        whole, taken, ends = run_min(before, giver.machine), 0, []
        for first in range(0, before.pieces_left, before.transfer_pieces):
            given = min(first + before.transfer_pieces, before.pieces_left)
            begun = taking.after(self.run_start[op.index], taken)
            there = moved_back(move, min(begun, demand.run_end), before.move_min) - before.wait_min
            to_do = whole - cycle_minutes(ceil_div(given, before.pieces_per_cycle), giver)
            ends.append(giving.after(there, to_do))
            taken = min(given, op.pieces_left) // op.pieces_per_cycle * taker.cycle_sec // 60
        return min(ends) + before.wait_min


def _backward(left: list[Operation]) -> list[tuple[Operation | None, Operation]]:
    """Each operation with the one before it, the last first."""
    return list(zip([None, *left[:-1]], left, strict=True))[::-1]
