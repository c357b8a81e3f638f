"""How many trials to make between two looks at the clock, where their number has to follow the time that they take."""

from __future__ import annotations

from dataclasses import dataclass

CHUNK = 500  # trials between two looks where the clock does not matter
QUICK_CHUNK = 50  # and between the first two where it does
WATCH_SEC = 0.05  # about how long a chunk takes later on


@dataclass
class Pace:
    """``chunk`` trials are to be made next; ``rate`` is how many there were in a second lately (0: not known yet)."""

    chunk: int
    rate: float = 0.0

    def took(self, trials: int, seconds: float) -> None:
        """Learn from so many trials in so many seconds."""
        rate = trials / max(1e-6, seconds)
        self.rate += (rate - self.rate) * (0.1 if self.rate else 1.0)
        self.chunk = int(min(2.0 * self.chunk, max(0.5 * self.chunk, WATCH_SEC * rate))) + 10
