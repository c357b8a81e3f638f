"""No step and no start state uses more of a thing than there is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from planner.counted import counted
from planner.faults import Fault
from planner.intake.rows import Row, Tables


def more_than_there_is(tables: Tables) -> Iterator[Fault]:
    counts = {name: row["count"] for name, row in tables.by_key("equipment", "equipment").items()}
    for row in tables["routings"]:
        for name, amount in row["equipment"] or ():
            if counts.get(name) and amount > counts[name]:
                mend = "Lower the amount, or raise 'count' in equipment.csv."
                yield row.fault("equipment", f"at most {counts[name]} of '{name}'", mend)


def on_too_many_machines(tables: Tables) -> Iterator[Fault]:
    counts = {name: row["count"] for name, row in tables.by_key("equipment", "equipment").items()}
    users: dict[str, list[Row]] = defaultdict(list)
    for row in tables["machines"]:
        for name in row["on_equipment"] or ():
            users[name].append(row)
            if counts.get(name) and len(users[name]) > counts[name]:
                places = ", ".join(str(user.number) for user in users[name])
                mend = f"Rows {places} all have it: remove it where it is not."
                yield row.fault("on_equipment", f"'{name}' on at most {counted(counts[name], 'machine')}", mend)
