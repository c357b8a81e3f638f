"""What test runs do, in the process that runs are worked out in."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any
from unittest.mock import patch

from web.worker import Telling


def count(most: int, telling: Telling) -> int:
    for i in range(most):
        telling.part(i)
    return most


def wait_for_file(file: Path, telling: Telling) -> None:
    """Held until the file is there: it keeps its process busy meanwhile, and hears of no stop."""
    telling.part(os.getpid())
    while not file.exists():
        pass


def until_stopped(telling: Telling) -> None:
    telling.say(phase="looking")
    telling.part({"pid": os.getpid()})
    while not telling.stopped():
        time.sleep(0.005)


def nothing(telling: Telling) -> None:
    """Is through at once."""


def fail(fault: Exception, telling: Telling) -> None:
    raise fault


def die(telling: Telling) -> None:
    """As if the machine had run out of memory."""
    telling.part(os.getpid())
    os._exit(7)


def unsendable(telling: Telling) -> None:
    telling.part(lambda: None)


def printed(telling: Telling) -> None:
    """Something prints what is meant for a terminal."""
    print("a word in between", flush=True)
    os.write(1, b"and one from elsewhere")
    telling.part("told")


def dying_plan(*asked: object) -> None:
    """In place of a plan from now on."""
    os._exit(7)


def held_plan(*asked: object) -> None:
    """In place of a plan from now on: goes on until it is stopped."""
    until_stopped(asked[-1])  # type: ignore[arg-type]


def first_ways(*asked: Any) -> None:
    """In place of all ways within some seconds: up to the first change that gains something, by trials, so that a busy machine has it too."""
    from planner.levers import Lever, Ways, sooner  # here: they take long to load, and no other task needs them
    from web.sooner import _ways

    def by_trials(*about: Any, found: Callable[[Lever], None], **_how: Any) -> Ways:
        ways: list[Lever] = []

        def one(way: Lever) -> None:
            ways.append(way)
            found(way)

        return sooner(
            *about, trials=50, found=one, stop=lambda: any(way.alterations and not way.nothing for way in ways)
        )

    with patch("web.sooner.sooner", by_trials):
        _ways(*asked)
