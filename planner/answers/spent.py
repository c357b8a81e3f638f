"""What minutes an operation really uses in the time it holds its machine.

A machine is held from setup start to run end, closed time included. The spans here are only the
open minutes in which someone sets, the machine runs or a first piece is looked at. Added up they are the
operation's own setup minutes (handovers included), run minutes and first-off minutes exactly.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from planner.plan import Step, Stint
from planner.work import Kind, Operation, Span, Work
from planner.worktime import common, stretches

SETUP, RUN, CHECK = "setup", "run", "check"


@dataclass(frozen=True)
class Spent:
    """Minutes ``[start, end)`` of one thing; ``person`` is None where nobody in particular is needed."""

    what: str  # 'setup', 'run' or 'check'
    start: int
    end: int
    machine: int | None = None  # None for a check: the machine waits
    person: int | None = None
    attended: bool = True

    @property
    def minutes(self) -> int:
        return self.end - self.start


class Minutes:
    """Spans of any step of one ``Work``; run hours are laid out once for each machine and limit."""

    def __init__(self, work: Work) -> None:
        self._work = work
        self._night = lru_cache(maxsize=None)(self._night_hours)

    def of(self, step: Step) -> list[Spent]:
        """Spans of one step in order of time; none for outside work, waits and what takes no time."""
        if step.machine is None:
            return []
        op = self._work.operations[step.operation]
        if op.kind is Kind.MANUAL:
            return list(_manual(step))
        found = [*self._setup(step, step.machine), *self._check(step), *self._run(op, step, step.machine)]
        return sorted(found, key=lambda s: (s.start, s.end, s.what))

    def _setup(self, step: Step, machine: int) -> Iterator[Spent]:
        attended = self._work.machines[machine].hours.attended
        for stint in step.setup:
            person = None if stint.person < 0 else stint.person
            for a, b in self._both(attended, stint, person):
                yield Spent(SETUP, a, b, machine, person)

    def _both(self, attended: Sequence[Span], stint: Stint, person: int | None) -> list[Span]:
        open_spans = cut(attended, stint.start, stint.end)
        if person is None:
            return open_spans
        return common(open_spans, cut(self._work.people[person].hours, stint.start, stint.end))

    def _check(self, step: Step) -> Iterator[Spent]:
        if step.first_off is not None:
            check = step.first_off
            for a, b in cut(self._work.people[check.approver].hours, check.start, check.end):
                yield Spent(CHECK, a, b, None, check.approver)

    def _run(self, op: Operation, step: Step, machine: int) -> Iterator[Spent]:
        total = run_min(op, machine)
        for i, burst in enumerate(step.bursts):
            upto = step.bursts[i + 1].run_min_before if i + 1 < len(step.bursts) else total
            limit = 0 if step.first_off is not None and i == 0 else op.unattended_limit_min
            yield from self.run(machine, limit, burst.start, step.run_end, upto - burst.run_min_before)

    def run(self, machine: int, limit_min: int, start: int, end: int, minutes: int) -> Iterator[Spent]:
        """So many run minutes from ``start`` on, in attended time and the first ``limit_min`` of each unattended stretch,
        but not after ``end``."""
        yield from _worked_off(self._run_hours(machine, limit_min, start, end), minutes, machine)

    def _run_hours(self, machine: int, limit_min: int, start: int, end: int) -> list[tuple[int, int, bool]]:
        attended = [(a, b, True) for a, b in cut(self._work.machines[machine].hours.attended, start, end)]
        if not limit_min:
            return attended
        return sorted([*attended, *((a, b, False) for a, b in cut(self._night(machine, limit_min), start, end))])

    def _night_hours(self, machine: int, limit_min: int) -> tuple[Span, ...]:
        """The first minutes of each unattended stretch, counted from where it really begins."""
        whole = stretches(self._work.machines[machine].hours.unattended, 0)
        return tuple((a, min(b, a + limit_min)) for a, b in whole)


def _manual(step: Step) -> Iterator[Spent]:
    for stint in step.stints:
        change = min(max(stint.start, step.run_start), stint.end)
        if stint.start < change:
            yield Spent(SETUP, stint.start, change, step.machine, stint.person)
        if change < stint.end:
            yield Spent(RUN, change, stint.end, step.machine, stint.person)


def _worked_off(hours: Iterable[tuple[int, int, bool]], minutes: int, machine: int) -> Iterator[Spent]:
    for a, b, attended in hours:
        if minutes <= 0:
            return
        b = min(b, a + minutes)
        minutes -= b - a
        yield Spent(RUN, a, b, machine, None, attended)


def run_min(op: Operation, machine: int) -> int:
    """Run minutes of what is left of an operation on that machine, rounded up once."""
    cycle_sec = next(a.cycle_sec for a in op.alternatives if a.machine == machine)
    cycles = ceil_div(op.pieces_left, op.pieces_per_cycle)
    return ceil_div(cycles * cycle_sec, 60)


def ceil_div(amount: int, unit: int) -> int:
    """``amount / unit`` rounded up."""
    return -(-amount // unit)


def cut(windows: Sequence[Span], start: int, end: int) -> list[Span]:
    """The parts of sorted windows that lie in ``[start, end)``."""
    found = []
    for a, b in windows[max(0, bisect_right(windows, (start, start)) - 1) :]:
        if a >= end:
            break
        if b > start:
            found.append((max(a, start), min(b, end)))
    return found
