"""What outside firms' collections carry, against the room on them."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from planner.capacity.demand import Demand
from planner.capacity.share import Share, percent, shares
from planner.capacity.tally import Periods
from planner.work import Work


@dataclass(frozen=True)
class VanLoad:
    """All collections by one outside firm in one period, in pieces; ``room`` None is unlimited."""

    supplier: str
    week: str
    collections: int
    pieces: int
    room: int | None
    percent: float | None
    fullest_percent: float | None  # of its fullest single collection
    batches: tuple[Share, ...] = ()  # pieces of each


def van_loads(work: Work, demands: Iterable[Demand], periods: Periods, running_total: bool) -> Iterator[VanLoad]:
    """Each firm's collections by period, or from the plan start to the end of each period."""
    on = pieces_on_runs(work, demands)
    for supplier in sorted({run.supplier for run in work.runs}):
        of_period: defaultdict[int | None, list[int]] = defaultdict(list)
        for i, run in enumerate(work.runs):
            if run.supplier == supplier and run.collect_min >= 0:
                of_period[periods.of(run.collect_min)].append(i)
        runs: list[int] = []
        for p, label in enumerate(periods.labels, 1):
            runs = [*(runs if running_total else ()), *of_period[p]]
            yield _van_load(work, supplier, label, runs, on)


def _van_load(work: Work, supplier: str, label: str, runs: list[int], on: dict[int, Counter[str]]) -> VanLoad:
    rooms = [work.runs[i].room_pieces for i in runs]
    room = None if None in rooms else sum(r for r in rooms if r is not None)
    batches = sum((on[i] for i in runs if i in on), Counter[str]())
    pieces = batches.total()
    fullest = [
        s for i in runs if (s := percent(on[i].total() if i in on else 0, work.runs[i].room_pieces or 0)) is not None
    ]
    return VanLoad(
        supplier, label, len(runs), pieces, room, percent(pieces, room or 0), max(fullest, default=None), shares(batches)
    )  # fmt: skip


def pieces_on_runs(work: Work, demands: Iterable[Demand]) -> dict[int, Counter[str]]:
    """Pieces of each batch on each collection, by index in ``work.runs``."""
    on: defaultdict[int, Counter[str]] = defaultdict(Counter)
    for demand in demands:
        op = work.operations[demand.operation]
        if demand.run is not None:
            on[demand.run][work.batches[op.batch].name] += op.pieces
    return on
