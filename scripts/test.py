"""Runs every check: ``python scripts/test.py``. Needs only Python; further words go to pytest.

Makes ``.venv`` with what the tests need (once), then runs ruff, mypy, makes the machine code once for all, and runs pytest; all are
run, and it fails if any fails. Page tests need Chromium (Debian: ``apt install chromium``): without it they are skipped, except where the
environment says CI=true, where that is a failure.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import environment


def checks(more: list[str]) -> dict[str, list[str]]:
    """Each check's name and what to run in the environment's Python."""
    return {
        "ruff check": ["-m", "ruff", "check", "."],
        "ruff format": ["-m", "ruff", "format", "--check", "."],
        "mypy": ["-m", "mypy"],
        "machine code": [
            str(environment.ROOT / "tests" / "machine_code.py")
        ],  # else each of pytest's processes makes it
        # three on two cores: tests that wait for a browser or a process leave the cores to others
        "pytest": ["-m", "pytest", "-n", "3", "--dist", "worksteal", *more],
    }


def run(python: Path, more: list[str]) -> int:
    failed = []
    for name, command in checks(more).items():
        print(f"== {name}", flush=True)
        if subprocess.run([str(python), *command], cwd=environment.ROOT).returncode != 0:
            failed.append(name)
    print("All checks pass." if not failed else f"Failed: {', '.join(failed)}.")
    return 1 if failed else 0


if __name__ == "__main__":
    try:
        sys.exit(run(environment.ready("test"), sys.argv[1:]))
    except KeyboardInterrupt:
        sys.exit(130)
