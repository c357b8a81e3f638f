"""Commands: thin, over ``planner.main_job`` and ``planner.answers``. Exit codes: 0 good, 1 faults found, 2 wrong use."""

from __future__ import annotations

import sys


def main() -> None:
    """The command ``batchwright``."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    from planner.cli.commands import app

    app(prog_name="batchwright")


__all__ = ["main"]
