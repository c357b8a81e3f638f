"""What comes otherwise in each draw, in whole minutes: all random numbers are drawn here.

Each kind of chance has random numbers of its own, an operation always the same ones: a spread that is changed leaves the
others' draws as they were.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np

from planner.risk.kernel import Drawn
from planner.risk.planned import of_alternative, planned
from planner.risk.spread import BookedDays, Spread, ThreePoint
from planner.risk.spreads import RUN, SETUP, Spreads
from planner.timetable import Timetable
from planner.work import NEVER, Begun, Need, Source

DAY_MIN = 1440
DAYS_A_YEAR = 225  # worked by one person
SETUPS, RUNS, CHECKS, SCRAP, COMMON, TURNS, VANS, MACHINES, PEOPLE, RECEIPTS, OUT = range(11)


class Chances:
    """Random numbers of one lot of draws, a stream for each kind."""

    def __init__(self, seed: int, lot: int) -> None:
        self._seed, self._lot = seed, lot

    def of(self, kind: int) -> np.random.Generator:
        return np.random.default_rng([self._seed, kind, self._lot])


class Sampler:
    """Draws for one plan with its spreads.

    Parameters
    ----------
    table
        Timetable that holds the plan; not altered.
    until
        Minute up to which breakdowns, absences and collections are drawn.
    """

    def __init__(self, table: Timetable, spreads: Spreads, until: int, seed: int) -> None:
        self.table, self.work, self.data = table, table.work, table.data
        self.spreads, self.until, self.seed = spreads, until, seed
        self.planned = planned(table)
        data = self.data
        self.run_min = of_alternative(data, "run_min", self.planned.alt)
        self.cycle_sec = of_alternative(data, "cycle_sec", self.planned.alt)
        self.cycles = np.maximum(1, -(-data.op["pieces"] // data.op["per_cycle"]))
        self.receipt_ops = np.array(sorted({n.operation for n in self.work.needs if _bought(n)}), np.int64)
        self.out_ops = np.array(
            [o.index for o in self.work.operations if o.begun is Begun.OUT and o.index in spreads.out_turns], np.int64
        )
        self.room = most_cuts(table, spreads, until)

    def lot(self, number: int, draws: int) -> tuple[Drawn, dict[str, np.ndarray]]:
        """So many draws, the lot of that number; with them, when each receipt is there [draw]."""
        chances = Chances(self.seed, number)
        common = self.spreads.common.ratios(chances.of(COMMON).random((draws, 1)))
        setup, first_off = self._setups(chances, common)
        run, cycle_sec = self._runs(chances, common)
        receipts = self._receipts(chances, draws)
        gaps, repairs = self._breakdowns(chances, draws)
        away, absences = self._absences(chances, draws)
        drawn = Drawn(
            setup, run, cycle_sec, first_off, self._earliest(receipts, draws), self._order_at(receipts, draws),
            self._out_back(chances, draws), self._back(chances, draws), self._room(chances, draws),
            gaps, repairs, away, absences,
        )  # fmt: skip
        return drawn, receipts

    # --- times ------------------------------------------------------------------------------

    def _ratios(self, chances: np.random.Generator, kind: str, common: np.ndarray) -> np.ndarray:
        """Actual over planned [draw, operation]."""
        chance = chances.random((len(common), len(self.work.operations)))
        ratios = np.ones(chance.shape)
        for spread, ops in self._classes(kind):
            ratios[:, ops] = spread.ratios(chance[:, ops]) * common
        for op, spread in self.spreads.own.items() if kind == RUN else ():
            ratios[:, op] = spread.ratios(chance[:, op])
        return ratios

    def _classes(self, kind: str) -> list[tuple[Spread, np.ndarray]]:
        return [(self.spreads.of(kind, first, group), ops) for (first, group), ops in self._alike.items()]

    @cached_property
    def _alike(self) -> dict[tuple[bool, str], np.ndarray]:
        """Operations on machines, by whether their part is made for the first time and by machine group."""
        found: dict[tuple[bool, str], list[int]] = {}
        for op in self.work.operations:
            alt = self.planned.alt[op.index]
            if alt >= 0:
                group = self.work.groups[self.work.machines[self.data.alt[alt]["machine"]].group].name
                found.setdefault((op.batch in self.spreads.first_time, group), []).append(op.index)
        return {alike: np.array(ops) for alike, ops in found.items()}

    def _setups(self, chances: Chances, common: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        plan, check_min = self.planned, self.data.op["first_off_min"]
        whole = _times(plan.setup, self._ratios(chances.of(SETUPS), SETUP, common))
        setup = np.maximum(whole - plan.changeover, plan.least)
        return setup, _times(check_min, self._ratios(chances.of(CHECKS), SETUP, common))

    def _runs(self, chances: Chances, common: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        ratios = self._ratios(chances.of(RUNS), RUN, common)
        run = np.minimum(_times(self._run_min(chances, len(common)), ratios), self.planned.most)
        return run, np.where(run == self.run_min, self.cycle_sec, 60 * run // self.cycles)

    def _run_min(self, chances: Chances, draws: int) -> np.ndarray:
        """Planned run minutes with those of the pieces that have to be made again [draw, operation]."""
        more = np.zeros((draws, len(self.work.operations)), np.int64)
        rng = chances.of(SCRAP)
        for b, batch in enumerate(self.work.batches):
            good_share = self.spreads.yields.get(b, 1.0)
            if good_share < 1:
                short = np.maximum(0, self._wanted[b] - rng.binomial(batch.start_pieces, good_share, draws))
                again = np.ceil(short / good_share).astype(np.int64)
                whole = [i for i in batch.operations if self._takes_all(i, b)]
                more[:, whole] = again[:, None]
        op = self.data.op
        cycles = -(-(op["pieces"] + more) // op["per_cycle"])
        minutes = -(-cycles * self.cycle_sec // 60)
        stretched = -(-minutes * self.work.inspection_stretch_percent // 100)
        return np.where(more > 0, np.where(op["stretched"] == 1, stretched, minutes), self.run_min)

    def _takes_all(self, op: int, batch: int) -> bool:
        """Do all pieces of the batch go through, and are any left? A sample stays a sample."""
        step = self.work.operations[op]
        return step.pieces >= self.work.batches[batch].good_expected and self.run_min[op] > 0

    @cached_property
    def _wanted(self) -> np.ndarray:
        """Good pieces that orders and other batches draw from each batch."""
        wanted = np.zeros(len(self.work.batches), np.int64)
        for source in self._supplies:
            if source.batch is not None:
                wanted[source.batch] += source.pieces
        return wanted

    @cached_property
    def _supplies(self) -> list[Need | Source]:
        return [*self.work.needs, *(s for o in self.work.orders for s in o.sources)]

    # --- what comes from outside --------------------------------------------------------------

    def _receipts(self, chances: Chances, draws: int) -> dict[str, np.ndarray]:
        rng, late, at = chances.of(RECEIPTS), self.spreads.receipts, {}
        for name, minute in sorted({(s.receipt, s.at_min) for s in self._supplies if _bought(s)}):
            days = np.ceil(rng.exponential(max(late.days, 1e-9), draws)).astype(np.int64)
            at[name] = minute + np.where(rng.random(draws) < late.percent / 100, days * DAY_MIN, 0)
        return at

    def _earliest(self, receipts: dict[str, np.ndarray], draws: int) -> np.ndarray:
        """Of the operations that wait for receipts; what holds them besides stays."""
        earliest = np.zeros((draws, len(self.receipt_ops)), np.int64)
        earliest += self.data.op["earliest"][self.receipt_ops]
        place = {int(op): i for i, op in enumerate(self.receipt_ops)}
        for need in self.work.needs:
            if _bought(need):
                column = earliest[:, place[need.operation]]
                np.maximum(column, receipts[need.receipt], out=column)
        return earliest

    def _order_at(self, receipts: dict[str, np.ndarray], draws: int) -> np.ndarray:
        at = np.zeros((draws, len(self.work.orders)), np.int64) + self.data.order["at"]
        for order in self.work.orders:
            for source in order.sources:
                if _bought(source):
                    np.maximum(at[:, order.index], receipts[source.receipt], out=at[:, order.index])
        return at

    def _back(self, chances: Chances, draws: int) -> np.ndarray:
        back = np.zeros((draws, len(self.data.trip)), np.int64) + self.data.trip["back"]
        rng = chances.of(TURNS)
        for service, turn in sorted(self.spreads.turns.items()):
            lo = int(self.data.trip_lo[service])
            days = _whole_days(turn.days, rng.random((draws, len(turn.backs))))
            for i, row in enumerate(turn.backs):
                back[:, lo + i] = np.array(row)[np.minimum(days[:, i], len(row) - 1)]
        return back

    def _out_back(self, chances: Chances, draws: int) -> np.ndarray:
        back = np.zeros((draws, len(self.out_ops)), np.int64)
        rng = chances.of(OUT)
        for i, op in enumerate(self.out_ops):
            turn = self.spreads.out_turns[int(op)]
            days = _whole_days(turn.days, rng.random(draws))
            back[:, i] = np.array(turn.backs[0])[np.minimum(days, len(turn.backs[0]) - 1)]
        return back

    def _room(self, chances: Chances, draws: int) -> np.ndarray:
        """Room of each van; none where it is missed."""
        missed = np.array([self.spreads.missed.get(r, 0.0) for r in range(len(self.data.run_room))])
        return np.where(chances.of(VANS).random((draws, len(missed))) < missed, -1, self.data.run_room)

    # --- who and what is not there ----------------------------------------------------------

    def _breakdowns(self, chances: Chances, draws: int) -> tuple[np.ndarray, np.ndarray]:
        rng = chances.of(MACHINES)
        shape = (draws, len(self.work.machines), self.room[0])
        gaps, repairs = rng.exponential(size=shape), rng.exponential(size=shape)
        between, repair = np.full(shape[1], float(NEVER)), np.ones(shape[1])
        for m, kind in self.spreads.breakdowns.items():
            between[m], repair[m] = 60 * kind.between_hours, 60 * kind.repair_hours
        long = np.minimum(gaps * between[:, None], NEVER).astype(np.int64)
        return long + 1, np.rint(repairs * repair[:, None]).astype(np.int64) + 1

    def _absences(self, chances: Chances, draws: int) -> tuple[np.ndarray, np.ndarray]:
        """Shifts between absences, and shifts away."""
        rng, spell = chances.of(PEOPLE), max(1.0, self.spreads.absence_spell)
        shape = (draws, len(self.work.people), self.room[1])
        gaps = np.floor(rng.exponential(shifts_between(self.spreads), shape)).astype(np.int64)
        return gaps, rng.geometric(1 / spell, shape).astype(np.int64)


def most_cuts(table: Timetable, spreads: Spreads, until: int) -> tuple[int, int]:
    """Room for breakdowns of one machine and absences of one person: six standard deviations above their mean."""
    hours = [
        sum(min(b, until) - max(0, a) for a, b in [*m.hours.attended, *m.hours.unattended] if b > 0 and a < until) / 60
        for m in table.work.machines
    ]
    breakdowns = max((hours[m] / b.between_hours for m, b in spreads.breakdowns.items()), default=0.0)
    shifts = until / DAY_MIN if spreads.absence_days > 0 else 0.0
    absences = shifts / (shifts_between(spreads) + spreads.absence_spell) if shifts else 0.0
    return _room_for(breakdowns), _room_for(absences)


def _room_for(mean: float) -> int:
    return int(mean + 6 * mean**0.5 + 4) if mean > 0 else 0


def shifts_between(spreads: Spreads) -> float:
    """Shifts between two absences on average, so that the days away a year come out."""
    if spreads.absence_days <= 0:
        return float(DAYS_A_YEAR)
    return spreads.absence_spell * (DAYS_A_YEAR / spreads.absence_days - 1)


def _times(minutes: np.ndarray, ratios: np.ndarray) -> np.ndarray:
    """Whole minutes, at least 1 where at least 1 was planned."""
    return np.where(minutes > 0, np.maximum(1, np.rint(minutes * ratios)), minutes).astype(np.int64)


def _whole_days(days: ThreePoint | BookedDays, chance: np.ndarray) -> np.ndarray:
    """Whole days, each as likely as the distribution makes it to be nearest to that day."""
    all_days = np.arange(int(np.floor(days.low)), int(np.ceil(days.high)) + 1)
    return all_days[np.searchsorted(days.up_to(all_days + 0.5)[:-1], chance, side="right")]


def _bought(supply: Need | Source) -> bool:
    return supply.batch is None and supply.at_min > 0
