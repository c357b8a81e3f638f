"""What commands have in common: their arguments, and how one that reads a plan answers."""

from __future__ import annotations

import getpass
from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Any

import typer

from planner.answers.rows import as_row, as_rows
from planner.cli.output import plain_faults, say_json
from planner.cli.planning import SECONDS
from planner.intake.convert import Unfit, day, moment
from planner.main_job import ACCEPTED, Job, load_plan
from planner.store import ShopPlace, is_store


def day_of(text: str) -> date:
    """A date like 2027-07-06, for an option's ``parser``."""
    try:
        return day(text)
    except Unfit as fault:
        raise typer.BadParameter(f"'{text}' is not a date like 2027-07-06, in 2000 to 2099") from fault


def shop_place(text: str) -> ShopPlace:
    """A folder of tables or a store, for the argument SHOP."""
    if "://" in text:
        return text
    path = Path(text)
    if not path.exists():
        raise typer.BadParameter(f"there is no folder or store '{text}'")
    if not path.is_dir() and not is_store(path):
        raise typer.BadParameter(f"'{text}' is neither a folder with a shop's tables nor a store")
    return path


def store_place(text: str) -> ShopPlace:
    """A store, for the argument DB."""
    place = shop_place(text)
    if not is_store(place):
        raise typer.BadParameter(f"'{text}' is a folder; make a store of it first: batchwright store '{text}' DB")
    return place


def plan_place(text: str) -> Path:
    """A plan file, or the word for the accepted plan of a store, for the argument PLAN."""
    path = Path(text)
    if str(path).startswith("--"):
        raise typer.BadParameter(f"name a plan before '{text}': a plan file, or '{ACCEPTED}' of a store")
    if path != ACCEPTED and not path.exists():
        raise typer.BadParameter(f"there is no plan file '{text}'")
    if path.is_dir():
        raise typer.BadParameter(f"'{text}' is a folder, not a plan file")
    return path


def said_as(names: Iterable[str]) -> dict[str, str]:
    """Kinds of an entry by how they are said at the terminal: 'setup-done'."""
    return {name.replace(" ", "-"): name for name in names}


def kind_of(noun: str, kinds: Mapping[str, str]) -> Callable[[str], str]:
    """Which of :func:`said_as` is meant, for an argument's ``parser``; ``noun``: what they are kinds of."""

    def parse(text: str) -> str:
        name = text.casefold().replace(" ", "-")
        if name not in kinds:
            raise typer.BadParameter(f"there is no {noun} '{text}'; there are {', '.join(kinds)}")
        return kinds[name]

    return parse


def one_limit(seconds: float | None, trials: int | None) -> None:
    """A search ends by time or by trials: a wrong use where both are given."""
    if seconds is not None and trials is not None:
        raise typer.BadParameter("give --seconds or --trials, not both")


def percent_of(value: str | int) -> int:
    """A chance as 90, 90% or 0.9, in whole per cent from 1 to 99, for an option's ``parser`` (a default comes as it is)."""
    text = str(value)
    try:
        found = Decimal(text.strip().removesuffix("%").strip())
        percent = found if text.strip().endswith("%") or found >= 1 else 100 * found
        if not 1 <= percent <= 99 or percent != int(percent):
            raise ValueError
    except (ArithmeticError, ValueError) as fault:
        raise typer.BadParameter(f"'{text}' is no chance in whole per cent from 1 to 99, like 90 or 0.9") from fault
    return int(percent)


def moment_of(text: str) -> datetime:
    """A local moment like 2027-07-06 14:30, for an option's ``parser``."""
    try:
        return moment(text)
    except Unfit as fault:
        raise typer.BadParameter(f"'{text}' is not a moment like '2027-07-06 14:30'") from fault


def user() -> str:
    """Whose entry it is, unless told: the user of this machine."""
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):  # no such user, or no way to know
        return "somebody"


# Any: typer takes no union, and the parsers give a path or a database address (``ShopPlace``)
ShopFolder = Annotated[
    Any,
    typer.Argument(metavar="SHOP", parser=shop_place, help="Folder with the shop's tables, or a store of them."),
]
StoreDb = Annotated[
    Any, typer.Argument(metavar="DB", parser=store_place, help="A store: a file, or a server's address.")
]
At = Annotated[
    datetime | None,
    typer.Option(parser=moment_of, metavar="MOMENT", help="When, local: '2027-07-06 14:30' [now]."),
]
PlanFile = Annotated[
    Path,
    typer.Argument(
        metavar="PLAN",
        parser=plan_place,
        show_default=False,
        help=f"A plan file, which a folder always needs; of a store '{ACCEPTED}' is its accepted plan.",
    ),
]
Who = Annotated[
    str,
    typer.Option(
        metavar="NAME", callback=lambda name: name or user(), help="Whose entry it is [the user of this machine]."
    ),
]
AsJson = Annotated[bool, typer.Option("--json", help="One JSON document in place of text.")]
Seconds = Annotated[float | None, typer.Option(min=0.1, help=f"Search for so long [{SECONDS:.0f} unless told].")]
Seed = Annotated[int, typer.Option(min=0, help="Same tables, seed and trials: same answer.")]


def open_plan(shop: ShopPlace, plan_file: Path) -> Job:
    """A verified plan: from its file, or the accepted one of a store."""
    if plan_file == ACCEPTED and not is_store(shop) and not plan_file.exists():
        raise typer.BadParameter("a folder has no accepted plan: name a plan file", param_hint="PLAN")
    return load_plan(shop, plan_file)


def only_accepted(shop: ShopPlace, plan_file: Path | None) -> None:
    """What the floor works by follows the accepted plan of a store, and no other."""
    if plan_file not in (None, ACCEPTED) and is_store(shop):
        raise typer.BadParameter(
            "of a store this follows the accepted plan: leave the plan file out", param_hint="PLAN"
        )


def answer(
    shop: ShopPlace, plan_file: Path, as_json: bool, find: Callable[[Job], Any], view: Callable[[Any], None]
) -> Job:
    """Open a verified plan, find an answer, show it."""
    with plain_faults(as_json):
        job = open_plan(shop, plan_file)
        found = find(job)
    if as_json:
        say_json(as_rows(found) if isinstance(found, list) else as_row(found))
    else:
        view(found)
    return job
