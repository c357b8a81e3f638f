"""What may come otherwise than planned, and by how much: one record of plain choices, made for one ``Work``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from planner.risk.spread import BookedDays, Lognormal, Spread, ThreePoint, shrunk

SETUP, RUN = "setup", "run"
Class = tuple[str, bool, str]  # SETUP or RUN, a part made here for the first time?, machine group ('': any)


@dataclass(frozen=True)
class Booked:
    """One setup or run as it was booked, beside its planned minutes. ``kind`` is ``SETUP`` or ``RUN``."""

    kind: str
    planned_min: float
    actual_min: float
    first_time: bool = False
    group: str = ""


@dataclass(frozen=True)
class Turn:
    """How long an outside service takes, in working days of the firm.

    ``backs`` says for each collection of the service (those of the first year) when work is back after 0, 1, 2... of them.
    """

    days: ThreePoint | BookedDays
    backs: tuple[tuple[int, ...], ...]


@dataclass(frozen=True)
class Breakdown:
    """Exponential times between breakdowns of a machine, counted in its open hours, and to repair, in attended hours."""

    between_hours: float
    repair_hours: float


@dataclass(frozen=True)
class Late:
    """A chance in percent that a receipt is late, and by how many days on average when it is (exponential, whole days)."""

    percent: float = 0.0
    days: float = 0.0


@dataclass(frozen=True)
class Spreads:
    """All that is drawn. Made for a shop by :func:`planner.risk.spreads_of`; the values here are what it assumes of
    times where the shop says nothing (common practice, no source), and nothing else is drawn.

    Parameters
    ----------
    times
        Spread of setup and run times by class; a group's own goes before the one of any group.
    common
        Spread of a factor that all times of a draw share: good and bad spells of a whole shop.
    own
        By operation: the spread of its run instead of its class's (without the common factor).
    first_time
        Batches of parts that were not made here before.
    yields
        By batch: good share, 0 to 1, of the pieces that go through what is left of its routing.
    turns, out_turns
        By service, and by operation that is at the firm already (then ``backs`` has one row).
    missed
        By run of a van: chance, 0 to 1, that it does not come or is missed; what should go then goes with the next.
    breakdowns
        By machine.
    absence_days, absence_spell
        Days a year for which each person is away without notice, and days away at a time on average.
    receipts
        Bought pieces that come later than confirmed.
    """

    times: Mapping[Class, Spread] = field(
        default_factory=lambda: {
            (SETUP, True, ""): Lognormal(60), (SETUP, False, ""): Lognormal(30),
            (RUN, True, ""): Lognormal(25), (RUN, False, ""): Lognormal(10),
        }
    )  # fmt: skip
    common: Spread = field(default_factory=lambda: Lognormal(5))
    own: Mapping[int, Spread] = field(default_factory=dict)
    first_time: frozenset[int] = frozenset()
    yields: Mapping[int, float] = field(default_factory=dict)
    turns: Mapping[int, Turn] = field(default_factory=dict)
    out_turns: Mapping[int, Turn] = field(default_factory=dict)
    missed: Mapping[int, float] = field(default_factory=dict)
    breakdowns: Mapping[int, Breakdown] = field(default_factory=dict)
    absence_days: float = 0.0
    absence_spell: float = 2.0
    receipts: Late = Late()

    @classmethod
    def none(cls) -> Spreads:
        """Everything comes as planned."""
        return cls(times={}, common=Lognormal())

    def of(self, kind: str, first_time: bool, group: str) -> Spread:
        """Spread of a time of one class; as planned where none is known."""
        return self.times.get((kind, first_time, group)) or self.times.get((kind, first_time, "")) or Lognormal()

    def learned(self, history: Iterable[Booked]) -> Spreads:
        """These spreads with those of setup and run times learned from what was booked.

        Ratios of actual to planned are drawn again as they were booked: those of a class, mixed with what was assumed of
        it by n / (n + 20), and those of a class on one machine group, mixed in the same way with the class's. So
        few bookings change little, and times that are planned too short on average are drawn longer. Bookings without
        planned or actual minutes say nothing and are passed over. What was assumed before must not be learned from
        the same history already; the common factor stays as it is, though bookings hold good and bad spells too.
        """
        ratios: dict[Class, list[float]] = {}
        for row in history:
            if row.planned_min > 0 and row.actual_min > 0:
                for group in {"", row.group}:
                    ratio = row.actual_min / row.planned_min
                    ratios.setdefault((row.kind, row.first_time, group), []).append(ratio)
        times = dict(self.times)
        for at in sorted(ratios, key=lambda c: c[2]):  # a class before its groups
            kind, first_time, _ = at
            before = self.of(*at) if at in self.times else times.get((kind, first_time, ""), Lognormal())
            times[at] = shrunk(ratios[at], before)
        return replace(self, times=times)
