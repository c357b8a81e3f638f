"""What happened: the fields of an event."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime


@dataclass(frozen=True)
class Event:
    """Something that happened to ``subject``, or was decided about it. Which of the fields count depends on ``what``."""

    what: str
    subject: str  # a machine, person, order, receipt, supplier, part or batch
    at: datetime
    until: datetime | None = None
    since: datetime | None = None  # from then on; None: from ``at`` on
    day: date | None = None
    quantity: int | None = None
    machine: str = ""
    operation: int | None = None
    setup_min: int | None = None
    cycle_sec: int | None = None
    part: str = ""
    customer: str = ""
    due: str = ""
    priority: str = ""  # a class
    revision: str = ""
    drop_batches: bool = False
    reason: str = ""
