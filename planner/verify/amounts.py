"""Minutes an operation takes, from its own data and the machine it is on."""

from __future__ import annotations

from planner.work import Alternative, Begun, Kind, Operation


def up(amount: int, unit: int) -> int:
    """``amount / unit`` rounded up."""
    return -(-amount // unit)


def cycles(operation: Operation) -> int:
    return up(operation.pieces_left, operation.pieces_per_cycle)


def cycle_minutes(count: int, alternative: Alternative) -> int:
    """Whole minutes of that many cycles, rounded up once."""
    return up(count * alternative.cycle_sec, 60)


def run_minutes(operation: Operation, alternative: Alternative) -> int:
    return cycle_minutes(cycles(operation), alternative)


def first_off_due(operation: Operation) -> bool:
    """Is a first piece still to be approved?"""
    asked = operation.kind == Kind.MACHINE and operation.first_off_skill is not None
    return asked and not operation.first_off_passed and operation.pieces_left > 0


def first_cycle_minutes(operation: Operation, alternative: Alternative) -> int:
    return min(cycle_minutes(1, alternative), run_minutes(operation, alternative))


def base_setup(operation: Operation, alternative: Alternative) -> int:
    """Setup minutes that do not depend on what was on the machine before."""
    return operation.setup_left_min if operation.begun == Begun.RUNNING else alternative.setup_min


def takes_no_time(operation: Operation, alternative: Alternative) -> bool:
    nothing = base_setup(operation, alternative) + run_minutes(operation, alternative) == 0
    return nothing and not first_off_due(operation)


def may_take_no_time(operation: Operation) -> bool:
    """Has a machine or manual operation nothing to do, at least on one of its machines?"""
    worked = operation.kind in (Kind.MACHINE, Kind.MANUAL)
    return worked and any(takes_no_time(operation, a) for a in operation.alternatives)
