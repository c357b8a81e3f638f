"""Parts, their routings and what goes into what."""

from __future__ import annotations

from collections.abc import Iterator

from planner.faults import Fault
from planner.intake.checks.steps import unknown_operation
from planner.intake.rows import Row, Tables


def made_without_routing(tables: Tables) -> Iterator[Fault]:
    named = {row["part"] for row in tables["routings"]}
    for row in tables["parts"]:
        if row["made"] and row["part"] and row["part"] not in named:
            yield row.fault("part", "a routing for a part that is made", "Add it to routings.csv, or say made: no.")


def bought_with_routing(tables: Tables) -> Iterator[Fault]:
    for part, row in tables.by_key("parts", "part").items():
        if row["made"] is False and part in tables.routings:
            first = tables.routings[part][0].number
            mend = f"Say yes, or remove its routing (routings.csv from row {first})."
            yield row.fault("made", f"yes for '{part}', which has a routing", mend)


def batch_rules(tables: Tables) -> Iterator[Fault]:
    """Minimum, multiple and maximum leave at least one batch quantity."""
    for row in tables["parts"]:
        least, step, most = (row[f"batch_{name}"] for name in ("minimum", "multiple", "maximum"))
        if least and step and most and most // step * step < least:
            expected = f"room for a multiple of {step} that is not under {least}"
            yield row.fault("batch_maximum", expected, "Raise the maximum, or lower minimum or multiple.")


def split_and_combine_rules(tables: Tables) -> Iterator[Fault]:
    """Only made parts have batches to split or combine; a half is a batch, and two of them come from one."""
    for row in tables["parts"]:
        half, least, most = (row[name] for name in ("split_minimum", "batch_minimum", "batch_maximum"))
        for column in ("split_minimum", "combine_within_days"):
            if row[column] is not None and row["made"] is False:
                yield row.fault(column, "an empty cell for a bought part", "Empty the cell, or say made: yes.")
        if half and least and half < least:
            yield row.fault(
                "split_minimum", f"at least the batch_minimum of {least}", "Raise it, or lower the minimum."
            )
        elif half and most and 2 * half > most:
            expected = f"at most half of the batch_maximum of {most}: no larger batch is ever made"
            yield row.fault("split_minimum", expected, "Lower it, raise the maximum, or empty the cell.")


def bought_parents(tables: Tables) -> Iterator[Fault]:
    """Only a made part has components, and only a made part has batches."""
    parts = tables.by_key("parts", "part")
    for table, column, what in (("structure", "parent", "components"), ("batches", "part", "batches")):
        for row in tables[table]:
            part = parts.get(row[column])
            if part is not None and part["made"] is False:
                mend = f"A bought part has no {what}: mend the name, or say made: yes in parts.csv row {part.number}."
                yield row.fault(column, "a part that is made", mend)


def component_operations(tables: Tables) -> Iterator[Fault]:
    for row in tables.complete("structure"):
        key = (row["parent"], row["operation"])
        if row["operation"] is not None and row["parent"] in tables.routings and key not in tables.steps:
            yield unknown_operation(tables, row, row["parent"])


def loops(tables: Tables) -> Iterator[Fault]:
    """A part never goes into itself, through however many levels; each loop is named once."""
    below: dict[str, list[Row]] = {}
    for row in tables["structure"]:
        if row.good("parent", "component"):
            below.setdefault(row["parent"], []).append(row)
    clear: set[str] = set()
    for top in sorted(below):
        if top not in clear:
            yield from _walk(top, below, clear)


def _walk(top: str, below: dict[str, list[Row]], clear: set[str]) -> Iterator[Fault]:
    """Depth first from a part; ``clear`` collects the parts already walked."""
    way = [top]
    ahead = [iter(below.get(top, ()))]
    while way:
        row = next(ahead[-1], None)
        if row is None:
            clear.add(way.pop())
            ahead.pop()
        elif row["component"] in way:
            loop = [*way[way.index(row["component"]) :], row["component"]]
            yield row.fault(
                "component", "no part that goes into itself", "Remove or mend one row of the loop.", " > ".join(loop)
            )
        elif row["component"] not in clear:
            way.append(row["component"])
            ahead.append(iter(below.get(row["component"], ())))
    clear.add(top)
