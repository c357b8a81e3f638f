"""Work that takes longer than an answer may: one at a time, in a thread of its own, watched by polling.

The searches are compiled without the interpreter's lock, so that pages stay quick meanwhile. A page starts a run with a
function of a :class:`Report`, which says how far it has got, hands out parts of the answer as they come and learns of
the stop button; ``/api/runs/{number}?after=3`` tells the parts from the fourth on, and whether it has ended.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from fastapi import APIRouter
from starlette.exceptions import HTTPException

from web.errors import NotHere

KEPT = 20  # runs that can still be looked at
LEFT_SEC = 3.0  # a run that nobody has looked at for so long makes way for another
MAKES_WAY_SEC = 10.0  # within which it has to
RUNNING, DONE, STOPPED, FAILED = "running", "done", "stopped", "failed"


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
    """What a run tells while it works. Only its own thread writes; a list only grows, so that readers need no lock."""

    number: int
    what: str
    began: float = field(default_factory=time.monotonic)
    ended: float | None = None
    state: str = RUNNING
    progress: dict[str, Any] = field(default_factory=dict)
    parts: list[Any] = field(default_factory=list)
    failure: str = ""
    looked: float = field(default_factory=time.monotonic)
    _asked: threading.Event = field(default_factory=threading.Event)
    _over: threading.Event = field(default_factory=threading.Event)

    def part(self, record: Any) -> None:
        """Hand out a part of the answer: anything that JSON can hold."""
        self.parts.append(record)

    def say(self, **progress: Any) -> None:
        """How far it has got."""
        self.progress = progress

    def tell(self, words: str, share: float) -> None:
        """What it is at, and the share that is done; for the ``progress`` of a search."""
        self.say(words=words, share=round(share, 3))

    def stopped(self) -> bool:
        """Has someone pressed the stop button? For the ``stop`` of a search."""
        return self._asked.is_set()

    def ask_to_stop(self) -> None:
        self._asked.set()

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

    def start(self, what: str, work: Callable[[Report], None], expected: tuple[type[Exception], ...] = ()) -> int:
        """Start a run and return its number.

        Parameters
        ----------
        what
            For people: 'a date for 50 of GR-100A'.
        work
            Does it, in a thread of its own.
        expected
            Exceptions whose text is for the person at the screen; any other is a fault in the program.

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
            report = Report(number, what)
            self._runs[number] = report
            for old in sorted(self._runs)[:-KEPT]:
                del self._runs[old]
        threading.Thread(target=_run, args=(report, work, expected), name=f"run {number}", daemon=True).start()
        return number

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


def _run(report: Report, work: Callable[[Report], None], expected: tuple[type[Exception], ...]) -> None:
    state = FAILED
    try:
        work(report)
        state = STOPPED if report.stopped() else DONE
    except expected as fault:
        report.failure = str(fault)
    except Exception:
        logging.getLogger(__name__).exception("run %d, %s", report.number, report.what)
        report.failure = (
            "A fault in the program: it could not be worked out. The plan and the shop's tables are as they were."
        )
    finally:
        report.end(state)
