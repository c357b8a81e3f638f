"""Start quantities, batch sizes, pieces at each step and run minutes."""

from __future__ import annotations

from fractions import Fraction
from math import ceil

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.explode import quantities as q
from planner.shop import Alternative, BatchRule, Operation


def steps(*setting: int, sample: int | None = None) -> list[Operation]:
    last = len(setting) - 1
    return [
        Operation(10 * (i + 1), "", "machine", "g", (Alternative("M", 0, 60),), setting_pieces=n,
                  sample_pieces=sample if i == last else None)
        for i, n in enumerate(setting)
    ]  # fmt: skip


# --- start quantity -------------------------------------------------------------------------------


def test_the_yield_is_applied_once_for_the_whole_routing() -> None:
    """Step yields .98, .95, .99, .97 (exact arithmetic): 112 for 100 good; step by step would give 115."""
    rolled = Fraction(98 * 95 * 99 * 97, 10**8)
    assert q.start_quantity(100, rolled) == 112
    stepwise = 100
    for percent in (97, 99, 95, 98):
        stepwise = ceil(stepwise / Fraction(percent, 100))
    assert stepwise == 115


@pytest.mark.parametrize(("start", "chance"), [(112, 0.592), (115, 0.843), (117, 0.932), (118, 0.958), (121, 0.992)])
def test_chance_of_100_good_at_a_rolled_yield(start: int, chance: float) -> None:
    """Binomial values for the rolled yield .8940393 (recomputed independently with scipy)."""
    assert float(q.chance_enough(start, 100, Fraction(8940393, 10**7))) == pytest.approx(chance, abs=6e-4)


@pytest.mark.parametrize(("start", "chance"), [(52, 0.515), (55, 0.944), (56, 0.979)])
def test_chance_of_50_good_at_95_percent(start: int, chance: float) -> None:
    """Binomial distribution, recomputed independently with scipy."""
    assert float(q.chance_enough(start, 50, q.yield_of(95))) == pytest.approx(chance, abs=6e-4)


def test_scrap_of_100_pieces_at_3_percent() -> None:
    """Binomial distribution: P(no scrap) 0.047553, P(at most 5) 0.919163 (recomputed with scipy)."""
    assert float(q.chance_enough(100, 100, q.yield_of(97))) == pytest.approx(0.047553, abs=1e-6)
    assert float(q.chance_enough(100, 95, q.yield_of(97))) == pytest.approx(0.919163, abs=1e-6)


@pytest.mark.parametrize(("percent", "scrap"), [(50, 3), (90, 5), (95, 6), (99, 8)])
def test_scrap_points_of_100_pieces_at_3_percent(percent: int, scrap: int) -> None:
    """Binomial percent points 3, 5, 6, 8: so many good pieces may be counted on with that chance."""
    assert q.good_from(100, q.yield_of(97), percent) == 100 - scrap


# want, yield percent -> simple quantity, its chance in percent, quantity for 90 %, for 95 %
TABLE = [
    (10, 99, 11, 99, None), (10, 98, 11, 98, None), (10, 97, 11, 96, None), (10, 95, 11, 90, (12, 12)), (10, 90, 12, 89, (13, 13)),
    (25, 99, 26, 97, None), (25, 98, 26, 90, (26, 27)), (25, 97, 26, 82, (27, 27)), (25, 95, 27, 85, (28, 28)), (25, 90, 28, 69, (30, 31)),
    (50, 99, 51, 91, (51, 52)), (50, 98, 52, 91, (52, 53)), (50, 97, 52, 80, (53, 54)), (50, 95, 53, 73, (55, 56)), (50, 90, 56, 67, (59, 60)),
    (100, 99, 102, 92, (102, 103)), (100, 98, 103, 85, (104, 105)), (100, 97, 104, 80, (105, 106)), (100, 95, 106, 72, (108, 109)),
    (100, 90, 112, 67, (116, 117)), (200, 99, 203, 85, (204, 205)), (200, 98, 205, 77, (207, 208)), (200, 97, 207, 72, (210, 211)),
    (200, 95, 211, 63, (215, 216)), (200, 90, 223, 62, (229, 231)),
]  # fmt: skip


@pytest.mark.parametrize(("want", "percent", "simple", "chance", "sure"), TABLE)
def test_start_quantities_of_the_scrap_table(
    want: int, percent: float, simple: int, chance: int, sure: tuple[int, int] | None
) -> None:
    """Exact binomial arithmetic: simple quantity, its chance, and what 90 % and 95 % need."""
    share = q.yield_of(percent)
    assert q.start_quantity(want, share) == simple
    assert 100 * float(q.chance_enough(simple, want, share)) == pytest.approx(chance, abs=0.6)
    if sure:
        assert (q.start_quantity(want, share, 90), q.start_quantity(want, share, 95)) == sure


def test_a_yield_with_decimals_is_used_exactly() -> None:
    """In binary floating point 110 * 0.1 and the like are off by a piece; fractions are not."""
    assert q.yield_of(97.5) == Fraction(39, 40)
    assert q.start_quantity(39, q.yield_of(97.5)) == 40
    assert q.start_quantity(40, q.yield_of(97.5)) == 42
    assert q.start_quantity(7, q.yield_of(0.7)) == 1000


@given(st.integers(1, 300), st.integers(50, 100), st.sampled_from([0, 50, 80, 90, 95, 99]))
def test_the_start_quantity_is_enough_and_one_piece_fewer_is_not(need: int, percent: int, sure: int) -> None:
    share = q.yield_of(percent)
    start = q.start_quantity(need, share, sure)
    assert q.good_from(start, share, sure) >= need
    assert q.good_from(start - 1, share, sure) < need


@pytest.mark.parametrize("percent", [-1, 100])
def test_certainty_has_no_start_quantity(percent: int) -> None:
    with pytest.raises(ValueError, match="0 to 99"):
        q.start_quantity(10, q.yield_of(95), percent)


# --- batches --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("need", "rule", "expected"),
    [
        (100, BatchRule(), [100]),
        (19, BatchRule(minimum=20), [20]),
        (21, BatchRule(minimum=20), [21]),
        (20, BatchRule(multiple=20), [20]),
        (21, BatchRule(multiple=20), [40]),
        (100, BatchRule(maximum=100), [100]),
        (101, BatchRule(maximum=100), [100, 1]),
        (101, BatchRule(minimum=30, maximum=100), [100, 30]),
        (101, BatchRule(multiple=30, maximum=100), [90, 30]),
        (0, BatchRule(), []),
    ],
)
def test_batches_keep_minimum_multiple_and_maximum(need: int, rule: BatchRule, expected: list[int]) -> None:
    assert q.batch_quantities(need, rule, Fraction(1)) == expected


def test_a_maximum_counts_start_pieces_not_good_ones() -> None:
    """100 good at 95 %: a batch of 100 brings 95, the other 5 need 6."""
    assert q.batch_quantities(100, BatchRule(maximum=100), q.yield_of(95)) == [100, 6]


@given(
    st.integers(1, 500),
    st.integers(60, 100),
    st.integers(1, 40),
    st.integers(1, 12),
    st.integers(0, 80),
    st.sampled_from([0, 90]),
)
def test_batches_together_bring_what_is_needed(
    need: int, percent: int, least: int, multiple: int, more: int, sure: int
) -> None:
    rule = BatchRule(least, multiple, least + multiple + more)
    share = q.yield_of(percent)
    if q.good_from(q.largest_batch(rule) or 0, share, sure) < 1:
        with pytest.raises(ValueError, match="no good piece"):
            q.batch_quantities(need, rule, share, sure)
        return
    found = q.batch_quantities(need, rule, share, sure)
    assert sum(q.good_from(n, share, sure) for n in found) >= need
    assert sum(q.good_from(n, share, sure) for n in found[:-1]) < need
    assert all(least <= n <= rule.maximum and n % multiple == 0 for n in found)  # type: ignore[operator]


def test_a_rule_that_leaves_no_quantity_has_no_largest_batch() -> None:
    assert q.largest_batch(BatchRule(maximum=9, multiple=10)) == 0
    assert q.largest_batch(BatchRule(minimum=15, maximum=19, multiple=10)) == 0
    assert q.largest_batch(BatchRule(minimum=10, maximum=19, multiple=10)) == 10
    assert q.largest_batch(BatchRule()) is None


# --- pieces at a step --------------------------------------------------------------------------------


def test_setting_pieces_run_through_the_steps_before_the_one_that_uses_them() -> None:
    routing = steps(2, 0, 3)
    assert [q.pieces_through(routing, i, 100) for i in range(3)] == [103, 103, 100]
    assert q.setting_pieces(routing) == 5


def test_a_sample_is_never_more_than_what_is_there() -> None:
    routing = steps(0, 0, sample=13)
    assert q.pieces_through(routing, 1, 100) == 13
    assert q.pieces_through(routing, 1, 12) == 12
    assert q.pieces_through(routing, 0, 100) == 100


@pytest.mark.parametrize(
    ("pieces", "per_cycle", "cycle_sec", "expected"),
    [
        (108, 1, 360, 648),
        (108, 1, 30, 54),
        (5, 4, 60, 2),
        (4, 4, 60, 1),
        (1, 1, 1, 1),
        (60, 1, 1, 1),
        (61, 1, 1, 2),
        (0, 4, 60, 0),
    ],
)
def test_run_minutes_round_cycles_up_and_minutes_up_once(
    pieces: int, per_cycle: int, cycle_sec: int, expected: int
) -> None:
    """Saw and lathe of the worked routing: 108 pieces at 0.5 min are 54 min, at 6 min 648."""
    assert q.run_minutes(pieces, per_cycle, cycle_sec) == expected
