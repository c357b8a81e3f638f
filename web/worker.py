"""The process in which runs are worked out, one after the other: ``python -m web.worker``, started by :mod:`web.workers`.

Pickles come on standard input: ``("work", task)`` and ``("stop", None)``; pickles go to standard output: ``("say", progress)``,
``("part", record)``, and for each task one ``("ended", Ended)``. It ends when its standard input does, in whichever way the server
has gone.
"""

from __future__ import annotations

import logging
import os
import pickle
import signal
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from queue import Queue
from typing import Any, BinaryIO

Work = Callable[["Telling"], object]
"""What is worked out: a function of a module, with its arguments in a ``functools.partial``."""

FAULT = "A fault in the program: it could not be worked out. The plan and the shop's tables are as they were."


@dataclass(frozen=True)
class Ended:
    """How a task ended: what it gave back, or why it failed."""

    result: Any = None
    failure: str = ""


@dataclass
class Telling:
    """What a run tells while it works, and whether it is to stop."""

    send: Callable[[str, Any], None]
    asked: threading.Event = field(default_factory=threading.Event)

    def part(self, record: Any) -> None:
        """Hand out a part of the answer: anything that JSON can hold."""
        self.send("part", record)

    def say(self, **progress: Any) -> None:
        """How far it has got."""
        self.send("say", progress)

    def tell(self, words: str, share: float) -> None:
        """What it is at, and the share that is done; for the ``progress`` of a search."""
        self.say(words=words, share=round(share, 3))

    def stopped(self) -> bool:
        """Has someone pressed the stop button? For the ``stop`` of a search."""
        return self.asked.is_set()


def main() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C ends the server, and that ends this
    with os.fdopen(os.dup(sys.stdout.fileno()), "wb") as out:
        os.dup2(sys.stderr.fileno(), sys.stdout.fileno())  # whatever else is printed must not come in between
        tasks: Queue[tuple[Telling, bytes]] = Queue()
        threading.Thread(target=_listen, args=(sys.stdin.buffer, tasks, _sender(out)), daemon=True).start()
        _load()
        while True:
            _do(*tasks.get())


def _sender(out: BinaryIO) -> Callable[[str, Any], None]:
    lock = threading.Lock()

    def send(kind: str, what: Any) -> None:
        message = pickle.dumps((kind, what))  # first, so that what cannot be sent leaves nothing half sent
        with lock:
            out.write(message)
            out.flush()

    return send


def _listen(source: BinaryIO, tasks: Queue[tuple[Telling, bytes]], send: Callable[[str, Any], None]) -> None:
    telling = Telling(send)
    try:
        while True:
            kind, what = pickle.load(source)
            if kind == "stop":
                telling.asked.set()
            else:
                telling = Telling(send)
                tasks.put((telling, what))
    except (EOFError, OSError, pickle.UnpicklingError):
        os._exit(0)  # whatever is under way: nobody is there to hear of it


def _load() -> None:
    """What takes seconds is done before there is a task: all modules, and the machine code of a search."""
    import scipy.special  # noqa: F401, what is drawn needs it

    import web.routes  # noqa: F401
    from planner.search.ready import get_ready

    get_ready()


def _do(telling: Telling, task: bytes) -> None:
    expected: tuple[type[Exception], ...] = ()
    try:
        work, expected = pickle.loads(task)
        telling.send("ended", Ended(work(telling)))
    except expected as fault:
        telling.send("ended", Ended(failure=str(fault)))
    except Exception:
        logging.getLogger(__name__).exception("a run")
        telling.send("ended", Ended(failure=FAULT))


if __name__ == "__main__":
    from web.worker import main as run  # under its own name, so that what it sends is known by it

    run()
