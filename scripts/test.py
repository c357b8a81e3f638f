"""Runs every check: ``python scripts/test.py``. Needs only Python; further words go to pytest.

Makes ``.venv`` with what the tests need (once), then runs ruff, mypy and pytest; all are run, and it fails if any fails. What each of
pytest's processes would make for itself is made once beforehand, the machine code while ruff and mypy run. Page tests need Chromium
(Debian: ``apt install chromium``): without it they are skipped, except where the environment says CI=true, where that is a failure.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import environment

CHECKS = {
    "ruff check": ["-m", "ruff", "check", "."],
    "ruff format": ["-m", "ruff", "format", "--check", "."],
    "mypy": ["-m", "mypy"],
    "tests are found": ["-m", "pytest", "--collect-only", "-qq"],  # and their byte code is kept for all processes
}
# three on two cores: tests that wait for a browser or a process leave the cores to others
PYTEST = ["-m", "pytest", "-n", "3", "--dist", "worksteal"]
# where it is set, every process that a test starts would compile every module anew
NO_BYTE_CODE = "PYTHONDONTWRITEBYTECODE"


def run(python: Path, more: list[str]) -> int:
    around = {name: value for name, value in os.environ.items() if name != NO_BYTE_CODE}

    def begin(command: list[str]) -> subprocess.Popen[bytes]:
        return subprocess.Popen([str(python), *command], cwd=environment.ROOT, env=around)

    making, failed = begin([str(environment.ROOT / "tests" / "machine_code.py")]), []
    for name, command in CHECKS.items():
        print(f"== {name}", flush=True)
        if begin(command).wait() != 0:
            failed.append(name)
    print("== machine code", flush=True)
    if making.wait() != 0:
        failed.append("machine code")
    print("== pytest", flush=True)
    if begin([*PYTEST, *more]).wait() != 0:
        failed.append("pytest")
    print("All checks pass." if not failed else f"Failed: {', '.join(failed)}.")
    return 1 if failed else 0


if __name__ == "__main__":
    try:
        sys.exit(run(environment.ready("test"), sys.argv[1:]))
    except KeyboardInterrupt:
        sys.exit(130)
