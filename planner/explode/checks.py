"""What makes planning impossible, found before it is tried and said in the words of the tables.

Each fault is listed once for a step of a routing, however many batches meet it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import lru_cache

from planner import shop, worktime
from planner.counted import counted
from planner.explode import quantities
from planner.faults import Fault
from planner.work import NEVER, Alternative, Begun, Hours, Kind, Operation, Work


class Facts:
    """The work, with what several checks ask for kept once found."""

    def __init__(self, work: Work) -> None:
        self.work = work
        self.approving = {op.first_off_skill for op in work.operations if op.first_off_skill is not None}
        self.there = [i for i, p in enumerate(work.people) if worktime.from_minute(p.hours, 0)]  # at some time
        self._run_time: dict[tuple[int, int], worktime.OpenTime] = {}
        self._longest: dict[tuple[int, int, bool], int] = {}
        self._together: dict[tuple[int, int], worktime.OpenTime] = {}

    def together(self, machine: int, person: int) -> worktime.OpenTime:
        """When the machine is attended and the person is there."""
        key = (machine, person)
        if key not in self._together:
            attended = self.work.machines[machine].hours.attended
            self._together[key] = worktime.open_together(attended, self.work.people[person].hours)
        return self._together[key]

    def run_time(self, op: Operation, choice: Alternative) -> worktime.OpenTime:
        """Run hours of the operation on that machine, after the plan start."""
        key = (choice.machine, _limit(op))
        if key not in self._run_time:
            self._run_time[key] = _run_time_after_start(self.work.machines[choice.machine].hours, _limit(op))
        return self._run_time[key]

    def longest(self, op: Operation, choice: Alternative) -> int:
        """Most open minutes of one stretch, from the first minute in which a run may start there."""
        key = (choice.machine, _limit(op), op.begun == Begun.RUNNING)
        if key not in self._longest:
            self._longest[key] = self._find_longest(op, choice)
        return self._longest[key]

    def _find_longest(self, op: Operation, choice: Alternative) -> int:
        run_time = self.run_time(op, choice)
        attended = worktime.OpenTime(self.work.machines[choice.machine].hours.attended)
        longest = 0
        for a, b in worktime.stretches(run_time.windows, self.work.break_max_min):
            begin = a if op.begun == Begun.RUNNING else attended.first_open(a)
            longest = max(longest, run_time.open_between(begin, b) if begin < b else 0)
        return longest


@lru_cache(maxsize=256)
def _run_time_after_start(hours: Hours, unattended_limit_min: int) -> worktime.OpenTime:
    """Kept, because a shop is exploded for every question that is asked."""
    return worktime.OpenTime(tuple(worktime.from_minute(worktime.run_hours(hours, unattended_limit_min), 0)))


Check = Callable[[Facts, Operation], Fault | None]


# --- before anything is made -------------------------------------------------------------------


def rule_faults(shop_: shop.Shop) -> list[Fault]:
    """Batch rules and confidence that leave no start quantity."""
    confidence = shop_.settings.confidence_percent
    if not 0 <= confidence <= 99:
        return [Fault("settings.csv", None, "value", str(confidence), "confidence_percent from 0 to 99",
                      "Enter 0 for simple division by the yield; no quantity is enough with certainty.")]  # fmt: skip
    faults = []
    for part in shop_.parts.values():
        largest = quantities.largest_batch(part.rule)
        if not part.made or largest is None:
            continue
        if largest == 0 or quantities.good_from(largest, quantities.yield_of(part.yield_percent), confidence) < 1:
            faults.append(
                Fault("parts.csv", None, "batch_maximum", f"{part.number}: {part.rule.maximum}",
                      "a batch that keeps minimum and multiple and brings at least one good piece",
                      "Enter a larger batch_maximum, or a smaller batch_minimum or batch_multiple.")
            )  # fmt: skip
    return faults


# --- on the work -------------------------------------------------------------------------------


def work_faults(work: Work) -> list[Fault]:
    """Everything by which some operation could never be placed, whatever the plan."""
    facts = Facts(work)
    found: dict[tuple[str, int, int], tuple[int, Fault]] = {}
    for op in work.operations:
        n, fault = _first_fault(facts, op)
        key = (work.batches[op.batch].part, op.number, n)
        if fault and (key not in found or op.pieces_left > found[key][0]):
            found[key] = (op.pieces_left, fault)
    return [fault for _, fault in found.values()] + list(_two_on_one_machine(work))


def fault_of(facts: Facts, op: Operation) -> Fault | None:
    """Why this operation, as it is (pins included), could never be placed; None when it could."""
    return _first_fault(facts, op)[1]


def _first_fault(facts: Facts, op: Operation) -> tuple[int, Fault | None]:
    """The first check that fails, with its place; the later checks rest on the earlier ones."""
    if op.begun in (Begun.DONE, Begun.OUT) or op.kind == Kind.WAIT:
        return -1, None
    found = ((n, check(facts, op)) for n, check in enumerate(_CHECKS))
    return next(((n, fault) for n, fault in found if fault), (-1, None))


def _step(work: Work, op: Operation) -> str:
    return f"{work.batches[op.batch].part} operation {op.number}"


def _on_machine(op: Operation) -> bool:
    return op.kind in (Kind.MACHINE, Kind.MANUAL)


def _choices(op: Operation) -> list[Alternative]:
    """Machines it may go on: all that can do it, or the one it is on or pinned to."""
    only = op.begun_machine if op.begun == Begun.RUNNING else op.pin_machine
    if op.begun != Begun.RUNNING and only is None:
        return list(op.alternatives)
    return [a for a in op.alternatives if a.machine == only]


def _earliest(work: Work, op: Operation) -> int:
    return max(0, op.not_before_min, work.batches[op.batch].release_min)


def _skilled(work: Work, op: Operation) -> list[int]:
    """People who may set or do the operation."""
    only = op.pin_person
    return [i for i, p in enumerate(work.people) if op.skill in p.skills and only in (None, i)]


def _names(work: Work, op: Operation) -> str:
    return ", ".join(work.machines[a.machine].name for a in _choices(op))


def _machine_exists(facts: Facts, op: Operation) -> Fault | None:
    work = facts.work
    if not _on_machine(op) or _choices(op):
        return None
    if op.begun == Begun.RUNNING:
        where = "none" if op.begun_machine is None else work.machines[op.begun_machine].name
        return Fault("progress.csv", None, "machine", f"{work.batches[op.batch].name} operation {op.number}: {where}",
                     "a machine that can do the operation", "Enter the machine it runs on, or add that machine to routing_machines.csv.")  # fmt: skip
    return Fault("routings.csv", None, "group", _step(work, op), "a group with at least one machine",
                 "Add a machine to the group, or name the machines in routing_machines.csv.")  # fmt: skip


def _machine_open(facts: Facts, op: Operation) -> Fault | None:
    """Enough open time for the run, if there were nothing else to do."""
    work = facts.work
    if not _on_machine(op):
        return None
    for choice in _choices(op):
        run_time = facts.run_time(op, choice)
        there = run_time.open_between(_earliest(work, op), NEVER)
        if there and there >= _run_min(facts, op, choice):
            return None
    return Fault("calendars.csv", None, "known_to", f"{_step(work, op)} on {_names(work, op)}",
                 "open time enough for it after the plan start and its release",
                 "Enter a later 'known_to' for the calendar of the machine and its hours, or shorten its downtime.")  # fmt: skip


def _someone_meets_machine(facts: Facts, op: Operation) -> Fault | None:
    """Somebody with the skill is there while a machine is attended, to set or to do the work."""
    work = facts.work
    if not _on_machine(op) or (op.kind == Kind.MACHINE and (op.skill is None or _set_already(op))):
        return None
    if op.skill is None:
        return Fault("routings.csv", None, "skill", _step(work, op), "a skill for a manual step",
                     "Enter who does it in column 'skill'.")  # fmt: skip
    if any(_meets(facts, op, choice, person) for choice in _choices(op) for person in _skilled(work, op)):
        return None
    what = "does" if op.kind == Kind.MANUAL else "sets"
    return Fault("routings.csv", None, "skill", f"{_step(work, op)}: {work.skills[op.skill]}",
                 f"somebody who {what} it while {_names(work, op)} is attended",
                 "Give somebody the skill, or make their hours and those of the machine meet.")  # fmt: skip


def _meets(facts: Facts, op: Operation, choice: Alternative, person: int) -> bool:
    """Is the person there long enough for what one person must do: a setup, or all that is pinned to them?"""
    if op.begun == Begun.RUNNING:
        needed = op.setup_left_min
    else:
        needed = choice.setup_min if facts.work.handover_min is None or op.pin_person is not None else 1
    if op.kind == Kind.MANUAL:
        needed = needed + _run_min(facts, op, choice) if op.pin_person is not None else 1
    there = facts.together(choice.machine, person).open_between(_earliest(facts.work, op), NEVER)
    return there >= max(1, needed)


def _set_already(op: Operation) -> bool:
    return op.begun == Begun.RUNNING and op.setup_left_min == 0


def _someone_approves(facts: Facts, op: Operation) -> Fault | None:
    """A first-off needs somebody with the skill, other than the one possible setter."""
    work = facts.work
    if op.kind != Kind.MACHINE or op.first_off_skill is None or op.first_off_passed or not op.pieces_left:
        return None
    approvers = {i for i in facts.there if op.first_off_skill in work.people[i].skills}
    if op.skill is None or _set_already(op) or work.setter_may_approve:
        enough = bool(approvers)
    else:
        enough = any(approvers - {setter} for setter in _skilled(work, op))
    if enough:
        return None
    return Fault("routings.csv", None, "first_off_skill", f"{_step(work, op)}: {work.skills[op.first_off_skill]}",
                 "somebody other than the setter who approves the first piece",
                 "Give somebody the skill, or set setter_may_approve to yes in settings.csv.")  # fmt: skip


def _fits_without_pause(facts: Facts, op: Operation) -> Fault | None:
    work = facts.work
    if not _on_machine(op) or op.may_pause:
        return None
    longest = needed = 0
    for choice in _choices(op):
        needed = _run_min(facts, op, choice)
        longest = facts.longest(op, choice)
        if needed <= longest:
            return None
    return Fault("routings.csv", None, "may_pause", f"{_step(work, op)}: run of {needed} min without a pause",
                 f"an open stretch as long; the longest on {_names(work, op)} is {longest} min",
                 "Let the run pause, let it go on unattended, make smaller batches, or lengthen the hours.")  # fmt: skip


def _run_min(facts: Facts, op: Operation, choice: Alternative) -> int:
    minutes = quantities.run_minutes(op.pieces_left, op.pieces_per_cycle, choice.cycle_sec)
    if op.kind == Kind.MANUAL and op.skill in facts.approving:
        minutes = -(-minutes * facts.work.inspection_stretch_percent // 100)
    return minutes


def _limit(op: Operation) -> int:
    return op.unattended_limit_min if op.kind == Kind.MACHINE else 0


def _collection_fits(facts: Facts, op: Operation) -> Fault | None:
    work = facts.work
    if op.service is None:
        return None
    service = work.services[op.service]
    trips = [trip for trip in service.trips if trip.cutoff_min >= _earliest(work, op)]
    if not trips:
        return Fault("collections.csv", None, "supplier", f"{service.supplier} for {_step(work, op)}",
                     "a collection after plan start and release, with its delivery, within the known calendars",
                     "Enter collections and deliveries, or a later 'known_to' for the calendars of the supplier and the shop.")  # fmt: skip
    rooms = [work.runs[trip.run].room_pieces for trip in trips]
    largest = max((room for room in rooms if room is not None), default=0)
    if None in rooms or op.pieces_left <= largest:
        return None
    return Fault("collections.csv", None, "capacity_pieces", f"{largest}",
                 f"room for {counted(op.pieces_left, 'piece')} of batch {work.batches[op.batch].name} ({_step(work, op)})",
                 "Enter a larger capacity, or a smaller batch_maximum for the part.")  # fmt: skip


def _two_on_one_machine(work: Work) -> Iterator[Fault]:
    on: dict[int, Operation] = {}
    for op in work.operations:
        if op.begun != Begun.RUNNING or op.begun_machine is None:
            continue
        first = on.setdefault(op.begun_machine, op)
        if first is not op:
            both = " and ".join(f"{work.batches[x.batch].name} operation {x.number}" for x in (first, op))
            yield Fault("progress.csv", None, "machine", work.machines[op.begun_machine].name,
                        f"one running operation on it, not {both}", "Correct the state of one of them.")  # fmt: skip


_CHECKS: tuple[Check, ...] = (
    _machine_exists,
    _machine_open,
    _someone_meets_machine,
    _someone_approves,
    _fits_without_pause,
    _collection_fits,
)
