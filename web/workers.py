"""Processes that work runs out (:mod:`web.worker`): started before they are needed, used again, ended with the server.

A new one takes some seconds to load all it needs, so that one is kept waiting. It is never one that was ended by force.
"""

from __future__ import annotations

import atexit
import os
import pickle
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import suppress
from typing import Any

from web.worker import Work

PROGRAM = ("-m", "web.worker")
ENDS_SEC = 5.0  # within which a process that is killed is gone
GOING_SEC = 0.5  # left to one that is going anyway, so that it can be told how it ended


class Worker:
    """One such process, seen from the server."""

    def __init__(self) -> None:
        path = os.pathsep.join(p or os.getcwd() for p in sys.path)
        self._process = subprocess.Popen(
            [sys.executable, "-P", *PROGRAM], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": path},
        )  # fmt: skip
        self._sending = threading.Lock()

    @property
    def lives(self) -> bool:
        return self._process.poll() is None

    def give(self, work: Work, expected: tuple[type[Exception], ...]) -> None:
        """Have something worked out; ``expected`` are exceptions whose text is for the person at the screen."""
        self._send("work", pickle.dumps((work, expected)))

    def stop(self) -> None:
        """What is under way is to end soon."""
        self._send("stop", None)

    def _send(self, kind: str, what: Any) -> None:
        with suppress(OSError, ValueError), self._sending:  # it is gone: who listens to it learns that
            pickle.dump((kind, what), self._process.stdin)  # type: ignore[arg-type]
            self._process.stdin.flush()  # type: ignore[union-attr]

    def told(self) -> Iterator[tuple[str, Any]]:
        """What it tells, until it is gone."""
        try:
            while True:
                yield pickle.load(self._process.stdout)  # type: ignore[arg-type]
        except (EOFError, OSError, ValueError, pickle.UnpicklingError):
            return

    def kill(self) -> None:
        """End it by force; whoever listens to it learns that it is gone."""
        self._process.kill()

    def end(self, patience_sec: float = 0.0) -> int:
        """End it where it still lives after so many seconds, and leave nothing of it behind; the code it ended with."""
        try:
            code = self._process.wait(patience_sec)
        except subprocess.TimeoutExpired:
            self._process.kill()
            code = self._process.wait(ENDS_SEC)
        for pipe in (self._process.stdin, self._process.stdout):
            with suppress(OSError):  # what was still to be sent to it
                pipe.close()  # type: ignore[union-attr]
        return code


class Workers:
    """All of this server; at most one waits for something to do."""

    def __init__(self) -> None:
        self._waiting: Worker | None = None
        self._all: set[Worker] = set()
        self._lock = threading.Lock()

    def get_ready(self) -> None:
        """Have one waiting."""
        with self._lock:
            if self._waiting is None or not self._waiting.lives:
                self._forget(self._waiting)
                self._waiting = self._new()

    def take(self) -> Worker:
        """The one that waits, else a new one."""
        with self._lock:
            worker, self._waiting = self._waiting, None
            if worker is not None and worker.lives:
                return worker
            self._forget(worker)
            return self._new()

    def give_back(self, worker: Worker) -> None:
        """It has done its task."""
        with self._lock:
            if self._waiting is None:
                self._waiting = worker
                return
        worker.kill()
        self.lost(worker)

    def lost(self, worker: Worker) -> int:
        """It is of no use any more, or has gone; the code it ended with."""
        code = worker.end(GOING_SEC)
        with self._lock:
            self._all.discard(worker)
        return code

    def end(self) -> None:
        """End all of them, at whatever they are."""
        with self._lock:
            everyone, self._waiting = list(self._all), None
            self._all.clear()
        for worker in everyone:
            worker.end()

    def _new(self) -> Worker:
        worker = Worker()
        self._all.add(worker)
        return worker

    def _forget(self, worker: Worker | None) -> None:
        if worker is not None:
            worker.end()
            self._all.discard(worker)


WORKERS = Workers()  # of this process: they cost seconds to start, and serve whatever is asked for
atexit.register(WORKERS.end)
