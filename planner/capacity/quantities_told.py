"""What is said of batch quantities, as records."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Charge:
    """An outside step: pieces from which on the minimum charge is less than what the pieces cost."""

    process: str
    minimum_pence: int
    line_fee_pence: int
    piece_pence: int
    pieces: int | None  # None: pieces cost nothing there


@dataclass(frozen=True)
class Bars:
    """Whole bars for the suggested quantity; ``full`` is the start quantity that uses them up."""

    a_bar: int
    bars: int
    full: int
    kg: float | None


@dataclass(frozen=True)
class Start:
    """Pieces to start so that the good ones asked for come out with at least that chance; 0: simple division by the yield."""

    confidence_percent: int
    pieces: int
    chance: float


@dataclass(frozen=True)
class Point:
    """Pence a year at one start quantity."""

    quantity: int
    setups: int
    stock: int
    outside: int

    @property
    def total(self) -> int:
        return self.setups + self.stock + self.outside


@dataclass(frozen=True)
class Quantity:
    """One part. Quantities are start quantities, without setting pieces."""

    part: str
    description: str
    demand_a_year: int  # good pieces
    present: int  # as batches are formed now
    setup_min: int  # of one batch, all steps
    run_min_a_piece: float
    setup_share_percent: float  # of all machine and manual minutes, at the present quantity
    setup_pence: int  # of one batch
    value_pence: int  # of a piece in stock
    holding_pence: float  # of a piece for a year
    make_rate: int  # pieces a year while it runs, at its slowest step
    economic: int
    by_hours: int | None  # None: the limiting group has no hours left for setups
    charges: tuple[Charge, ...]
    suggested: int
    because: str
    near_from: int  # quantities that cost hardly more
    near_to: int
    suggested_share_percent: float  # setup share there
    saved_pence: int  # a year, against the present quantity
    bars: Bars | None
    starts: tuple[Start, ...]  # for as many good pieces as the suggested quantity brings on average
    curve: tuple[Point, ...]


@dataclass(frozen=True)
class Quantities:
    """``hour_pence``: what an hour of setting on the limiting group has to cost so that all setups fit (0: they do)."""

    parts: tuple[Quantity, ...]
    limiting: str
    limiting_percent: float | None
    hours_for_setups: float  # a year, left by core work and by running
    hour_pence: int | None
    assumptions: tuple[str, ...]
