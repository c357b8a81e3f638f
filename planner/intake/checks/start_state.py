"""What is set on a machine at the plan start is a step that the machine can do."""

from __future__ import annotations

from collections.abc import Iterator

from planner.faults import Fault
from planner.intake.rows import Row, Tables


def start_states(tables: Tables) -> Iterator[Fault]:
    for row in tables["machines"]:
        if not row.good("on_part", "on_operation"):
            continue
        if row["on_part"] and row["on_operation"]:
            yield from _step_on(tables, row)
        elif row["on_part"]:
            yield row.fault("on_operation", "the operation that is set", "Fill it in, or empty 'on_part'.")
        elif row["on_operation"]:
            yield row.fault("on_part", "the part that is set", "Fill it in, or empty 'on_operation'.")


def _step_on(tables: Tables, row: Row) -> Iterator[Fault]:
    part, machine = row["on_part"], row["machine"]
    if part not in tables.routings:
        if part in tables.keys("parts", "part"):
            yield row.fault("on_part", "a part with a routing", "Mend the part, or empty 'on_part' and 'on_operation'.")
        return
    step = tables.steps.get((part, row["on_operation"]))
    if step is None:
        numbers = ", ".join(str(s["operation"]) for s in tables.routings[part])
        yield row.fault("on_operation", f"an operation in the routing of '{part}'", f"The routing has {numbers}.")
        return
    if machine and tables.cannot(machine, step):
        mend = f"'{part}' operation {step['operation']} (routings.csv row {step.number}) is not done on '{machine}': mend one."
        yield row.fault("on_operation", f"a step that '{machine}' can do", mend)
    if row["on_family"] and step["family"] and row["on_family"] != step["family"]:
        mend = "Empty the cell, or mend the part and operation."
        yield row.fault("on_family", f"'{step['family']}', the family of the step that is set", mend)
