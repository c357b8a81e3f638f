"""What a plan comes to, in a few lines."""

from __future__ import annotations

from typing import Any

from planner.answers.proposals import switched_off_by
from planner.answers.wording import span_text
from planner.cli.output import say, show_table
from planner.counted import counted
from planner.work import Work

ADVICE = "The plan advises; people decide."


def show_summary(data: dict[str, Any], in_store: bool = False) -> None:
    """The summary as text; ``in_store``: is the shop in a store, or a folder?"""
    cost, bound, limit = data["cost"], data["bound"], data["limiting"]
    rows = [
        ("state", data["state"]),
        (
            "work",
            f"{counted(data['operations_planned'], 'operation')} to plan, {counted(data['batches'], 'batch', 'batches')}",
        ),
        ("orders", f"{data['orders']}: {data['orders_on_time']} on time, {data['orders_late']} late"),
        ("limiting group", _limit_text(limit)),
        ("cost, first tier", f"{cost['first']:,} = late {cost['late']:,} + change {cost['change']:,}"),
        ("bound", f"{bound['value']:,} ({bound['kind']})"),
        (
            "cost, second tier",
            f"{cost['second']:,} = work in progress {cost['wip']:,} + setup {cost['setup']:,} + charges {cost['charges']:,}",
        ),
        ("search", f"{counted(data['trials'], 'trial')} in {data['seconds']:.1f} s{_rate(data)}, seed {data['seed']}"),
    ]
    if data["first_plan_seconds"] is not None:
        rows.append(("first plan after", f"{data['first_plan_seconds']:.1f} s"))
    show_table(f"{data['shop']}: plan", ("what", "value"), rows)
    if data["no_time"]:
        say(data["no_time"][0])
        show_lines("found no time", data["no_time"][1:])
    show_lines("batch proposals", proposal_lines(data["proposals"], in_store))
    for name in ("assumptions", "left_out"):
        show_lines(name.replace("_", " "), data[name])
    show_lines("cautions", data["cautions"])
    say(ADVICE)


def _rate(data: dict[str, Any]) -> str:
    return f" ({data['trials'] / data['seconds']:,.0f} a second)" if data["seconds"] >= 1 else ""


def there_is(work: Work) -> list[str]:
    """'15 machines', '1 person', ...: what the tables hold to plan."""
    return [
        counted(len(work.machines), "machine"), counted(len(work.people), "person", "people"),
        counted(len(work.orders), "order"), counted(len(work.batches), "batch", "batches"),
        counted(len(work.operations), "operation"),
    ]  # fmt: skip


def proposal_lines(rows: list[dict[str, Any]], in_store: bool) -> list[str]:
    """Each proposal with its caution, and how to be without it."""
    return [
        " ".join(filter(None, (row["text"], row["caution"], switched_off_by(row["name"], in_store)))) for row in rows
    ]


def show_lines(title: str, lines: list[str], most: int = 8) -> None:
    """A short list of sentences under a heading; what is not shown is counted."""
    if lines:
        say(f"{title} ({len(lines)}):")
        for line in lines[:most]:
            say(f"  - {line}")
        if len(lines) > most:
            say(f"  - and {len(lines) - most} more; --json lists all")


def _limit_text(limit: dict[str, Any] | None) -> str:
    if limit is None:
        return "none"
    needed = limit["setup_min"] + sum(limit["run_min"].values()) - limit["unattended_run_min"]
    return (
        f"{limit['name']}: {limit['percent']} % in {limit['week']} "
        f"({span_text(needed)} of {span_text(limit['attended_min'])} attended)"
    )
