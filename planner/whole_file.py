"""Files that are written whole: a failure leaves what was there."""

from __future__ import annotations

import os
import secrets
from pathlib import Path


def write_whole(path: Path, text: str) -> None:
    """Write a text as UTF-8, so that the file is either wholly the new one or still the old one; raises ``OSError``."""
    target = path.resolve()
    fresh = target.with_name(f".{target.name}.{os.getpid()}.{secrets.token_hex(4)}.new")
    try:
        with fresh.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.replace(fresh, target)
    finally:
        fresh.unlink(missing_ok=True)
