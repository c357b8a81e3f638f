"""One instance of the bench: how to make its work, and what is known of it."""

from __future__ import annotations

import json
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from planner.work import Work


@dataclass(frozen=True)
class Case:
    """``best`` is the best known cost, None where there is none; ``make`` can be sent to another process.

    ``base`` is the name of the data: cases that share them are on the same side of the split. ``stop_at`` is the cost
    at which nothing is left to gain.
    """

    suite: str
    name: str
    base: str
    family: str
    operations: int
    make: Callable[[], Work]
    seconds: float
    best: int | None = None
    stop_at: int | None = None

    @property
    def aside(self) -> bool:
        """Kept aside: settings of the search are not chosen on it. A fixed third, by name."""
        return zlib.crc32(self.base.encode()) % 3 == 0

    @property
    def group(self) -> str:
        return "kept aside" if self.aside else "chosen on"


def read_instances(file: Path) -> list[dict[str, Any]]:
    """Instances of a data file, in its order: a list, or a record with the list in ``instances``."""
    found = json.loads(file.read_text(encoding="utf-8"))
    return found["instances"] if isinstance(found, dict) else found
