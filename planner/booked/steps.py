"""Bookings of a step put together: what was set, run, sent out and held a machine, from which moment to which."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime

from planner.booked.reading import Booking, Step

Stint = tuple[datetime, datetime]
STOPPED = "stopped, and nobody booked when it went on"
MOVED = "moved to another machine half-way"


@dataclass(frozen=True)
class SetupDone:
    """``entry`` is the booking that ended it; ``family_before``: what was set on the machine before."""

    step: Step
    entry: int
    machine: str
    person: str
    family_before: str
    stint: Stint


@dataclass(frozen=True)
class RunDone:
    """The part of a run that can be told: after the first-off where one is asked for. ``pieces`` are good and scrap."""

    step: Step
    entry: int
    machine: str
    pieces: int
    stints: tuple[Stint, ...]


@dataclass(frozen=True)
class Held:
    """A machine was a step's, from its start until it was free again."""

    step: Step
    entry: int
    machine: str
    stint: Stint


@dataclass(frozen=True)
class TurnDone:
    step: Step
    out: datetime
    back: datetime


@dataclass
class Seen:
    """All that bookings say. ``done``: when each step was booked done; ``unclear``: a reason for each that says nothing."""

    setups: list[SetupDone] = field(default_factory=list)
    runs: list[RunDone] = field(default_factory=list)
    held: list[Held] = field(default_factory=list)
    turns: list[TurnDone] = field(default_factory=list)
    done: dict[Step, Booking] = field(default_factory=dict)
    unclear: list[str] = field(default_factory=list)


def steps_of(bookings: Iterable[Booking], first_off: dict[Step, bool]) -> Seen:
    """Follow each step through its bookings.

    Parameters
    ----------
    bookings
        Those that stand, in the order in which they were entered.
    first_off
        Does a step ask for a first-off? Its run is counted from the moment that was passed.
    """
    seen = Seen()
    under_way: dict[Step, _UnderWay] = {}
    for booking in bookings:
        step = booking.step
        if step not in under_way:
            under_way[step] = _UnderWay(seen, step, first_off.get(step, False))
        under_way[step].take(booking)
        if booking.ends:
            seen.done[step] = booking
            del under_way[step]
    return seen


class _UnderWay:
    """One step, booking by booking. Where there was a store only later, what was begun before is told as far as it can be."""

    def __init__(self, seen: Seen, step: Step, first_off: bool) -> None:
        self._seen, self._step, self._first_off = seen, step, first_off
        self._start: Booking | None = None  # that put it on its machine this time
        self._out: Booking | None = None
        self._setting = False
        self._stopped = False  # since when nobody knows whether it went on
        self._run_from: datetime | None = None
        self._stints: list[Stint] = []
        self._machines: set[str] = set()  # of the stints
        self._made = 0
        self._unclear = ""

    def take(self, booking: Booking) -> None:
        handler = {
            "start": self._started, "setup done": self._set, "first-off passed": self._passed, "first-off failed": self._failed,
            "stop": self._broken_off, "finish": self._finished, "sent out": self._sent, "came back": self._came_back,
        }.get(booking.what, self._counted)  # fmt: skip
        handler(booking)

    def _started(self, booking: Booking) -> None:
        self._start, self._stopped = booking, False
        self._setting = bool(booking.data.get("setup_min"))
        self._run_from = None if self._setting or self._first_off else booking.at

    def _set(self, booking: Booking) -> None:
        start = self._start
        if start is not None and self._setting:
            if self._stopped:
                self._seen.unclear.append(STOPPED)
            else:
                self._seen.setups.append(
                    SetupDone(self._step, booking.entry, start.machine, start.person, start.family_before, (start.at, booking.at))
                )  # fmt: skip
        self._setting = self._stopped = False
        self._run_from = None if self._first_off else booking.at

    def _passed(self, booking: Booking) -> None:
        """The first piece was made before, and waited for its approval."""
        self._run_from = booking.at

    def _failed(self, booking: Booking) -> None:
        """What is set again after it is not a setup from the beginning."""
        self._run_from = None

    def _counted(self, booking: Booking) -> None:
        if self._run_from is not None:
            self._made += booking.made
        elif self._stopped and booking.made:
            self._unclear = STOPPED

    def _stint_ends(self, booking: Booking) -> None:
        self._counted(booking)
        if self._run_from is not None:
            self._stints.append((self._run_from, booking.at))
            self._machines.add(booking.machine)
        self._run_from = None

    def _broken_off(self, booking: Booking) -> None:
        self._stint_ends(booking)
        if booking.data.get("torn_down"):
            self._leaves(booking)
        else:
            self._stopped = True

    def _finished(self, booking: Booking) -> None:
        self._stint_ends(booking)
        self._leaves(booking)
        unclear = self._unclear or (MOVED if len(self._machines) > 1 else "")
        if unclear:
            self._seen.unclear.append(unclear)
        elif self._made and self._stints:
            machine = next(iter(self._machines))
            self._seen.runs.append(RunDone(self._step, booking.entry, machine, self._made, tuple(self._stints)))

    def _leaves(self, booking: Booking) -> None:
        if self._start is not None:
            self._seen.held.append(Held(self._step, booking.entry, self._start.machine, (self._start.at, booking.at)))
        self._start, self._setting = None, False

    def _sent(self, booking: Booking) -> None:
        self._out = booking

    def _came_back(self, booking: Booking) -> None:
        if self._out is not None:
            self._seen.turns.append(TurnDone(self._step, self._out.at, booking.at))
        self._out = None
