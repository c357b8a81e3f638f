"""Indicators of machine use by the definitions of ISO 22400-2 (2014), from planned or from reported minutes.

Worked out from a plan they are planned values: what the plan intends, not what happened. The abbreviations are the standard's.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class UnitTimes:
    """Minutes of one machine (or several together): time elements of ISO 22400-2.

    Parameters
    ----------
    busy_planned
        PBT, planned busy time: planned for production, closed days and planned maintenance taken out.
    production
        APT, actual production time.
    setup
        AUST, actual unit setup time.
    delay
        ADET, actual unit delay time: held by an order and neither set nor running.
    transport, queuing
        ATT and AQT, of the orders.
    """

    busy_planned: float
    production: float
    setup: float
    delay: float = 0.0
    transport: float = 0.0
    queuing: float = 0.0

    @property
    def processing(self) -> float:
        """AUPT = APT + AUST."""
        return self.production + self.setup

    @property
    def busy(self) -> float:
        """AUBT = AUPT + ADET."""
        return self.processing + self.delay

    @property
    def down(self) -> float:
        """ADOT = PBT - AUBT: idle for lack of orders (breakdowns are delay)."""
        return self.busy_planned - self.busy

    @property
    def execution(self) -> float:
        """AOET, order execution time = AUBT + ATT + AQT."""
        return self.busy + self.transport + self.queuing

    @property
    def availability(self) -> float | None:
        """APT / PBT."""
        return ratio(self.production, self.busy_planned)

    @property
    def allocation_efficiency(self) -> float | None:
        """AUBT / PBT."""
        return ratio(self.busy, self.busy_planned)

    @property
    def utilisation_efficiency(self) -> float | None:
        """APT / AUBT."""
        return ratio(self.production, self.busy)

    @property
    def technical_efficiency(self) -> float | None:
        """APT / (APT + ADET)."""
        return ratio(self.production, self.production + self.delay)

    @property
    def setup_ratio(self) -> float | None:
        """AUST / AUPT."""
        return ratio(self.setup, self.processing)

    @property
    def allocation_ratio(self) -> float | None:
        """AUBT / AOET; above 1 where operations overlap."""
        return ratio(self.busy, self.execution)

    @property
    def production_process_ratio(self) -> float | None:
        """APT / AOET."""
        return ratio(self.production, self.execution)


@dataclass(frozen=True)
class Output:
    """Pieces made in those minutes, with the planned minutes a piece (PRI)."""

    times: UnitTimes
    run_min_a_piece: float  # PRI, planned run time per item
    produced: int  # PQ
    good: int  # GQ

    @property
    def effectiveness(self) -> float | None:
        """PRI x PQ / APT."""
        return ratio(self.run_min_a_piece * self.produced, self.times.production)

    @property
    def quality_ratio(self) -> float | None:
        """GQ / PQ."""
        return ratio(self.good, self.produced)

    @property
    def scrap_ratio(self) -> float | None:
        """(PQ - GQ) / PQ."""
        return ratio(self.produced - self.good, self.produced)

    @property
    def oee_index(self) -> float | None:
        """Availability x effectiveness x quality ratio."""
        return _product(self.times.availability, self.effectiveness, self.quality_ratio)

    @property
    def nee_index(self) -> float | None:
        """AUPT / PBT x effectiveness x quality ratio: setting counts as used."""
        used = ratio(self.times.processing, self.times.busy_planned)
        return _product(used, self.effectiveness, self.quality_ratio)

    @property
    def throughput_rate(self) -> float | None:
        """PQ / AOET, pieces an hour."""
        return ratio(60 * self.produced, self.times.execution)


def ratio(part: float, whole: float) -> float | None:
    """``part / whole``; None where the whole is 0."""
    return part / whole if whole else None


def _product(*factors: float | None) -> float | None:
    found = 1.0
    for factor in factors:
        if factor is None:
            return None
        found *= factor
    return found
