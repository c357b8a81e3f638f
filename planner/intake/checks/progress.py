"""What has been done on released batches does not contradict itself, its routing or its machines."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from itertools import pairwise

from planner.counted import counted
from planner.faults import Fault
from planner.intake.checks.steps import unknown_operation
from planner.intake.rows import ON_MACHINE, Row, Tables

# states that a step of each kind can be in
STATES = {
    "machine": ("done", "running", "part"),
    "manual": ("done", "running", "part"),
    "outside": ("done", "out"),
    "wait": ("done",),
}


def _begun(tables: Tables) -> Iterator[tuple[Row, Row, Row]]:
    """Progress row, its batch's row and its routing step, where all three can be told."""
    batches = tables.by_key("batches", "batch")
    for row in tables.complete("progress"):
        batch = batches.get(row["batch"])
        step = tables.steps.get((batch["part"], row["operation"])) if batch else None
        if batch and step:
            yield row, batch, step


def unknown_operations(tables: Tables) -> Iterator[Fault]:
    batches = tables.by_key("batches", "batch")
    for row in tables["progress"]:
        batch = batches.get(row["batch"])
        if not batch or not row["operation"] or batch["part"] not in tables.routings:
            continue
        if (batch["part"], row["operation"]) not in tables.steps:
            yield unknown_operation(tables, row, batch["part"])


def states_of_kind(tables: Tables) -> Iterator[Fault]:
    """Only outside work is out, only work on a machine runs, and each says where or when."""
    for row, _, step in _begun(tables):
        allowed = STATES.get(step["kind"], STATES["machine"] + ("out",))
        if row["state"] not in allowed:
            mend = f"Operation {row['operation']} is of kind {step['kind']} (routings.csv row {step.number})."
            yield row.fault("state", f"one of {', '.join(allowed)}", mend)
        elif row["state"] == "running" and not row["machine"]:
            yield row.fault("machine", "the machine it is running on", "Fill in the cell.")
        elif row["state"] == "out" and not row["collected"]:
            yield row.fault("collected", "when it was collected", "Fill in the cell.")


def running_where_it_cannot(tables: Tables) -> Iterator[Fault]:
    known = tables.keys("machines", "machine")
    for row, _, step in _begun(tables):
        runs = row["state"] == "running" and step["kind"] in ON_MACHINE and row["machine"] in known
        if runs and tables.cannot(row["machine"], step):
            mend = "Mend the machine, or list it for the step in routing_machines.csv or its group in routings.csv."
            can = ", ".join(tables.machines_of(step))
            yield row.fault("machine", f"a machine that can do the step ({can})", mend)


def two_on_one_machine(tables: Tables) -> Iterator[Fault]:
    first: dict[str, Row] = {}
    for row in tables["progress"]:
        if row["state"] == "running" and row["machine"]:
            earlier = first.setdefault(row["machine"], row)
            if earlier is not row:
                mend = (
                    f"Rows {earlier.number} and {row.number} are both running on it: one of them is 'part' or 'done'."
                )
                yield row.fault("machine", "a machine that runs nothing else", mend)


def running_with_too_much(tables: Tables) -> Iterator[Fault]:
    """What runs at the plan start holds no more of a thing, all together, than there is."""
    counts = {name: row["count"] for name, row in tables.by_key("equipment", "equipment").items()}
    held: dict[str, int] = defaultdict(int)
    running = {row["machine"]: (row, step) for row, _, step in _begun(tables) if row["state"] == "running"}
    for row, step in running.values():  # two on one machine are a fault of their own
        for name, amount in step["equipment"] or ():
            held[name] += amount
            if counts.get(name) and held[name] > counts[name]:
                mend = "One of the steps that are running with it is 'part' or 'done', or 'count' in equipment.csv is higher."
                yield row.fault("state", f"at most {counts[name]} of '{name}' in use by running steps", mend)


def setters_without_skill(tables: Tables) -> Iterator[Fault]:
    """Who is on a manual step, or still setting, has the skill for it."""
    people = tables.by_key("people", "person")
    groups = tables.by_key("groups", "group")
    for row, _, step in _begun(tables):
        if row["state"] != "running" or row["person"] not in people:
            continue
        group = groups.get(step["group"])
        skill = step["skill"] or (group["setup_skill"] if group and step["kind"] == "machine" else None)
        busy = step["kind"] == "manual" or row["setup_left_min"]
        if busy and skill in tables.skills and skill not in (people[row["person"]]["skills"] or (skill,)):
            yield row.fault(
                "person", f"somebody with the skill '{skill}'", "Mend the person, or give them the skill in people.csv."
            )


def setup_contradictions(tables: Tables) -> Iterator[Fault]:
    """What is still being set has made nothing, and a first-off is passed before the rest is made."""
    for row, _, step in _begun(tables):
        if row["state"] != "running":
            if row["setup_left_min"]:
                yield row.fault(
                    "setup_left_min", f"0 for a step that is {row['state']}", "Only a running step has setting left."
                )
            continue
        if row["setup_left_min"] and row["good"] and not row["set_again"]:
            yield row.fault(
                "setup_left_min", "0 when good pieces are made", "Mend this or 'good', or 'set_again' is yes."
            )
        if row["setup_left_min"] and row["first_off_passed"]:
            yield row.fault("first_off_passed", "no while setting is still to do", "Mend this or 'setup_left_min'.")
        open_ = step["first_off_skill"] and not row["first_off_passed"] and not row["set_again"]
        if open_ and row["good"] > (step["pieces_per_cycle"] or 1):
            mend = "More than the first cycle is made: say yes, or mend 'good'."
            yield row.fault(
                "first_off_passed", "yes when the run has gone on", mend, row.text["first_off_passed"] or "no"
            )


def order_of_steps(tables: Tables) -> Iterator[Fault]:
    """A step begins when the one before it is done, sublots and setups ahead apart."""
    for batch, rows in _by_batch(tables).items():
        part = tables.by_key("batches", "batch")[batch]["part"]
        for before, step in pairwise(tables.routings.get(part, ())):
            row, earlier = rows.get(step["operation"]), rows.get(before["operation"])
            if row and not _may_have_begun(row, step, earlier, before):
                state = earlier["state"] if earlier else "not listed, so not begun"
                expected = f"operation {before['operation']} done before operation {row['operation']} is {row['state']}"
                yield row.fault("state", expected, f"Operation {before['operation']} is {state}: mend one of the two.")


def _may_have_begun(row: Row, step: Row, earlier: Row | None, before: Row) -> bool:
    if earlier is None:
        return False
    if earlier["state"] == "done" or not (earlier.good("state") and row.good("state")):
        return True
    begun = ("running", "part")
    if row["state"] not in begun or earlier["state"] not in begun:
        return False
    sublots = before["transfer_pieces"] and before["kind"] == "machine"
    set_ahead = step["setup_ahead"] and row["state"] == "running" and not row["good"] and not row["scrap"]
    return bool(sublots or set_ahead)


def _by_batch(tables: Tables) -> dict[str, dict[int, Row]]:
    """Progress rows of each known batch by operation number."""
    known = tables.by_key("batches", "batch")
    result: dict[str, dict[int, Row]] = defaultdict(dict)
    for row in tables["progress"]:
        if row["batch"] in known and row["operation"]:
            result[row["batch"]].setdefault(row["operation"], row)
    return result


def more_than_can_be_there(tables: Tables) -> Iterator[Fault]:
    """Good and scrap of a step are no more than the pieces that have come to it."""
    batches = tables.by_key("batches", "batch")
    for name, rows in _by_batch(tables).items():
        batch = batches[name]
        if not batch["quantity"] or not all(row.good("good", "scrap", "state") for row in rows.values()):
            continue
        yield from _counts(batch["quantity"], tables.routings.get(batch["part"], []), rows)


def _counts(start: int, steps: list[Row], rows: dict[int, Row]) -> Iterator[Fault]:
    """Along the routing: ``alive`` is the start quantity less scrap; setting pieces of later steps go through as well."""
    alive = start
    given: int | None = None  # pieces across from a step before that is not done
    for i, step in enumerate(steps):
        row = rows.get(step["operation"])
        if row is None:
            given = None
            continue
        there = alive + sum(later["setting_pieces"] or 0 for later in steps[i + 1 :])
        if step["sample_pieces"]:
            there = min(there, step["sample_pieces"])
        if given is not None:
            there = min(there, given)
        made = row["good"] + row["scrap"]
        if made > there:
            mend = (
                f"Good {row['good']} and scrap {row['scrap']} together are {made}: mend one, or the batch's quantity."
            )
            yield row.fault("good", f"at most {counted(there, 'piece')}, good and scrap together", mend)
        elif row["state"] == "done" and row["good"] and made < min(there, alive):
            mend = f"{counted(min(there, alive) - made, 'piece')} missing: count as scrap, or the step is not done."
            yield row.fault(
                "good", f"{counted(min(there, alive), 'piece')}, good and scrap together, of a step that is done", mend
            )
        alive = max(0, alive - row["scrap"])
        given = None if row["state"] == "done" else row["good"]
