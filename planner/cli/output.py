"""Where output goes and how a command ends: text or JSON, and never a traceback for a user's fault."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any, NoReturn

import typer
from rich.console import Console
from rich.table import Table
from rich.text import Text

from planner.alter.fields import AlterFaults
from planner.answers.rows import as_rows
from planner.answers.why import ChainRefused
from planner.counted import counted
from planner.day.refusal import Refused
from planner.faults import DataFaults, PlanFileFault, QuestionFault
from planner.main_job import PlanRefused
from planner.store import Stale, StoreFault
from planner.verify import Breach

FAULTS_FOUND = 1
FILE_WIDTH = 240  # columns when output is not a terminal, so that nothing is cut in a file


def console(*, stderr: bool = False) -> Console:
    """A console for text; data never counts as markup."""
    stream = sys.stderr if stderr else sys.stdout
    width = None if stream.isatty() else FILE_WIDTH
    return Console(stderr=stderr, width=width, markup=False, highlight=False, emoji=False)


def say(text: str, *, stderr: bool = False) -> None:
    """A line of text as it is, wrapped by the terminal only."""
    console(stderr=stderr).print(text, soft_wrap=True)


def say_json(data: Any) -> None:
    """One JSON document on standard output, in ASCII so that any terminal or pipe takes it."""
    print(json.dumps(data, indent=1, allow_nan=False))


def show_table(title: str, headings: Sequence[str], rows: Sequence[Sequence[object]], right: str = "") -> None:
    """A table; ``right`` has an 'r' at the place of each column of numbers."""
    table = Table(title=Text(title), title_justify="left", header_style="bold", title_style="bold")
    for i, heading in enumerate(headings):
        table.add_column(Text(heading), justify="right" if right[i : i + 1] == "r" else "left")
    for row in rows:
        table.add_row(*(Text("" if cell is None else str(cell)) for cell in row))
    console().print(table)


@contextmanager
def plain_faults(as_json: bool) -> Iterator[None]:
    """Ends the command with exit code 1 and plain words for every fault that the user can mend."""
    try:
        yield
    except DataFaults as found:
        text = f"{counted(len(found.faults), 'fault')} in the tables; nothing was planned."
        _end(as_json, text, [str(f) for f in found.faults], {"faults": as_rows(found.faults)})
    except PlanRefused as found:
        refuse(as_json, "The plan breaks the rules and is refused", found.breaches)
    except ChainRefused as found:
        refuse(as_json, "The explanation does not agree with the plan and is not shown", found.breaches)
    except AlterFaults as found:
        text = f"The changes do not fit, for {counted(len(found.faults), 'reason')}; nothing was planned."
        _end(as_json, text, [str(f) for f in found.faults], {"faults": as_rows(found.faults)})
    except QuestionFault as found:
        _end(as_json, "That cannot be answered as it is asked.", found.reasons, {"reasons": list(found.reasons)})
    except (PlanFileFault, StoreFault, Stale, Refused) as found:
        _end(as_json, str(found), [], {"fault": str(found)})


def refuse(as_json: bool, what: str, breaches: Sequence[Breach]) -> NoReturn:
    """Ends the command with all that the verifier has found."""
    text = f"{what}: {counted(len(breaches), 'place')}."
    _end(as_json, text, [str(b) for b in breaches], {"breaches": as_rows(breaches)})


def _end(as_json: bool, text: str, lines: Sequence[str], data: dict[str, Any]) -> NoReturn:
    if as_json:
        say_json({"good": False, "message": text, **data})
    else:
        say(text, stderr=True)
        for line in lines:
            say(f"  {line}", stderr=True)
    raise typer.Exit(FAULTS_FOUND)
