"""Spreads as a shop's tables state them."""

from __future__ import annotations

from planner import shop
from planner.explode.clock import clock_of
from planner.risk.learning import Lesson, lesson_of
from planner.risk.spread import Lognormal
from planner.risk.spreads import RUN, SETUP, Breakdown, Late, Spreads
from planner.risk.turns import turns_of
from planner.work import Begun, Kind, Work


def spreads_of(shop_: shop.Shop, work: Work) -> Spreads:
    """The spreads of a shop for the work that was made from it; defaults where the shop says nothing.

    Setup and run times have those of the settings; yields and parts made for the first time are those of the parts table,
    turns those of the processes, missed vans those of the collections, breakdowns those of the machines. What was booked
    (``shop_.history``) is mixed with what is so assumed of times, turns and yields; with nothing booked it is that alone.
    """
    s, lesson = shop_.settings, lesson_of(shop_)
    turns, out_turns = turns_of(shop_, work, clock_of(shop_), lesson.turns)
    assumed = Spreads(
        times={
            (SETUP, True, ""): Lognormal(s.setup_spread_first_percent), (SETUP, False, ""): Lognormal(s.setup_spread_percent),
            (RUN, True, ""): Lognormal(s.run_spread_first_percent), (RUN, False, ""): Lognormal(s.run_spread_percent),
        },
        common=lesson.common or Lognormal(s.common_spread_percent),
        first_time=frozenset(b.index for b in work.batches if shop_.parts[b.part].first_time),
        yields=_yields(shop_, work, lesson),
        turns=turns, out_turns=out_turns, missed=_missed(shop_, work),
        breakdowns=_breakdowns(shop_, work), absence_days=s.absence_days,
        receipts=Late(s.receipt_late_percent, s.receipt_late_days),
    )  # fmt: skip
    return assumed.learned(lesson.booked)


def _yields(shop_: shop.Shop, work: Work, lesson: Lesson) -> dict[int, float]:
    """Good share of what is left of each batch's routing: that of the whole, to the power of the share of it that is left."""
    found = {}
    for batch in work.batches:
        steps = [work.operations[i] for i in batch.operations]
        left = sum(o.pieces_left / o.pieces for o in steps if o.begun is not Begun.DONE and o.pieces)
        good = lesson.good_share(batch.part, shop_.parts[batch.part].yield_percent / 100)
        if good < 1 and left:
            found[batch.index] = good ** (left / len(steps))
    return found


def _missed(shop_: shop.Shop, work: Work) -> dict[int, float]:
    """By run of a van."""
    usual = shop_.settings.missed_collection_percent
    found = {}
    for i, run in enumerate(work.runs):
        local = work.local(run.collect_min)
        percent = [
            usual if c.missed_percent is None else c.missed_percent
            for c in shop_.suppliers[run.supplier].collections
            if (c.weekday, c.collect) == (local.weekday(), local.time().replace(tzinfo=None, fold=0))
        ]
        found[i] = max(percent, default=usual) / 100
    return {i: chance for i, chance in found.items() if chance > 0}


def _breakdowns(shop_: shop.Shop, work: Work) -> dict[int, Breakdown]:
    """By machine; benches break down only where the shop says so."""
    s = shop_.settings
    running = {a.machine for o in work.operations if o.kind is Kind.MACHINE for a in o.alternatives}
    found = {}
    for i, machine in enumerate(work.machines):
        row = shop_.machines[machine.name]
        usual = s.breakdown_hours if i in running else 0
        hours = usual if row.hours_between_breakdowns is None else row.hours_between_breakdowns
        if hours:
            found[i] = Breakdown(hours, s.repair_hours if row.repair_hours is None else row.repair_hours)
    return found
