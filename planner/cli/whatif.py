"""``whatif``: a plan with some changes against the plan as it is."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer
from rich.progress import BarColumn, Progress, TextColumn

from planner.alter import KINDS, Alteration, AlterFaults, replan
from planner.alter.fields import AlterFault
from planner.alter.named import FILE, check_keeping, forget_named, named, read_named, row_of, save_named
from planner.alter.phrase import from_phrase, how_to
from planner.alter.records import SAME, Comparison, OrderChange
from planner.alter.replan import SECONDS
from planner.alter.searches import Tell
from planner.answers.rows import as_row
from planner.answers.wording import elapsed_text, pounds
from planner.cli.arguments import AsJson, PlanFile, Seed, ShopFolder, one_limit, open_plan
from planner.cli.output import console, plain_faults, say, say_json, show_table
from planner.cli.planning import stop_on_ctrl_c
from planner.cli.summary import ADVICE, show_lines
from planner.counted import counted
from planner.intake.nearest import did_you_mean
from planner.main_job import ACCEPTED

EPILOG = f"Changes are said as options, as many as you like, in the order in which they are made: {', '.join('--' + k for k in KINDS)}. --kinds shows how each is said."
SearchSeconds = Annotated[
    float | None, typer.Option("--seconds", min=0.1, help=f"For all searches together [{SECONDS:.0f} unless told].")
]
SearchTrials = Annotated[
    int | None, typer.Option("--trials", min=1, help="Of each search instead: a repeatable answer.")
]
SETTINGS = {"allow_extra_args": True, "ignore_unknown_options": True}


def whatif(
    context: typer.Context,
    shop: ShopFolder,
    plan_file: PlanFile = ACCEPTED,
    name: Annotated[str | None, typer.Option(help="The changes kept under this name, before those said here.")] = None,
    save: Annotated[
        str | None,
        typer.Option(
            help=f"Keep the changes under this name, in {FILE} among the tables; for shop.db in shop.db.{FILE}."
        ),
    ] = None,
    forget: Annotated[str | None, typer.Option(help="Remove the changes kept under this name.")] = None,
    list_named: Annotated[bool, typer.Option("--list", help="The changes kept with this shop.")] = False,
    kinds: Annotated[bool, typer.Option("--kinds", help="Every kind of change and how it is said.")] = False,
    seconds: SearchSeconds = None,
    trials: SearchTrials = None,
    seed: Seed = 1,
    as_json: AsJson = False,
) -> None:
    """Plan again with some changes, and compare order by order; neither the tables nor the plan are touched."""
    one_limit(seconds, trials)
    if kinds:
        _show_kinds(as_json)
        return
    with plain_faults(as_json):
        if list_named:
            _show_named(shop, as_json)
            return
        if forget is not None:
            forget_named(shop, forget)
            say_json({"good": True, "removed": forget}) if as_json else say(f"'{forget}' is removed.")
            return
        changes = changes_said(context.args, named(shop, name) if name is not None else ())
        if save is not None:
            check_keeping(shop, save)
        job = open_plan(shop, plan_file)
        with planning_again(as_json) as (tell, stop):
            found = replan(job, changes, seconds=seconds, trials=trials, seed=seed, progress=tell, stop=stop)
        if save is not None:
            save_named(shop, save, changes)
    if as_json:
        say_json({"good": True, **as_row(found.answer), "said": [row_of(c) for c in changes], "saved": save})
        return
    show_comparison(found.answer, [c.phrase for c in changes])
    if save is not None:
        say(f"Kept as '{save}': --name '{save}' asks it again.")


# --- what was said ------------------------------------------------------------------------------


def changes_said(words: Sequence[str], first: Sequence[Alteration]) -> list[Alteration]:
    """The named changes, then those said as options; all faults at once."""
    found: list[Alteration] = list(first)
    faults: list[AlterFault] = []
    for kind, phrase in _options(words):
        try:
            found.append(from_phrase(KINDS[kind], phrase))
        except AlterFaults as wrong:
            faults += wrong.faults
    if faults:
        raise AlterFaults(faults)
    return found


def _options(words: Sequence[str]) -> Iterator[tuple[str, str]]:
    """(kind, phrase) of each option; wrong use where one is not known or says nothing."""
    left = list(words)
    while left:
        word = left.pop(0)
        kind, given, phrase = word.removeprefix("--").partition("=")
        if not word.startswith("--") or kind not in KINDS:
            hint = did_you_mean(kind, KINDS, "--kinds shows all kinds of change.")
            raise typer.BadParameter(f"'{word}' is no change that can be made. {hint}")
        if not given:
            if not left or left[0].startswith("--"):
                raise typer.BadParameter(
                    f'say what changes after it, like this: --{kind} "{how_to(KINDS[kind])}"', param_hint=word
                )
            phrase = left.pop(0)
        yield kind, phrase


# --- what is shown ------------------------------------------------------------------------------


@contextmanager
def planning_again(quiet: bool) -> Iterator[tuple[Tell, Callable[[], bool]]]:
    """A progress line on standard error, and Ctrl-C that ends with what there is."""
    columns = (TextColumn("{task.description}", markup=False), BarColumn())
    with Progress(*columns, console=console(stderr=True), disable=quiet) as bar, stop_on_ctrl_c() as stop:
        task = bar.add_task("getting ready", total=1.0)
        yield lambda words, share: bar.update(task, description=words, completed=share), stop


def _show_kinds(as_json: bool) -> None:
    if as_json:
        say_json({k: {"title": kind.title, "said": how_to(kind)} for k, kind in KINDS.items()})
        return
    show_table(
        "Kinds of change",
        ("what", "how it is said"),
        [(kind.title, f'--{k} "{how_to(kind)}"') for k, kind in KINDS.items()],
    )
    say("Days: 2027-07-10, or spans 2027-07-12..2027-07-16. Times: 06:00-12:00. Several names or days: with commas.")
    say("In brackets: may be left out. A name with one of the small words in it stands in quotes.")


def _show_named(shop: Path, as_json: bool) -> None:
    found = read_named(shop)
    if as_json:
        say_json({name: [{**row_of(c), "text": c.text} for c in changes] for name, changes in found.items()})
        return
    for name, changes in found.items():
        say(f"{name}:")
        for change in changes:
            say(f"  - {change.text}  {change.phrase}")
    if not found:
        say("No changes are kept with this shop; --save NAME keeps some.")


def show_comparison(answer: Comparison, phrases: Sequence[str]) -> None:
    """The verdict, the plans in figures, and every order that differs, where the searches were long enough to tell."""
    show_lines(
        "changes", [f"{text}  {phrase}" for text, phrase in zip(answer.changes, phrases, strict=True)], most=sys.maxsize
    )
    if answer.stopped:
        say("Stopped early: searched less than asked for.")
    show_lines("in short", list(answer.verdict), most=sys.maxsize)
    totals = (answer.planned, answer.before, answer.after)
    rows = [
        ("orders late", *(t.late_orders for t in totals)),
        ("minutes late, all orders", *(f"{t.late_min:,}" for t in totals)),
        ("cost, first tier", *(f"{t.cost_first:,}" for t in totals)),
        ("cost, second tier", *(f"{t.cost_second:,}" for t in totals)),
        ("minutes of setting", *(f"{t.setup_min:,}" for t in totals)),
        ("outside charges, pounds", *(pounds(t.charges_pence) for t in totals)),
    ]
    unproven = ", unproven" if answer.short else ""
    heads = ("what", "the plan", f"planned again{unproven}", f"changed{unproven}")
    show_table("Before and after", heads, rows, "lrrr")
    if not answer.short:
        _show_orders(answer)
    show_lines("cautions", list(answer.cautions), most=sys.maxsize)
    if answer.trials:
        say(f"{answer.seconds:.1f} s, {counted(answer.trials, 'trial')} in a search.")
    say(ADVICE)


def _show_orders(answer: Comparison) -> None:
    told = [o for o in answer.orders if o.what != SAME or o.late_before_min or o.late_after_min]
    if told:
        show_table(
            "Orders that change, and those that are late",
            ("order", "customer", "class", "due", "as it is", "changed", "by", "what"),
            [_line(o) for o in told],
            "llllllrl",
        )
    same = len(answer.orders) - len(told)
    say(f"{counted(same, 'other order')} on time in both, with no difference beyond the noise.")


def _line(o: OrderChange) -> tuple[object, ...]:
    late = tuple(
        f"{text}, {elapsed_text(m)} late" if m else text
        for text, m in ((o.before, o.late_before_min), (o.after, o.late_after_min))
    )
    by = "" if not o.later_min else f"{elapsed_text(abs(o.later_min))} {'later' if o.later_min > 0 else 'earlier'}"
    return (
        o.order,
        o.customer,
        o.priority,
        o.due,
        *late,
        by,
        ("within the noise" if o.later_min else "the same") if o.what == SAME else o.what,
    )
