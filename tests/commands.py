"""Commands, run as they are from the shell but in this process."""

from __future__ import annotations

from functools import cache
from unittest.mock import patch

import typer.main
import typer.testing
from typer.testing import CliRunner, Result

from planner.cli.commands import app

_built = cache(typer.main.get_command)  # all options of all commands: a tenth of a second each time


def run(*words: object) -> Result:
    """``batchwright`` with these words."""
    with patch.object(typer.testing, "_get_command", _built, create=True):
        return CliRunner().invoke(app, [str(word) for word in words])
