"""Files that are written whole: a failure leaves what was there."""

from __future__ import annotations

import os
import secrets
from pathlib import Path


def write_whole(path: Path, content: str | bytes) -> None:
    """Write a file so that it is either wholly the new one or still the old one; raises ``OSError``. Text is UTF-8."""
    target = path.resolve()
    fresh = target.with_name(f".{target.name}.{os.getpid()}.{secrets.token_hex(4)}.new")
    try:
        with fresh.open("xb") as file:
            file.write(content.encode() if isinstance(content, str) else content)
            file.flush()
            os.fsync(file.fileno())
        os.replace(fresh, target)
    finally:
        fresh.unlink(missing_ok=True)
