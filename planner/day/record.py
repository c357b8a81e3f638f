"""What is booked."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class Booking:
    """One thing that happened at a step. Which of the fields count depends on ``what``.

    ``good``, ``scrap``: pieces besides those booked before; None is "not said". ``setup_min``: minutes of setting that are to be
    done again. ``torn_down``: the machine was cleared. ``of_good``: the scrap had been booked as good.
    ``rework_at``: the earlier step at which pieces are to be done again.
    """

    what: str
    batch: str
    operation: int
    at: datetime
    machine: str = ""
    person: str = ""
    good: int | None = None
    scrap: int | None = None
    rework: int | None = None
    setup_min: int = 0
    torn_down: bool = False
    of_good: bool = False
    rework_at: int | None = None

    @property
    def name(self) -> str:
        return f"batch {self.batch} operation {self.operation}"
