"""Pins on things that exist. A batch that is not listed may still be made later, so it is no fault here."""

from __future__ import annotations

from collections.abc import Iterator

from planner.faults import Fault
from planner.intake.checks.steps import unknown_operation
from planner.intake.rows import ON_MACHINE, Row, Tables


def empty_pins(tables: Tables) -> Iterator[Fault]:
    for row in tables.complete("pins"):
        if not (row["machine"] or row["person"] or row["not_before"] or row["not_machines"]):
            yield row.fault("machine", "a machine, a person or a moment", "Say what is decided, or remove the row.")


def followers(tables: Tables) -> Iterator[Fault]:
    """What is right after another step names all of it, and the machine."""
    for row in tables.complete("pins"):
        if bool(row["after_batch"]) != bool(row["after_operation"]):
            column = "after_operation" if row["after_batch"] else "after_batch"
            yield row.fault(column, "both the batch and the operation", "Fill in the other cell, or empty both.")
        elif row["after_batch"] and not row["machine"]:
            yield row.fault("machine", "the machine on which it follows the other step", "Fill in the cell.")


def pinned_operations(tables: Tables) -> Iterator[Fault]:
    """The step is in the routing of its batch; for a batch still to be made, in some routing."""
    batches = tables.by_key("batches", "batch")
    numbers = {number for _, number in tables.steps}
    for row in tables.complete("pins"):
        batch = batches.get(row["batch"])
        if batch is None:
            if row["operation"] not in numbers:
                yield row.fault("operation", "an operation of some routing", "Mend the number, or remove the row.")
        elif batch["part"] in tables.routings:
            step = tables.steps.get((batch["part"], row["operation"]))
            if step is None:
                yield unknown_operation(tables, row, batch["part"])
            else:
                yield from _machine_of(tables, row, step)


def _machine_of(tables: Tables, row: Row, step: Row) -> Iterator[Fault]:
    if row["machine"] in tables.keys("machines", "machine") and tables.cannot(row["machine"], step):
        can = ", ".join(tables.machines_of(step)) if step["kind"] in ON_MACHINE else "it needs none"
        mend = f"See routings.csv row {step.number}: mend one of the two."
        yield row.fault("machine", f"a machine that can do the step ({can})", mend)
