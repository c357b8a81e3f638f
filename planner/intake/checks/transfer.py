"""Where pieces may be moved on before the batch is finished."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Protocol

from planner.faults import Fault
from planner.intake.rows import Tables


class Columns(Protocol):
    """A step by column: a row of the table, or a dictionary."""

    def __getitem__(self, column: str) -> Any: ...


def transfers(tables: Tables) -> Iterator[Fault]:
    for steps in tables.routings.values():
        for row, following in zip(steps, [*steps[1:], None], strict=True):
            if row["kind"] == "machine" and row["transfer_pieces"]:
                where = f" (row {following.number})" if following else ""
                reason = why_not(row, following, where)
                if reason:
                    mend = f"{reason} Empty the cell, or mend the other."
                    yield row.fault("transfer_pieces", "a transfer that the next step can take", mend)


def why_not(giving: Columns, following: Columns | None, where: str = "") -> str | None:
    """Why a step cannot give sublots to the one after it; None where it can, or where that cannot be told."""
    if following is None:
        return "It is the last step: there is nothing to move on to."
    if giving["sample_pieces"]:
        return "A step that only a sample goes through gives no sublots."
    place = f"Operation {following['operation']}{where}"
    if following["kind"] not in ("machine", None):
        return f"{place} is of kind {following['kind']}: only a machine step takes sublots."
    if following["sample_pieces"]:
        return f"{place} takes a sample only."
    if following["may_pause"] is False:
        return f"{place} may not pause, and would have to wait between sublots."
    cycle = following["pieces_per_cycle"] or 1
    if following["first_off_skill"] and giving["transfer_pieces"] < cycle:
        return f"{place} makes its first-off from {cycle} pieces at once, more than one sublot."
    return None
