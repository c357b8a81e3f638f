"""Every skill asked for is somebody's."""

from __future__ import annotations

from collections.abc import Iterator

from planner.faults import Fault
from planner.intake.nearest import did_you_mean
from planner.intake.rows import Tables

ASKED = (("groups", "setup_skill"), ("groups", "minding_skill"), ("routings", "skill"), ("routings", "first_off_skill"))


def skills_nobody_has(tables: Tables) -> Iterator[Fault]:
    if not tables.sure("people", "skills"):
        return
    for table, column in ASKED:
        for row in tables[table]:
            if row[column] and row[column] not in tables.skills:
                mend = did_you_mean(row[column], tables.skills, "give it to somebody in people.csv.")
                yield row.fault(column, "a skill that somebody in people.csv has", mend)


def minding_by_halves(tables: Tables) -> Iterator[Fault]:
    for row in tables["groups"]:
        if not row.good("minding_skill", "machines_per_person"):
            continue
        if row["minding_skill"] and not row["machines_per_person"]:
            yield row.fault(
                "machines_per_person", "how many one person minds at once", "Fill it in, or empty 'minding_skill'."
            )
        if row["machines_per_person"] and not row["minding_skill"]:
            yield row.fault(
                "minding_skill", "the skill of who minds them", "Fill it in, or empty 'machines_per_person'."
            )


def manual_without_skill(tables: Tables) -> Iterator[Fault]:
    for row in tables["routings"]:
        if row["kind"] == "manual" and row.good("skill") and not row["skill"]:
            yield row.fault("skill", "who does this manual step", "Enter the skill.")
