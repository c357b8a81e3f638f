"""Work that takes longer than an answer may: one at a time, in a process of its own, watched by polling.

A page starts a run with a function that gets a :class:`web.worker.Telling`: it says there how far it has got, hands out parts of
the answer as they come and learns of the stop button. ``/api/runs/{number}?after=3`` tells the parts from the fourth on, and
whether it has ended. The process is one of :mod:`web.workers`, so that pages stay quick whatever it does; when it dies, the run has
failed and says so.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from fastapi import APIRouter
from starlette.exceptions import HTTPException

from web.errors import NotHere
from web.worker import Ended, Work
from web.workers import WORKERS, Worker

KEPT = 20  # runs that can still be looked at
LEFT_SEC = 3.0  # a run that nobody has looked at for so long makes way for another
MAKES_WAY_SEC = 10.0  # within which it has to
STOPS_SEC = 30.0  # within which a run that was asked to stop has to, before its process is ended by force
RUNNING, DONE, STOPPED, FAILED = "running", "done", "stopped", "failed"
DIED = (
    "The process in which it was worked out has ended before its time ({how}). The accepted plan and what was booked are as "
    "they were: start it again."
)
FORCED = "It did not stop within {seconds:.0f} s and was ended by force: nothing of it is kept. Start it again."


@dataclass(frozen=True)
class Answer:
    """A run as JSON. ``parts`` begins with the one asked for; ``count`` is how many there are in all."""

    number: int
    what: str
    state: str  # 'running', 'done', 'stopped' or 'failed'
    seconds: float
    progress: dict[str, Any]
    parts: list[Any]
    count: int
    failure: str = ""


@dataclass
class Report:
    """A run as the server knows it. Only the thread that listens to its process writes; a list only grows, so that readers need no
    lock."""

    number: int
    what: str
    worker: Worker
    began: float = field(default_factory=time.monotonic)
    ended: float | None = None
    state: str = RUNNING
    progress: dict[str, Any] = field(default_factory=dict)
    parts: list[Any] = field(default_factory=list)
    failure: str = ""
    result: Any = None  # what the work gave back
    looked: float = field(default_factory=time.monotonic)
    asked: bool = False  # to stop
    forced: bool = False
    _over: threading.Event = field(default_factory=threading.Event)

    def ask_to_stop(self) -> None:
        """End it soon; by force where it does not listen."""
        if self.asked or self.state != RUNNING:
            return
        self.asked = True
        self.worker.stop()
        threading.Thread(target=self._see_it_stop, name=f"stop run {self.number}", daemon=True).start()

    def _see_it_stop(self) -> None:
        if not self._over.wait(STOPS_SEC):
            self.forced = True
            self.worker.kill()

    def end(self, state: str) -> None:
        self.ended, self.state = time.monotonic(), state
        self._over.set()

    def makes_way(self) -> bool:
        """Where nobody looks at it any more: end it."""
        if time.monotonic() - self.looked < LEFT_SEC:
            return False
        self.ask_to_stop()
        return self._over.wait(MAKES_WAY_SEC)

    def answer(self, after: int) -> Answer:
        self.looked = time.monotonic()
        state = self.state  # before the parts: a run that has ended hands out no more
        parts = self.parts[max(0, after) :]
        seconds = (self.ended or time.monotonic()) - self.began
        return Answer(
            self.number, self.what, state, round(seconds, 2), self.progress, parts, max(0, after) + len(parts),
            self.failure,
        )  # fmt: skip


class Runs:
    """The runs of one application; at most one is under way."""

    def __init__(self) -> None:
        self._runs: dict[int, Report] = {}
        self._lock = threading.Lock()

    def start(
        self,
        what: str,
        work: Work,
        expected: tuple[type[Exception], ...] = (),
        then: Callable[[Any], None] | None = None,
    ) -> int:
        """Start a run and return its number.

        Parameters
        ----------
        what
            For people: 'a date for 50 of GR-100A'.
        work
            Does it, in another process: a function of a module, with what it needs in a ``functools.partial``.
        expected
            Exceptions whose text is for the person at the screen; any other is a fault in the program.
        then
            Is given, here, what ``work`` gave back.

        Raises
        ------
        HTTPException
            409 while another run is under way that someone is looking at.
        """
        with self._lock:
            for other in self._runs.values():
                if other.state == RUNNING and not other.makes_way():
                    raise HTTPException(
                        409, f"{other.what} is being worked out. Wait for it, or stop it, then ask again."
                    )
            number = max(self._runs, default=0) + 1
            report = Report(number, what, WORKERS.take())
            report.worker.give(work, expected)
            self._runs[number] = report
            for old in sorted(self._runs)[:-KEPT]:
                del self._runs[old]
        threading.Thread(target=_follow, args=(report, then), name=f"run {number}", daemon=True).start()
        return number

    def result(self, number: int) -> Any:
        """What the work of a run gave back; None where it has not ended or is gone."""
        report = self._runs.get(number)
        return None if report is None else report.result

    def report(self, number: int) -> Report:
        """A run by its number; raises ``NotHere``."""
        try:
            return self._runs[number]
        except KeyError:
            raise NotHere(f"There is no run {number} any more. Ask again.") from None

    def add_routes(self, router: APIRouter) -> None:
        """Looking at a run, and stopping it."""

        @router.get("/api/runs/{number}", name="one run")
        def look(number: int, after: int = 0) -> Answer:
            """How a run gets on, with the parts of its answer from ``after`` on."""
            return self.report(number).answer(after)

        @router.post("/api/runs/{number}/stop", name="stop a run")
        def stop(number: int) -> Answer:
            """End a run soon; what it has found so far stays."""
            report = self.report(number)
            report.ask_to_stop()
            return report.answer(len(report.parts))


def _follow(report: Report, then: Callable[[Any], None] | None) -> None:
    """Take down what a run tells until it has ended, or its process has."""
    try:
        for kind, what in report.worker.told():
            if kind == "part":
                report.parts.append(what)
            elif kind == "say":
                report.progress = what
            else:
                _ended(report, what, then)
                return
    finally:
        if report.state == RUNNING:
            _died(report)


def _ended(report: Report, how: Ended, then: Callable[[Any], None] | None) -> None:
    if then is not None and not how.failure:
        then(how.result)
    report.failure, report.result = how.failure, how.result
    WORKERS.give_back(report.worker)
    report.end(FAILED if how.failure else STOPPED if report.asked else DONE)


def _died(report: Report) -> None:
    code = WORKERS.lost(report.worker)
    how = f"signal {-code}" if code < 0 else f"code {code}"
    report.failure = FORCED.format(seconds=STOPS_SEC) if report.forced else DIED.format(how=how)
    report.end(FAILED)
