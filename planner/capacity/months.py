"""The longer view: rough load of every group and skill over the months ahead, and how many of a product fit in beside other work.

Nothing is put in order here. Work in hand is what is left of it, each step where its latest dates fall (``planner/capacity/in_hand.py``).
To that comes what is forecast beyond the orders, in its own month, down through the product structure, in batches as the parts' rules
have them, manual steps getting quicker by the learning curve. Hours are those of the calendars, after availability and performance. So it
says whether a month can hold its work at all, not whether every order is on time. What a month asks for is the same however many
months are looked at.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import timedelta
from functools import cached_property

import numpy as np

from planner.capacity.adding import GROUP, SKILL
from planner.capacity.in_hand import InHand, Minutes
from planner.capacity.learning import share_of_present
from planner.capacity.months_told import Extra, LongView, Mixed, MonthLoad, MonthMade, Worth
from planner.capacity.program import Answer, Means, most, steady
from planner.capacity.requirements import Pieces, beyond_orders, good_pieces, products, share_good, wanted
from planner.capacity.rough import (
    MonthHours,
    group_hours,
    hourly_pence,
    known_to,
    month_spans,
    months_from,
    skill_hours,
    step_minutes,
    typical_batch,
)
from planner.capacity.share import percent
from planner.counted import counted, listed
from planner.explode import explode
from planner.explode.clock import Clock, clock_of
from planner.intake.nearest import did_you_mean
from planner.shop import Shop

LEAST_MONTHS, MONTHS, MOST_MONTHS = 6, 12, 18
PIECES_A_MONTH = 50  # for the batches of a product of which nothing is ordered or forecast
EVERYTHING = 1000.0  # pounds a hour of work: worth more than any overtime, where no contribution is known
TINY = 1e-6
SHOWN = 6  # parts named where one is not known


class UnknownPart(ValueError):
    """The part is not one that the shop makes; the text says that it is bought, or names the nearest."""


def made_parts(shop: Shop, parts: Sequence[str]) -> tuple[str, ...]:
    """The parts, each once, however often it was named.

    Raises
    ------
    UnknownPart
        For a part that is not made here.
    """
    for part in parts:
        if part in shop.parts and part not in shop.routings:
            raise UnknownPart(f"'{part}' is bought, not made here. Name a part that has a routing.")
        if part not in shop.routings:
            known = sorted(shop.routings)
            some = f"it makes {listed(known, SHOWN)}." if known else "it makes none."
            raise UnknownPart(f"the shop makes no part '{part}'. {did_you_mean(part, known, some)}")
    return tuple(dict.fromkeys(parts))


def long_view(shop: Shop, parts: Sequence[str] = (), months: int | None = None) -> LongView:
    """Load by month, and how many of a product fit in.

    Parameters
    ----------
    parts
        The product: one part, or several in the mix that orders and forecast have (evenly, where they have none). Without any,
        the own products.
    months
        How many, from that of the plan start on; without it to the last forecast, at least 6, at most 18, and 12 where nothing is forecast.

    Raises
    ------
    UnknownPart
        For a part that is not made here.
    DataFaults
        When some operation could never be placed.
    """
    return View(shop, made_parts(shop, parts) or tuple(products(shop)), months).answer()


class View:
    """What a shop and its products ask for and have, month by month; parameters as :func:`long_view`, the parts being made here."""

    def __init__(self, shop: Shop, parts: Sequence[str] = (), months: int | None = None) -> None:
        self.shop, self.parts, self.clock = shop, parts, clock_of(shop)
        usual = months_from(self.clock.today, _how_many(shop, self.clock))
        self.usual_wanted = wanted(shop, usual)
        self.usual_good = good_pieces(shop, self.usual_wanted)
        self.months = months_from(self.clock.today, months or len(usual))
        self.wanted = wanted(shop, self.months)
        self.good = good_pieces(shop, self.wanted)
        self.beyond = beyond_orders(shop, self.months)
        self.groups = group_hours(shop, self.clock, self.months)
        self.skills = skill_hours(shop, self.clock, self.months)
        self.named = [m.strftime("%Y-%m") for m in self.months]
        ends = months_from(self.months[0], len(self.months) + 1)[1:]
        self.known = [known_to(shop) >= end - timedelta(days=1) for end in ends]

    def answer(self) -> LongView:
        made, steady_own, steady_more, in_pence = self._made()
        shown = self._mix().items() if made else ()  # without hours there is nothing to say of them
        return LongView(
            tuple(self.named), tuple(self.loads()),
            tuple(Mixed(p, self.shop.parts[p].description, round(s, 4), self.shop.parts[p].contribution_pence) for p, s in shown),
            "pence" if in_pence else "pieces", tuple(made), steady_own, steady_more, tuple(self._assumptions(bool(made))),
        )  # fmt: skip

    # --- load ----------------------------------------------------------------------------------------

    @cached_property
    def _in_hand(self) -> InHand:
        return InHand(explode(self.shop), month_spans(self.months, self.clock))

    def _asked(self, without: Sequence[str] = ()) -> tuple[Minutes, Minutes]:
        """Minutes of core work and of own products, in hand and forecast beyond; without the orders and forecast for some parts."""
        forecast = {p: n for p, n in self.beyond.items() if p not in without}
        core, own = self._in_hand.minutes(without)
        more_core, more_own = self._minutes(good_pieces(self.shop, forecast))
        return _sum(core, more_core), _sum(own, more_own)

    def _minutes(self, good: Pieces) -> tuple[Minutes, Minutes]:
        """Minutes of core work and of own products that so many good pieces ask for, by group or skill."""
        core, own = (defaultdict[tuple[str, str], np.ndarray](lambda: np.zeros(len(self.months))) for _ in range(2))
        for part, pieces in good.items():
            into = own if self.shop.parts[part].own_product else core
            batch = self._batch(part)
            batches = pieces / share_good(self.shop, part) / batch
            learnt = self._learnt(part)
            for step in step_minutes(self.shop, part, batch):
                run = step.run_min * learnt if step.manual else np.full(len(self.months), step.run_min)
                into[GROUP, step.group] = into[GROUP, step.group] + batches * (step.setup_min + run)
                if step.skill is not None:
                    asked = step.setup_min + run if step.manual else step.setup_min
                    into[SKILL, step.skill] = into[SKILL, step.skill] + batches * asked
                if step.approver is not None:
                    into[SKILL, step.approver] = into[SKILL, step.approver] + batches * step.check_min
        return dict(core), dict(own)

    def _batch(self, part: str) -> int:
        pieces = self.usual_good.get(part)
        return typical_batch(self.shop, part, PIECES_A_MONTH if pieces is None else float(pieces.mean()))

    def _learnt(self, part: str) -> np.ndarray:
        """By month, the time of manual steps as a share of the present time."""
        record, pieces = self.shop.parts[part], self.good.get(part)
        each = np.full(len(self.months), PIECES_A_MONTH) if pieces is None else np.rint(pieces).astype(int)
        before = np.concatenate([[0], np.cumsum(each)[:-1]])
        return np.array([
            share_of_present(record.made_before, int(b), max(1, int(n)), record.learning_percent)
            for b, n in zip(before, each, strict=True)
        ])  # fmt: skip

    def loads(self) -> list[MonthLoad]:
        """Groups first, then skills, each month by month."""
        return self._told(*self._asked())

    def loads_of_demand(self) -> list[MonthLoad]:
        """The same with orders in the month they are due in, as if nothing of them were done and nothing in stock: demand as it goes on."""
        return self._told(*self._minutes(self.good))

    def _told(self, core: Minutes, own: Minutes) -> list[MonthLoad]:
        found = []
        hours: dict[tuple[str, str], MonthHours] = {(GROUP, name): h for name, h in self.groups.items()}
        hours |= {(SKILL, name): h for name, h in sorted(self.skills.items())}
        nothing = np.zeros(len(self.months))
        for (kind, name), there in hours.items():
            for m, month in enumerate(self.named):
                of_core, of_own = (round(float(x.get((kind, name), nothing)[m])) for x in (core, own))
                found.append(MonthLoad(
                    kind, name, month, of_core, of_own, there.attended[m], round(there.counted[m]),
                    percent(of_core + of_own, there.counted[m]), self.known[m],
                ))  # fmt: skip
        return found

    # --- how many fit in -------------------------------------------------------------------------------

    def _mix(self) -> dict[str, float]:
        totals = {p: float(self.usual_wanted[p].sum()) if p in self.usual_wanted else 0.0 for p in self.parts}
        all_ = sum(totals.values())
        return {p: t / all_ if all_ else 1 / len(self.parts) for p, t in totals.items()}

    def _made(self) -> tuple[list[MonthMade], float | None, float | None, bool]:
        if not self.parts:
            return [], None, None, False
        contributions = [self.shop.parts[p].contribution_pence for p in self.parts]
        in_pence = None not in contributions
        means = self._means()
        if not means.each.any(axis=0).all():
            return [], None, None, in_pence  # they take no hours here: there is no end to how many fit in
        worth = (
            sum((c or 0) * s for c, s in zip(contributions, self._mix().values(), strict=True)) / 100
            if in_pence
            else 0.0
        )
        worth = worth if in_pence else EVERYTHING * float(means.each.sum(axis=0).max())
        none = np.zeros_like(means.there)
        alone = Means(means.there, means.other, means.each, none, none, means.overtime_rate, means.outside_rate)
        own, more = most(alone, worth), most(means, worth)
        unit = 100.0 if in_pence else 1 / worth
        rows = [self._month(m, means, own, more, unit) for m in range(len(self.months))]
        return rows, _round(steady(alone, worth).rate), _round(steady(means, worth).rate), in_pence

    def _means(self) -> Means:
        """Hours by group and month; other work is all but the products looked at."""
        core, own = self._asked(without=self.parts)
        one = {p: np.full(len(self.months), s) for p, s in self._mix().items() if s}
        each = self._minutes(good_pieces(self.shop, one))
        names, zero = list(self.groups), np.zeros(len(self.months))
        records = [self.shop.groups[g] for g in names]
        overtime = [
            1.5 * hourly_pence(self.shop, name) if g.overtime_rate_pence is None else g.overtime_rate_pence
            for name, g in zip(names, records, strict=True)
        ]
        there = np.array([self.groups[g].counted for g in names]) / 60
        return Means(
            there=there,
            other=np.array([core.get((GROUP, g), zero) + own.get((GROUP, g), zero) for g in names]) / 60,
            each=np.array([sum((x.get((GROUP, g), zero) for x in each), zero) for g in names]) / 60,
            overtime=there * np.array([[g.overtime_percent / 100] for g in records]),
            outside=np.array([[g.outside_hours if g.outside_rate_pence is not None else 0] * len(zero) for g in records], float),
            overtime_rate=np.array(overtime) / 100,
            outside_rate=np.array([g.outside_rate_pence or 0 for g in records]) / 100,
        )  # fmt: skip

    def _month(self, m: int, means: Means, own: Answer, more: Answer, unit: float) -> MonthMade:
        rates = means.overtime_rate @ more.overtime[:, m] + means.outside_rate @ more.outside[:, m]
        asked = sum(float(self.wanted[p][m]) for p in self.parts if p in self.wanted)
        return MonthMade(
            self.named[m], round(asked), _round(own.made[m]) or 0.0, _round(more.made[m]) or 0.0,
            self._worth(own, m, unit), self._extra(more.overtime[:, m]), self._extra(more.outside[:, m]),
            round(100 * float(rates)), self._worth(more, m, unit), self._extra(means.short[:, m]),
        )  # fmt: skip

    def _worth(self, answer: Answer, m: int, unit: float) -> tuple[Worth, ...]:
        rows = zip(self.groups, answer.worth[:, m], strict=True)
        found = [Worth(g, round(float(w) * unit, 3)) for g, w in rows if w > TINY]
        return tuple(sorted(found, key=lambda w: (-w.an_hour, w.group)))

    def _extra(self, hours: np.ndarray) -> tuple[Extra, ...]:
        return tuple(Extra(g, round(60 * float(h))) for g, h in zip(self.groups, hours, strict=True) if h > TINY)

    def _assumptions(self, fits: bool) -> list[str]:
        shop, lines = self.shop, []
        if not all(self.known):
            lines.append(
                f"Calendars are known to {known_to(shop).isoformat()}: after that their weekly hours go on, and holidays are not taken out."
            )
        forecast = {f.month for f in shop.forecast if not shop.parts[f.part].own_product}
        bare = [n for m, n in zip(self.months, self.named, strict=True) if m not in forecast]
        if bare:
            lines.append(
                f"For {counted(len(bare), 'month')} ({', '.join(bare)}) no core work is forecast: only orders in hand count there."
            )
        over = sorted({f.month for f in shop.forecast if f.month < self.months[0]})
        if over:
            names = listed([f"{month:%Y-%m}" for month in over])
            lines.append(f"What forecast.csv has for months that are over ({names}) does not count: the rows can go.")
        rates = [g.name for g in shop.groups.values() if g.hourly_rate_pence is None]
        if rates and fits:
            lines.append(
                f"Groups without an hourly rate ({', '.join(rates)}) cost {shop.settings.hourly_rate_pence / 100:.2f} pounds an hour, "
                "overtime without a rate half as much again."
            )
        lines.append(
            "What is left of the work in hand counts where it falls before levelling, as in 'load --as latest': each step at its latest "
            "dates, on the first machine that can do it; what is overdue, or feeds no order, counts in the first month."
        )
        lines.append(
            "What is forecast beyond the orders counts in its own month, components too; no stock is taken off it and no days for "
            "its way through the shop."
        )
        if self.parts and not fits:
            lines.append(f"{listed(self.parts)} take no hours of any group here: how many fit in is not worked out.")
        if fits:
            lines.append(
                "People and outside firms are not in the sum of how many fit in: look at the skills' load beside it."
            )
        return lines


def _sum(a: Minutes, b: Minutes) -> Minutes:
    return {key: sum((x[key] for x in (a, b) if key in x), np.zeros(1)) for key in {**a, **b}}


def _how_many(shop: Shop, clock: Clock) -> int:
    first = clock.today
    last = max((f.month for f in shop.forecast), default=None)
    if last is None:
        return MONTHS
    return min(MOST_MONTHS, max(LEAST_MONTHS, 12 * (last.year - first.year) + last.month - first.month + 1))


def _round(pieces: float | None) -> float | None:
    return None if pieces is None else round(max(0.0, float(pieces)), 1)
