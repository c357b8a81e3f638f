"""All kinds of change, in the order in which they are offered. A new kind is one class and one line here."""

from __future__ import annotations

from planner.alter.base import Alteration
from planner.alter.batches import Combine, Lot, Split
from planner.alter.hours import Away, Down, Shift
from planner.alter.means import Learns, NewMachine, NewPerson
from planner.alter.orders import Class, Drop, Due, Material, NewOrder, Quantity, ReceiptOn
from planner.alter.outside import SpecialCollection, Turn, Van
from planner.alter.rates import SetupCut, Yield
from planner.alter.step_places import Also, Group, MakeHere, OtherFirm, SendOut
from planner.alter.step_runs import Cycle, Transfer, Unattended

KINDS: dict[str, type[Alteration]] = {
    kind.kind: kind
    for kind in (
        Shift, Down, Away, NewMachine, NewPerson, Learns,
        NewOrder, Drop, Due, Quantity, Class, Material, ReceiptOn,
        Split, Combine, Lot, Group, Also, SendOut, OtherFirm, MakeHere, Transfer, Unattended,
        Van, SpecialCollection, Turn, SetupCut, Cycle, Yield,
    )
}  # fmt: skip
