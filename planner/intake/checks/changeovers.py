"""A group with a changeover table has a row for each ordered pair of families that meet on it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from planner.faults import Fault
from planner.intake.rows import Row, Tables


def missing_pairs(tables: Tables) -> Iterator[Fault]:
    known = {(row["group"], row["from_family"], row["to_family"]) for row in tables["changeovers"]}
    with_table = {group for group, _, _ in known}
    for group, families in sorted(_families(tables).items()):
        if group not in with_table:
            continue
        for before in sorted(families):
            for after in sorted(families):
                if (group, before, after) not in known:
                    yield _missing(group, families[before], before, families[after], after)


def _families(tables: Tables) -> dict[str, dict[str, Row]]:
    """For each group, the families that occur on it and the first row that names each."""
    result: dict[str, dict[str, Row]] = defaultdict(dict)
    for table, column in (("routings", "family"), ("machines", "on_family")):
        for row in tables[table]:
            if row["group"] and row[column]:
                result[row["group"]].setdefault(row[column], row)
    return result


def _missing(group: str, row_before: Row, before: str, row_after: Row, after: str) -> Fault:
    used = f"'{before}' is used in {row_before.file} row {row_before.number}"
    if before != after:
        used += f", '{after}' in {row_after.file} row {row_after.number}"
    mend = f"Add it with its minutes, or mend a misspelt family: {used}."
    return Fault("changeovers.csv", None, "to_family", f"{group}: {before} to {after}", "a row for this pair", mend)
