"""What a chance has been worth: the draws' own word without a record, and what was seen with a long one."""

from __future__ import annotations

import pytest

from planner.risk.record import CREDIBLE, Record


def test_without_a_record_the_draws_are_taken_at_their_word() -> None:
    assert Record().worth(0.9) == pytest.approx(0.9)
    assert Record().needed(0.9) == 0.9


def test_with_a_long_record_a_chance_is_worth_what_it_was() -> None:
    """Nine orders in ten would have been ready by the first day to which the draws gave half a chance."""
    record = Record.of([0.25] * 900 * CREDIBLE + [0.75] * 100 * CREDIBLE)
    assert record.worth(0.5) == pytest.approx(0.9, abs=0.001)
    assert record.needed(0.89) <= 0.25 + 0.001
    assert record.needed(0.95) == pytest.approx(0.751)


def test_a_short_record_changes_little() -> None:
    record = Record.of([1.0] * (CREDIBLE // 3))
    assert record.worth(0.8) == pytest.approx(0.6)
    assert record.needed(0.6) == 0.8
    assert record.needed(0.9) == 1.0


def test_worth_rises_with_the_chance_and_needed_turns_it_round() -> None:
    record = Record.of([0.1, 0.4, 0.4, 0.8, 0.95, 1.0])
    worth = [record.worth(k / 20) for k in range(21)]
    assert worth == sorted(worth) and worth[-1] < 1.0  # what is not ready yet has not held
    for share in (0.3, 0.5, 0.8, 0.9, 0.95):
        needed = record.needed(share)
        assert record.worth(needed) >= share > record.worth(needed - 0.001)


def test_a_kind_with_few_quotes_leans_on_the_record_of_all() -> None:
    """Of all orders half would have been ready by any day with less than 0.6; of one kind none."""
    wider = Record.of([0.0] * 500 * CREDIBLE + [0.6] * 500 * CREDIBLE)
    assert Record.of([], wider).worth(0.5) == wider.worth(0.5)
    assert Record.of([0.6] * CREDIBLE, wider).worth(0.5) == pytest.approx(wider.worth(0.5) / 2)
    assert Record.of([0.6] * 1000 * CREDIBLE, wider).worth(0.5) == pytest.approx(0.0, abs=0.001)
