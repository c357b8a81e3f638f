"""What commands have in common: their arguments, and how one that reads a plan answers."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Annotated, Any

import typer

from planner.answers.rows import as_row, as_rows
from planner.cli.output import plain_faults, say_json
from planner.cli.planning import SECONDS
from planner.main_job import Job, load_plan


def day_of(text: str) -> date:
    """A date like 2026-04-07, for an option's ``parser``."""
    try:
        return date.fromisoformat(text)
    except ValueError as fault:
        raise typer.BadParameter(f"'{text}' is not a date like 2026-04-07") from fault


ShopFolder = Annotated[
    Path, typer.Argument(metavar="SHOP", exists=True, file_okay=False, help="Folder with the shop's tables.")
]
PlanFile = Annotated[Path, typer.Argument(metavar="PLAN", exists=True, dir_okay=False, help="A plan file.")]
AsJson = Annotated[bool, typer.Option("--json", help="One JSON document in place of text.")]
Seconds = Annotated[float | None, typer.Option(min=0.1, help=f"Search for so long [{SECONDS:.0f} unless told].")]
Seed = Annotated[int, typer.Option(min=0, help="Same tables, seed and trials: same plan.")]


def answer(shop: Path, plan_file: Path, as_json: bool, find: Callable[[Job], Any], view: Callable[[Any], None]) -> Job:
    """Open a verified plan, find an answer, show it."""
    with plain_faults(as_json):
        job = load_plan(shop, plan_file)
    found = find(job)
    if as_json:
        say_json(as_rows(found) if isinstance(found, list) else as_row(found))
    else:
        view(found)
    return job
