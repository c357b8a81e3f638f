"""Minutes added up by name and period while a load is being worked out.

Period 0 is everything before the plan start (demand can fall there, hours never do); the others are whole weeks or days.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from planner.answers.spent import CHECK, SETUP, Spent
from planner.work import NEVER, Span

ByPeriod = Counter[int]


class Periods:
    """Weeks or days, one after another, with the time before the plan start as period 0."""

    def __init__(self, spans: Sequence[tuple[str, Span]]) -> None:
        self.labels = [label for label, _ in spans]
        self.edges = [-NEVER, 0, *(span[0] for _, span in spans[1:]), spans[-1][1][1]]

    def __len__(self) -> int:
        return len(self.labels) + 1

    def of(self, minute: int) -> int | None:
        """Period of a minute; None after the last."""
        period = bisect_right(self.edges, minute) - 1
        return period if period < len(self) else None

    def spread(self, spans: Iterable[Span]) -> ByPeriod:
        """Minutes of the spans by the period they fall in; those after the last period are left out."""
        found = ByPeriod()
        for a, b in spans:
            b = min(b, self.edges[-1])
            while a < b:
                period = bisect_right(self.edges, a) - 1
                upto = min(b, self.edges[period + 1])
                found[period] += upto - a
                a = upto
        return found


@dataclass(frozen=True)
class Whose:
    """The batch that asks, and what counts of it."""

    batch: str
    priority: str  # the heaviest class it feeds
    own_product: bool
    released: bool


@dataclass
class Tally:
    """One name's minutes by period. ``held``: attended minutes in which a machine is held."""

    attended: ByPeriod = field(default_factory=ByPeriod)
    unattended: ByPeriod = field(default_factory=ByPeriod)
    setup: ByPeriod = field(default_factory=ByPeriod)
    check: ByPeriod = field(default_factory=ByPeriod)
    night: ByPeriod = field(default_factory=ByPeriod)
    held: ByPeriod = field(default_factory=ByPeriod)
    own: ByPeriod = field(default_factory=ByPeriod)
    released: ByPeriod = field(default_factory=ByPeriod)
    released_night: ByPeriod = field(default_factory=ByPeriod)
    run: defaultdict[str, ByPeriod] = field(default_factory=lambda: defaultdict(ByPeriod))  # by class of work
    batches: defaultdict[str, ByPeriod] = field(default_factory=lambda: defaultdict(ByPeriod))  # by name

    def there(
        self, periods: Periods, attended: Iterable[Span], unattended: Iterable[Span] = (), times: int = 1
    ) -> None:
        """Hours there are, so many times over; none before the plan start."""
        for into, spans in ((self.attended, attended), (self.unattended, unattended)):
            for period, minutes in periods.spread(spans).items():
                if period:
                    into[period] += times * minutes

    def need(self, periods: Periods, span: Spent, whose: Whose, times: int = 1) -> None:
        """Minutes that a batch asks for."""
        into = self.setup if span.what == SETUP else self.check if span.what == CHECK else self.run[whose.priority]
        marks = (
            (not span.attended, self.night), (whose.own_product, self.own), (whose.released, self.released),
            (whose.released and not span.attended, self.released_night),
        )  # fmt: skip
        for period, minutes in periods.spread([(span.start, span.end)]).items():
            for count in (into, self.batches[whose.batch], *(count for holds, count in marks if holds)):
                count[period] += times * minutes
