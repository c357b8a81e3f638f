"""Planning at the terminal: a progress line on standard error, and Ctrl-C that keeps the best so far."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

from rich.progress import BarColumn, Progress, TaskID, TextColumn

from planner.cli.output import console
from planner.main_job import Job, make_plan
from planner.search import Progress as SearchProgress
from planner.store import ShopPlace

SECONDS = 30.0
GETTING_READY = "getting ready; the first time on a machine that takes two or three minutes"


class Watch:
    """Shows how a search gets on, and remembers when it had its first plan."""

    def __init__(self, bar: Progress, task: TaskID, by_trials: bool) -> None:
        self._bar, self._task, self._by_trials = bar, task, by_trials
        self.first_seconds: float | None = None
        self.first_cost: int | None = None

    def __call__(self, now: SearchProgress) -> None:
        if self.first_seconds is None:
            self.first_seconds, self.first_cost = now.seconds, now.cost.first
        self._bar.update(
            self._task,
            completed=now.trials if self._by_trials else now.seconds,
            words=f"{now.seconds:.0f} s, {now.phase}, cost {now.cost.first:,} + {now.cost.second:,}, "
            f"bound {now.bound.value:,}",
        )


def plan_with_progress(
    place: ShopPlace, *, seconds: float | None, trials: int | None, seed: int, keep: Path | None = None,
    proposals: bool = True, left_alone: Sequence[str] = (), quiet: bool = False,
) -> tuple[Job, Watch]:  # fmt: skip
    """Plan a shop; raises as :func:`planner.main_job.make_plan`."""
    if seconds is None and trials is None:
        seconds = SECONDS
    with with_progress(seconds, trials, quiet=quiet) as (watch, stop):
        job = make_plan(
            place, seconds=seconds, trials=trials, seed=seed, keep=keep, proposals=proposals, left_alone=left_alone,
            progress=watch, stop=stop,
        )  # fmt: skip
    return job, watch


@contextmanager
def with_progress(
    seconds: float | None, trials: int | None, *, quiet: bool = False
) -> Iterator[tuple[Watch, Callable[[], bool]]]:
    """A progress line on standard error for a search with one of the limits, and whether Ctrl-C asked it to stop."""
    columns = (TextColumn("planning"), BarColumn(), TextColumn("{task.fields[words]}", markup=False))
    with Progress(*columns, console=console(stderr=True), disable=quiet) as bar, stop_on_ctrl_c() as stop:
        task = bar.add_task("plan", total=trials or seconds, words=GETTING_READY)
        yield Watch(bar, task, trials is not None), stop
        bar.update(task, completed=trials or seconds)


@contextmanager
def stop_on_ctrl_c() -> Iterator[Callable[[], bool]]:
    """Whether Ctrl-C was pressed. The first asks for a clean stop, a second one breaks off at once."""
    asked = threading.Event()
    if threading.current_thread() is not threading.main_thread():
        yield asked.is_set
        return

    def ask(_signal: int, _frame: FrameType | None) -> None:
        asked.set()
        signal.signal(signal.SIGINT, signal.default_int_handler)

    before = signal.signal(signal.SIGINT, ask)
    try:
        yield asked.is_set
    finally:
        signal.signal(signal.SIGINT, before)
