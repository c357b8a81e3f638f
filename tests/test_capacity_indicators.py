"""Indicators against a worked set of times (definitions of ISO 22400-2:2014; figures made up, arithmetic by hand)."""

from __future__ import annotations

import pytest

from planner.capacity.indicators import Output, UnitTimes

TIMES = UnitTimes(busy_planned=450, production=315, setup=45, delay=30, transport=10, queuing=110)
OUTPUT = Output(TIMES, run_min_a_piece=1.5, produced=200, good=190)


def test_sums_of_times() -> None:
    assert (TIMES.processing, TIMES.busy, TIMES.down, TIMES.execution) == (360, 390, 60, 510)


@pytest.mark.parametrize(
    ("found", "expected"),
    [
        (TIMES.availability, 0.7), (TIMES.utilisation_efficiency, 0.807692), (TIMES.allocation_efficiency, 0.866667),
        (TIMES.setup_ratio, 0.125), (TIMES.technical_efficiency, 0.913043), (TIMES.allocation_ratio, 0.764706),
        (TIMES.production_process_ratio, 0.617647), (OUTPUT.effectiveness, 0.952381), (OUTPUT.quality_ratio, 0.95),
        (OUTPUT.oee_index, 0.633333), (OUTPUT.nee_index, 0.723810), (OUTPUT.throughput_rate, 23.529), (OUTPUT.scrap_ratio, 0.05),
    ],
)  # fmt: skip
def test_ratios(found: float, expected: float) -> None:
    assert found == pytest.approx(expected, abs=5e-4 if expected > 1 else 5e-7)


def test_identities() -> None:
    """Availability is allocation times utilisation efficiency; the OEE index is PRI x GQ / PBT."""
    assert TIMES.allocation_efficiency is not None and TIMES.utilisation_efficiency is not None
    assert TIMES.availability == pytest.approx(TIMES.allocation_efficiency * TIMES.utilisation_efficiency)
    assert OUTPUT.oee_index == pytest.approx(1.5 * 190 / 450)


def test_allocation_above_one_where_operations_overlap() -> None:
    overlapping = UnitTimes(450, 315, 45, 30, transport=-100)
    assert (overlapping.allocation_ratio or 0) > 1


def test_nothing_there_gives_no_figure() -> None:
    nothing = UnitTimes(0, 0, 0)
    assert nothing.availability is nothing.setup_ratio is nothing.utilisation_efficiency is None
    assert Output(nothing, 1, 0, 0).oee_index is None
