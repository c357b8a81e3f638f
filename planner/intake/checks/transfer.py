"""Where pieces may be moved on before the batch is finished."""

from __future__ import annotations

from collections.abc import Iterator

from planner.faults import Fault
from planner.intake.rows import Row, Tables


def transfers(tables: Tables) -> Iterator[Fault]:
    for steps in tables.routings.values():
        for row, following in zip(steps, [*steps[1:], None], strict=True):
            if row["kind"] == "machine" and row["transfer_pieces"]:
                reason = _why_not(row, following)
                if reason:
                    mend = f"{reason} Empty the cell, or mend the other."
                    yield row.fault("transfer_pieces", "a transfer that the next step can take", mend)


def _why_not(row: Row, following: Row | None) -> str | None:
    """Why a step cannot give sublots to the one after it; None where it can, or where that cannot be told."""
    if following is None:
        return "It is the last step: there is nothing to move on to."
    if row["sample_pieces"]:
        return "A step that only a sample goes through gives no sublots."
    place = f"Operation {following['operation']} (row {following.number})"
    if following["kind"] not in ("machine", None):
        return f"{place} is of kind {following['kind']}: only a machine step takes sublots."
    if following["sample_pieces"]:
        return f"{place} takes a sample only."
    if following["may_pause"] is False:
        return f"{place} may not pause, and would have to wait between sublots."
    cycle = following["pieces_per_cycle"] or 1
    if following["first_off_skill"] and row["transfer_pieces"] < cycle:
        return f"{place} makes its first-off from {cycle} pieces at once, more than one sublot."
    return None
