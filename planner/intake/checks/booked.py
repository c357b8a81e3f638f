"""What was booked has happened, on machines and at firms that there are."""

from __future__ import annotations

from collections.abc import Iterator

from planner.faults import Fault
from planner.intake.nearest import did_you_mean
from planner.intake.rows import Tables


def of_no_group(tables: Tables) -> Iterator[Fault]:
    for row in tables.complete("booked_times"):
        if not (row["machine"] or row["group"]):
            yield row.fault("group", "a machine or a group", "Say on which machine it was, or of which group.")


def of_another_group(tables: Tables) -> Iterator[Fault]:
    machines = tables.by_key("machines", "machine")
    for row in tables.complete("booked_times"):
        machine = machines.get(row["machine"])
        if machine and machine["group"] and row["group"] and row["group"] != machine["group"]:
            mend = (
                f"{row['machine']} is of that group (machines.csv row {machine.number}): mend one, or leave this empty."
            )
            yield row.fault("group", f"'{machine['group']}'", mend)


def still_to_come(tables: Tables) -> Iterator[Fault]:
    start = tables.settings.get("plan_start")
    for table in ("booked_times", "booked_turns"):
        for row in tables[table]:
            if start and row["day"] and row["day"] > start.date():
                yield row.fault("day", f"a day not after the plan start ({start.date()})", "Mend the day.")


def unknown_processes(tables: Tables) -> Iterator[Fault]:
    """A firm that is not there is a fault of its own."""
    suppliers = tables.keys("suppliers", "supplier")
    for row in tables.complete("booked_turns"):
        firm = row["supplier"]
        does = {p["process"] for p in tables["processes"] if p["supplier"] == firm and p["process"]}
        if firm in suppliers and row["process"] not in does and tables.sure("processes", "supplier", "process"):
            mend = did_you_mean(row["process"], does, "add it to processes.csv, or remove the row.")
            yield row.fault("process", f"a process of '{firm}'", mend)
