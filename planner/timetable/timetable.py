"""The timetable as Python sees it: time a list, ask its cost, read the steps."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from copy import copy

import numpy as np

from planner.plan import Burst, Cost, FirstOff, Listed, Step, Stint
from planner.timetable.arrays import WHY_COMPONENT, WHY_TEXT, Data, compile_work, holding
from planner.timetable.kernel import change_cost, late_cost, order_end, second_costs, time_list
from planner.timetable.state import (
    F_ALT,
    F_BURSTS,
    F_CHG,
    F_E1,
    F_E2,
    F_END,
    F_EQ,
    F_FOC,
    F_FOE,
    F_FOP,
    F_FOS,
    F_MACHINE,
    F_ON,
    F_P1,
    F_P2,
    F_RUN,
    F_RUN_END,
    F_S1,
    F_S2,
    F_SETUP,
    F_START,
    F_TRIP,
    F_WHY,
    FIRST_OFF,
    Bookings,
    State,
    make_state,
)
from planner.timetable.trial import NOBODY
from planner.work import NEVER, Begun, Kind, Operation, Work


class Timetable:
    """Exact times of a priority list under all timing rules.

    Parameters
    ----------
    work
        What is to be planned.

    Notes
    -----
    Timing the same list again from place ``k`` on (:meth:`retime`) costs only its tail.
    """

    def __init__(self, work: Work) -> None:
        self.work = work
        self._not_held: Data = compile_work(work)
        self._room = 64 + 2 * int(self._not_held.op["planned"].sum())
        self.begun_first = np.array(
            [o.index for o in work.operations if o.begun in (Begun.RUNNING, Begun.OUT)], np.int64
        )
        self.hold(np.zeros(len(work.operations), np.int64))

    def reset(self) -> None:
        """Forget what was timed."""
        self.state: State = make_state(self.data, min(self._room, 4096))
        self.list = np.zeros(0, np.int64)
        self.choice = np.full(len(self.data.op), -1, np.int64)

    def twin(self) -> Timetable:
        """Another timetable of the same work, for another thread; nothing timed yet, and held back what is here."""
        twin = copy(self)
        twin.hold(self.held)
        return twin

    def hold(self, until: np.ndarray) -> None:
        """Hold operations back, in all that is timed from now on; what was timed is forgotten.

        Parameters
        ----------
        until
            By operation: the minute before which it does not start (0: as soon as it can). Begun work is never held.
        """
        begun = np.array([o.begun is not Begun.NO for o in self.work.operations], bool)
        self.held = np.where(begun, 0, until)
        self.data: Data = holding(self._not_held, self.held)
        self.reset()

    def alternative(self, op: int, machine: int | None, named: int | None = None) -> int:
        """The alternative of ``op`` on a machine, by somebody by name where they are one of several who can; -1 where it has none
        there."""
        row, alt = self.data.op[op], self.data.alt
        own = range(row["own_lo"], row["own_hi"]) if named is not None else ()
        by_name = (a for a in own if alt[a]["machine"] == machine and alt[a]["person"] == named)
        anybody = (a for a in range(row["alt_lo"], row["alt_hi"]) if alt[a]["machine"] == machine)
        return next(by_name, next(anybody, -1))

    def taken(self, listed: Iterable[Listed]) -> tuple[np.ndarray, np.ndarray]:
        """By operation: the alternative that a list names (-1: any), and until when the list holds it back (0: not at all)."""
        n = len(self.data.op)
        choice, until = np.full(n, -1, np.int64), np.zeros(n, np.int64)
        for op, machine, held_until, named in listed:
            choice[op], until[op] = self.alternative(op, machine, named), held_until
        return choice, until

    def repaired(self, sequence: Iterable[int]) -> np.ndarray:
        """``sequence`` with every planned operation once, begun work first, and nothing before what it waits for.

        An operation asked for too early is held back until what it waits for has come.
        """
        data = self.data
        asked = dict.fromkeys(int(i) for i in [*self.begun_first, *sequence, *np.flatnonzero(data.op["planned"])])
        out: list[int] = []
        done = [not p for p in data.op["planned"]]
        for op in asked:
            if not done[op]:
                self._put(op, done, out)
        return np.array(out, np.int64)

    def _put(self, op: int, done: list[bool], out: list[int]) -> None:
        stack = [op]
        while stack:
            top = stack[-1]
            missing = [i for i in self.waits_for(top) if not done[i]]
            if done[top]:
                stack.pop()
            elif missing:
                stack += missing
            else:
                done[top] = True
                out.append(stack.pop())

    def waits_for(self, op: int) -> list[int]:
        """Planned operations that must be timed before ``op``."""
        row = self.data.op[op]
        before = [int(row["before"])] if row["before"] >= 0 else []
        return before + self.data.need_op[row["need_lo"] : row["need_hi"]].tolist()

    def time(
        self, sequence: Sequence[int] | np.ndarray, choice: np.ndarray | None = None, placing: bool = False
    ) -> int:
        """Time a whole list; see :meth:`retime`. The list must be in an order :meth:`repaired` would leave alone."""
        return self.retime(np.asarray(sequence, np.int64), self.choice if choice is None else choice, 0, placing)

    def retime(self, sequence: np.ndarray, choice: np.ndarray, k: int, placing: bool = False) -> int:
        """Time ``sequence`` given that it and the choices agree with what was timed last before place ``k``.

        Parameters
        ----------
        sequence
            Operation indices in priority order.
        choice
            By operation: index of its alternative, or -1 for the one that ends soonest (whoever does it).
        k
            First place that may differ.
        placing
            Put each operation into the first gap of its machine that leaves the follower's start and
            changeover unchanged, instead of behind the last.

        Returns
        -------
        int
            How many operations found no place within the known calendars.
        """
        while True:
            lost = time_list(self.data, self.state, self.list, sequence, choice, k, placing)
            self.list, self.choice = sequence.copy(), choice.copy()
            if not self.state.full[0]:
                return int(lost)
            self._room, k = 4 * self.state.people.at.shape[1], 0
            self.state = make_state(self.data, self._room)
            self.list = np.zeros(0, np.int64)

    def cost(self) -> Cost:
        """Named cost terms of what was timed last."""
        prices = self.work.prices
        wip, setup, pence = second_costs(self.data, self.state)
        return Cost(
            late=int(late_cost(self.data, self.state)),
            change=int(change_cost(self.data, self.state)),
            wip=int(wip) * prices.wip_weight,
            setup=int(setup) * prices.setup_weight,
            charges=int(pence) * prices.charge_weight,
        )

    def choices_made(self) -> np.ndarray:
        """By operation, the alternative it was timed on (-1 where it takes no machine)."""
        return self.state.res[:, F_ALT].copy()

    def steps(self) -> tuple[Step, ...]:
        """What was timed last, as records in order of operation index."""
        stints = _stints_by_owner(self.state.people)
        planned = self.data.op["planned"]
        return tuple(self._step(o, stints.get(o.index, [])) for o in self.work.operations if planned[o.index])

    def _step(self, op: Operation, stints: list[Stint]) -> Step:
        row = self.state.res[op.index].tolist()
        at = int(self.data.op[op.index]["burst_lo"])
        bursts = self.state.burst[at : at + row[F_BURSTS]].tolist()
        setters = [(F_P1, F_S1, F_E1), (F_P2, F_S2, F_E2)]
        return Step(
            operation=op.index,
            machine=row[F_MACHINE] if row[F_MACHINE] >= 0 else None,
            start=row[F_START],
            setup_min=row[F_SETUP],
            changeover_min=row[F_CHG],
            setup=tuple(Stint(row[p], row[s], row[e]) for p, s, e in setters if row[p] >= NOBODY),
            first_off=FirstOff(row[F_FOC], row[F_FOP], row[F_FOS], row[F_FOE]) if row[F_FOP] >= 0 else None,
            run_start=row[F_RUN],
            bursts=tuple(Burst(start, done) for start, done in bursts),
            run_end=row[F_RUN_END],
            end=row[F_END],
            stints=tuple(stints) if op.kind is Kind.MANUAL else (),
            equipment_from=row[F_EQ],
            trip=row[F_TRIP] - int(self.data.trip_lo[op.service or 0]) if row[F_TRIP] >= 0 else None,
            waited_for=WHY_TEXT[row[F_WHY]],
            waited_on=self._waited_on(row[F_WHY], row[F_ON]),
            held_until=int(self.held[op.index]) or None,
            named=self._named(op.index),
        )

    def _named(self, op: int) -> int | None:
        """Who was asked for by name, for work on a machine; not whom a pin leaves no choice."""
        choice = int(self.choice[op])
        by_name = choice >= 0 and self.data.alt[choice]["plain"] != choice and self.state.res[op, F_MACHINE] >= 0
        return int(self.data.alt[choice]["person"]) if by_name else None

    def _waited_on(self, why: int, on: int) -> int | None:
        if on < 0:
            return None
        return self.work.operations[on].batch if why == WHY_COMPONENT else on

    def unplaced(self) -> list[int]:
        """Operations that found no place within the known calendars."""
        return [int(i) for i in np.flatnonzero(self.state.never)]

    def order_end(self, order: int) -> int:
        """When an order is ready (minutes) as it was timed last."""
        return int(order_end(self.data, self.state, order))

    def ends(self) -> np.ndarray:
        """By operation, its end in minutes (``NEVER`` when it found no place)."""
        return np.minimum(self.state.res[:, F_END], NEVER)


def _stints_by_owner(book: Bookings) -> dict[int, list[Stint]]:
    """Setting and hand work of each operation, in order of time."""
    found: dict[int, list[Stint]] = {}
    for p in range(len(book.used)):
        for i in range(int(book.used[p])):
            start, end, owner, what = book.at[p, i].tolist()
            if what != FIRST_OFF:
                found.setdefault(owner, []).append(Stint(p, start, end))
    return {op: sorted(stints, key=lambda s: s.start) for op, stints in found.items()}
