"""Proposals and cost terms of a plan document, to rows and back."""

from __future__ import annotations

from dataclasses import asdict, fields
from typing import Any

from planner.plan import Cost
from planner.planfile_fields import Damaged, Fields
from planner.work import Change, Proposal


def cost_row(cost: Cost) -> dict[str, int]:
    """The terms by name."""
    return asdict(cost)


def cost_of(row: Fields) -> Cost:
    """Raises ``Damaged``, as all reading here."""
    return Cost(**{term.name: row.whole(term.name) for term in fields(Cost)})


def proposal_row(proposal: Proposal) -> dict[str, Any]:
    """What is done with which batches, what comes of them, and what it saved when it was found."""
    made = zip(proposal.makes, proposal.pieces, strict=True)
    return {
        "kind": proposal.kind.value,
        "part": proposal.part,
        "batches": [{"batch": name} for name in proposal.batches],
        "makes": [{"batch": name, "pieces": pieces} for name, pieces in made],
        "saved": cost_row(proposal.saved),
        "orders": [{"order": order, "earlier_min": minutes} for order, minutes in proposal.orders],
    }


def proposal_of(row: Fields) -> Proposal:
    """The proposal that was written."""
    makes = row.records("makes")
    found = Proposal(
        kind=row.one_of("kind", {kind.value: kind for kind in Change}),
        part=row.text("part"),
        batches=tuple(b.text("batch") for b in row.records("batches")),
        pieces=tuple(b.whole("pieces") for b in makes),
        saved=cost_of(row.record("saved")),
        orders=tuple((o.text("order"), o.whole("earlier_min")) for o in row.records("orders")),
    )
    if not found.batches or [b.text("batch") for b in makes] != list(found.makes):
        raise Damaged(f"{row.where}: 'makes' is not what comes of its 'batches'")
    return found
