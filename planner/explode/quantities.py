"""How many pieces: start quantities, batch sizes, pieces at each step, run minutes.

All in whole pieces and exact fractions: yields are used as entered (97.5 is 975/1000), and
rounding up happens once for a batch, never step by step.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from math import ceil

from planner.shop import BatchRule, Operation


def yield_of(percent: float) -> Fraction:
    """A yield as an exact fraction of 1, from percent as entered."""
    return Fraction(str(percent)) / 100


# --- start quantities --------------------------------------------------------------------------


@lru_cache(maxsize=4096)
def start_quantity(need: int, yield_: Fraction, confidence_percent: int = 0) -> int:
    """Pieces to start so that ``need`` good ones come out.

    Parameters
    ----------
    need
        Good pieces wanted, at least 1.
    yield_
        Good share of the whole routing, 0 < yield <= 1.
    confidence_percent
        0: need / yield, rounded up. 1 to 99: the fewest pieces of which at least ``need`` are good
        with at least this chance, each piece being good with chance ``yield_`` by itself.

    Raises
    ------
    ValueError
        When the confidence is not 0 to 99: certainty has no finite start quantity.
    """
    if not 0 <= confidence_percent <= 99:
        raise ValueError(f"confidence must be 0 to 99 percent, not {confidence_percent}")
    if confidence_percent == 0 or yield_ == 1:
        return ceil(need / yield_)
    low, high = need, ceil(need / yield_)
    while not is_enough(high, need, yield_, confidence_percent):
        low, high = high + 1, 2 * high
    while low < high:
        middle = (low + high) // 2
        if is_enough(middle, need, yield_, confidence_percent):
            high = middle
        else:
            low = middle + 1
    return low


@lru_cache(maxsize=4096)
def good_from(start: int, yield_: Fraction, confidence_percent: int = 0) -> int:
    """Good pieces to count on from ``start``: the inverse of :func:`start_quantity`."""
    if confidence_percent == 0 or yield_ == 1:
        return int(start * yield_)
    low, high = 0, start
    while low < high:
        middle = (low + high + 1) // 2
        if is_enough(start, middle, yield_, confidence_percent):
            low = middle
        else:
            high = middle - 1
    return low


def chance_enough(start: int, good: int, yield_: Fraction) -> Fraction:
    """Exact chance that at least ``good`` of ``start`` pieces are good."""
    return Fraction(*_ways(start, good, yield_))


def is_enough(start: int, good: int, yield_: Fraction, percent: int) -> bool:
    """Is the chance of ``good`` out of ``start`` at least ``percent``? In whole numbers, hence exact."""
    ways, all_ways = _ways(start, good, yield_)
    return 100 * ways >= percent * all_ways


def _ways(start: int, good: int, yield_: Fraction) -> tuple[int, int]:
    """Binomial chance of at least ``good`` as numerator and denominator: sum over the scrap allowed."""
    spare = start - good
    if spare < 0:
        return 0, 1
    keep, of = yield_.numerator, yield_.denominator
    ways = total = keep**spare  # ways with k scrapped, without the factor keep**good that all have
    for k in range(spare):
        ways = ways * (start - k) * (of - keep) // ((k + 1) * keep)
        total += ways
    return total * keep**good, of**start


# --- batches -----------------------------------------------------------------------------------


def largest_batch(rule: BatchRule) -> int | None:
    """Largest start quantity the rule allows, a multiple of ``rule.multiple``; None: no limit.

    0 where minimum, multiple and maximum leave nothing.
    """
    if rule.maximum is None:
        return None
    largest = rule.maximum // rule.multiple * rule.multiple
    return largest if largest >= rule.minimum else 0


def batch_quantities(need: int, rule: BatchRule, yield_: Fraction, confidence_percent: int = 0) -> list[int]:
    """Start quantities of the batches that together bring ``need`` good pieces.

    Each is at least the minimum and a multiple; full batches first where the maximum asks for several.

    Raises
    ------
    ValueError
        When the largest batch allowed brings no good piece.
    """
    largest = largest_batch(rule)
    if largest is not None and good_from(largest, yield_, confidence_percent) < 1:
        raise ValueError(f"the largest batch allowed ({largest}) brings no good piece")
    result = []
    while need > 0:
        start = _rounded(max(start_quantity(need, yield_, confidence_percent), rule.minimum), rule.multiple)
        if largest is not None:
            start = min(start, largest)
        result.append(start)
        need -= good_from(start, yield_, confidence_percent)
    return result


def split_quantities(
    start: int, rule: BatchRule, minimum: int, yield_: Fraction, confidence_percent: int = 0
) -> tuple[int, int] | None:
    """Start quantities of two batches that bring what one of ``start`` pieces does, as even as the multiple allows.

    None where one would be under ``minimum`` or the rule's. Each keeps the yield for itself, so the two
    together may need more than ``start``.
    """
    least = max(minimum, rule.minimum)
    if start < 2 * least:
        return None
    good = good_from(start, yield_, confidence_percent)
    first = _rounded(-(-start // 2), rule.multiple)
    second = _rounded(start - first, rule.multiple)
    while good_from(first, yield_, confidence_percent) + good_from(second, yield_, confidence_percent) < good:
        second += rule.multiple
    if min(first, second) < least or (rule.maximum is not None and max(first, second) > rule.maximum):
        return None
    return first, second


def combined_quantity(good: int, rule: BatchRule, yield_: Fraction, confidence_percent: int = 0) -> int | None:
    """Start quantity of one batch that brings ``good`` pieces; None where the rule's maximum forbids it."""
    start = _rounded(max(start_quantity(good, yield_, confidence_percent), rule.minimum), rule.multiple)
    return None if rule.maximum is not None and start > rule.maximum else start


def _rounded(pieces: int, multiple: int) -> int:
    return -(-pieces // multiple) * multiple


# --- pieces at a step ----------------------------------------------------------------------------


def setting_pieces(operations: Sequence[Operation]) -> int:
    """Pieces that the settings of all steps use up."""
    return sum(op.setting_pieces for op in operations)


def pieces_through(operations: Sequence[Operation], position: int, live_pieces: int) -> int:
    """Pieces that run through the step at ``position`` of a routing.

    The setting pieces of later steps go through it as well; its own are used up in its setting.
    ``live_pieces`` is the start quantity without setting pieces, less what was scrapped before.
    A sample is never more than what is there.
    """
    here = live_pieces + setting_pieces(operations[position + 1 :])
    sample = operations[position].sample_pieces
    return here if sample is None else min(sample, here)


def run_minutes(pieces: int, pieces_per_cycle: int, cycle_sec: int) -> int:
    """Whole minutes of the cycles that so many pieces need, rounded up once."""
    cycles = -(-pieces // pieces_per_cycle)
    return -(-cycles * cycle_sec // 60)
