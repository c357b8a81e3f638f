"""When a search stops."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field


@dataclass
class Limit:
    """When to stop: after ``seconds``, after ``trials`` timed lists, or when ``stop()`` says so.

    Raises
    ------
    ValueError
        For a negative limit.
    """

    seconds: float | None
    trials: int | None
    stop: Callable[[], bool] | None
    began: float = field(default_factory=time.monotonic)

    def __post_init__(self) -> None:
        if self.seconds is not None and self.seconds < 0:
            raise ValueError(f"seconds must be 0 or more, got {self.seconds}")
        if self.trials is not None and self.trials < 0:
            raise ValueError(f"trials must be 0 or more, got {self.trials}")

    @property
    def spent(self) -> float:
        return time.monotonic() - self.began

    @property
    def left(self) -> float | None:
        return None if self.seconds is None else self.seconds - self.spent

    def reached(self, trials: int) -> bool:
        return (
            (self.seconds is not None and self.spent >= self.seconds)
            or (self.trials is not None and trials >= self.trials)
            or (self.stop is not None and self.stop())
        )
