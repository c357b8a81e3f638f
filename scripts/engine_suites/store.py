"""Results on disk, so that a run that was broken off goes on where it was, and what has been measured is not again."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

from planner import __version__

ROOT = Path(__file__).resolve().parent.parent.parent


class Store:
    """Records by key in one JSON file; without a file, in memory only."""

    def __init__(self, file: Path | None) -> None:
        self.file = file
        there = file is not None and file.is_file()
        self.records: dict[str, dict[str, Any]] = json.loads(file.read_text("utf-8")) if file and there else {}

    def get_or(self, key: str, make: Callable[[], dict[str, Any]]) -> dict[str, Any]:
        """What is kept under ``key``, else what ``make`` gives, kept at once."""
        if key not in self.records:
            self.records[key] = make()
            self._write()
        return self.records[key]

    def _write(self) -> None:
        if self.file is None:
            return
        fresh = self.file.with_name(self.file.name + ".new")
        fresh.write_text(json.dumps(self.records, indent=1), encoding="utf-8")
        os.replace(fresh, self.file)


def code_version() -> str:
    """The commit, where the planner is as committed; else the version and a fingerprint of the planner's sources."""
    commit = _git("rev-parse", "HEAD")
    if commit and not _git("status", "--porcelain", "--", "planner"):
        return commit[:12]
    return f"{__version__}-{_fingerprint(ROOT / 'planner')}"


def _git(*words: str) -> str:
    try:
        ran = subprocess.run(["git", *words], cwd=ROOT, capture_output=True, text=True)
    except OSError:
        return ""
    return ran.stdout.strip() if ran.returncode == 0 else ""


def _fingerprint(folder: Path) -> str:
    seen = hashlib.sha256()
    for file in sorted(folder.rglob("*.py")):
        seen.update(file.relative_to(folder).as_posix().encode() + b"\0" + file.read_bytes())
    return seen.hexdigest()[:12]
