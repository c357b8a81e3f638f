"""Files written in one go: what is there afterwards is wholly the new one, or still the old one."""

from __future__ import annotations

import os
import secrets
from pathlib import Path


def write_whole(path: Path | str, content: str | bytes) -> None:
    """Write a file; a text as UTF-8, with the line ends it has.

    Raises
    ------
    OSError
        When the file cannot be written; what was there is still there.
    """
    target = Path(path).resolve()
    fresh = target.with_name(f".{target.name}.{os.getpid()}.{secrets.token_hex(4)}.new")
    try:
        with fresh.open("xb") as file:
            file.write(content.encode() if isinstance(content, str) else content)
            file.flush()
            os.fsync(file.fileno())
        os.replace(fresh, target)
    finally:
        fresh.unlink(missing_ok=True)
