"""Each routing step has what its kind needs, and nothing that its kind cannot use."""

from __future__ import annotations

from collections.abc import Iterator

from planner.faults import Fault
from planner.intake.nearest import did_you_mean
from planner.intake.rows import ON_MACHINE, Row, Tables

NEEDED = {
    "machine": ("group", "setup_min", "cycle_sec"),
    "manual": ("group", "setup_min", "cycle_sec"),
    "outside": ("supplier", "process"),
}
# columns that mean something only for some kinds; a filled cell elsewhere would be passed over in silence
ONLY_FOR = {
    "group": ON_MACHINE, "skill": ON_MACHINE, "family": ON_MACHINE, "equipment": ON_MACHINE,
    "setup_min": ON_MACHINE, "cycle_sec": ON_MACHINE, "setting_pieces": ON_MACHINE,
    "first_off_skill": ("machine",), "first_off_min": ("machine",), "unattended_limit_min": ("machine",),
    "setup_ahead": ("machine",), "transfer_pieces": ("machine",),
    "supplier": ("outside",), "process": ("outside",), "charge_key": ("outside",), "piece_price": ("outside",),
}  # fmt: skip


def missing_for_kind(tables: Tables) -> Iterator[Fault]:
    for row in tables["routings"]:
        for column in NEEDED.get(row["kind"], ()):
            if row.good(column) and row[column] is None:
                yield row.fault(column, f"a value for a step of kind {row['kind']}", "Fill in the cell.")
        if row["kind"] == "wait" and row.good("wait_min") and not row.text["wait_min"]:
            yield row.fault("wait_min", "the minutes of the wait", "Fill in the cell.")


def out_of_place(tables: Tables) -> Iterator[Fault]:
    for row in tables["routings"]:
        for column, kinds in ONLY_FOR.items():
            if row["kind"] and row[column] and row["kind"] not in kinds:
                expected = f"nothing here for a step of kind {row['kind']}"
                yield row.fault(
                    column, expected, f"It counts for {' and '.join(kinds)} steps only: empty it, or mend the kind."
                )
        if (
            row["kind"] == "machine"
            and row["first_off_min"]
            and row.good("first_off_skill")
            and not row["first_off_skill"]
        ):
            yield row.fault("first_off_skill", "who approves the first piece", "Fill it in, or empty 'first_off_min'.")


def groups_without_machines(tables: Tables) -> Iterator[Fault]:
    groups = tables.keys("groups", "group") if tables.sure("machines", "machine", "group") else set()
    for row in tables["routings"]:
        if row["kind"] in ON_MACHINE and row["group"] in groups and row["group"] not in tables.group_machines:
            yield row.fault("group", "a group with at least one machine", "Add a machine of the group to machines.csv.")


def routing_machines_elsewhere(tables: Tables) -> Iterator[Fault]:
    """Machines of a step's own list belong to its group, and the step exists and is done on a machine."""
    machines = tables.by_key("machines", "machine")
    for rows in tables.listed_machines.values():
        for row in rows:
            step = tables.steps.get((row["part"], row["operation"]))
            if step is None:
                yield unknown_operation(tables, row, row["part"])
                continue
            if step["kind"] and step["kind"] not in ON_MACHINE:
                mend = f"routings.csv row {step.number} is of kind {step['kind']}: remove this row, or mend the kind."
                yield row.fault("operation", "a machine or manual step", mend)
            group = machines[row["machine"]]["group"] if row["machine"] in machines else None
            if group and step["group"] and group != step["group"]:
                mend = f"The step is for group '{step['group']}' (routings.csv row {step.number}), the machine is in '{group}'."
                yield row.fault("machine", f"a machine of group '{step['group']}'", mend)


def unknown_operation(tables: Tables, row: Row, part: str) -> Fault:
    """The fault of a row whose operation is not in the routing of a part."""
    numbers = ", ".join(str(step["operation"]) for step in tables.routings.get(part, ()))
    mend = f"The routing has {numbers}." if numbers else "Add the routing of the part to routings.csv."
    return row.fault("operation", f"an operation in the routing of '{part}'", mend)


def cycles_of_no_length(tables: Tables) -> Iterator[Fault]:
    """Where the first piece is approved, or sublots come and go, there has to be a time at which a piece is done."""
    on: dict[tuple[str, int], list[Row]] = {}
    for row in tables["routing_machines"]:
        on.setdefault((row["part"], row["operation"]), []).append(row)
    for part, steps in tables.routings.items():
        for before, row in zip([None, *steps[:-1]], steps, strict=True):
            why = _needs_a_cycle(row, before)
            if row["kind"] == "machine" and why:
                for cell in (row, *on.get((part, row["operation"]), [])):
                    if cell.good("cycle_sec") and cell["cycle_sec"] == 0:
                        yield cell.fault("cycle_sec", f"1 or more for a step {why}", "Enter the seconds of a cycle.")


def _needs_a_cycle(row: Row, before: Row | None) -> str:
    if row["first_off_skill"]:
        return "whose first piece is approved"
    if row["setup_ahead"]:
        return "that is set before its batch is there"
    if row["transfer_pieces"]:
        return "that moves pieces on before the batch is finished"
    return "that takes pieces before the batch is finished" if before is not None and before["transfer_pieces"] else ""


def outside_steps(tables: Tables) -> Iterator[Fault]:
    """The outside firm does the process, fetches the work and brings it back."""
    suppliers = tables.keys("suppliers", "supplier")
    for row in tables["routings"]:
        firm = row["supplier"]
        if row["kind"] != "outside" or firm not in suppliers:
            continue
        does = {p["process"] for p in tables["processes"] if p["supplier"] == firm and p["process"]}
        if row["process"] and row["process"] not in does and tables.sure("processes", "supplier", "process"):
            mend = did_you_mean(row["process"], does, "add it to processes.csv.")
            yield row.fault("process", f"a process of '{firm}'", mend)


def suppliers_without_vans(tables: Tables) -> Iterator[Fault]:
    used = {row["supplier"] for row in tables["routings"] if row["kind"] == "outside"}
    for table, what in (("collections", "collection"), ("deliveries", "delivery")):
        if not tables.sure(table, "supplier"):
            continue
        served = tables.keys(table, "supplier")
        for name, row in tables.by_key("suppliers", "supplier").items():
            if name in used and name not in served:
                yield row.fault("supplier", f"at least one {what} a week", f"Add it to {table}.csv.")
