"""Several changes at once: each is checked against the shop as those before it left it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from planner.alter.base import Alteration, phrases
from planner.alter.fields import AlterFault, AlterFaults
from planner.counted import listed
from planner.explode import explode
from planner.faults import DataFaults
from planner.plan import AcceptedStep
from planner.shop import Shop
from planner.work import Proposal, Work


@dataclass(frozen=True)
class Altered:
    """A changed copy of a shop, with all that is to be planned in it."""

    shop: Shop
    work: Work


def altered(
    shop: Shop,
    changes: Sequence[Alteration],
    accepted: Sequence[AcceptedStep] = (),
    proposals: Sequence[Proposal] = (),
) -> Altered:
    """A changed copy of a shop and its work; the shop itself stays as it is.

    Parameters
    ----------
    changes
        In the order in which they are made.
    accepted, proposals
        As in :func:`planner.explode.explode`: what the plan was made to stay close to, and the batches it splits or
        runs as one, as far as they still fit.

    Raises
    ------
    AlterFaults
        With everything in all changes that does not fit, or by which the changed shop cannot be planned.
    """
    faults: list[AlterFault] = []
    for change in changes:
        found = change.faults(shop)
        faults += found
        if not found:
            shop = change.changed(shop)
    if faults:
        raise AlterFaults(faults)
    own = [p for change in changes for p in change.proposals]
    taken = {name for p in own for name in p.batches}
    kept = [p for p in proposals if not taken & {*p.batches, *p.makes}]
    try:
        work = explode(shop, accepted, [*kept, *own])
    except DataFaults as found_in_tables:
        raise AlterFaults([_with(changes, str(f)) for f in found_in_tables.faults]) from found_in_tables
    made = {p.makes for p in work.proposals}
    for change in changes:
        if any(p.makes not in made for p in change.proposals):
            faults.append(
                AlterFault(change.phrase, "batches", listed(change.proposals[0].batches), "batches whose quantities allow it",
                           "The batch rules or the yield of the part leave no such quantities.")
            )  # fmt: skip
    if faults:
        raise AlterFaults(faults)
    return Altered(shop, work)


def _with(changes: Sequence[Alteration], reason: str) -> AlterFault:
    return AlterFault(
        phrases(changes),
        "",
        "a shop that cannot be planned",
        "one that can",
        f"{reason} Change less, or mend that as well.",
    )
