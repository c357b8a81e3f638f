"""Orders, product structure, stock and progress become batches and operations: a ``Work``."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from planner.explode.batches import Builder, Made, Notes
from planner.explode.checks import rule_faults, work_faults
from planner.explode.clock import Clock, clock_of
from planner.explode.decisions import change_window, kept_of, pinned
from planner.explode.giving import Giver
from planner.explode.left_alone import not_left_alone
from planner.explode.outside import outside_of
from planner.explode.proposed import ProposedGiver
from planner.explode.resources import Index, index_of, resources_of
from planner.faults import DataFaults
from planner.plan import AcceptedStep
from planner.shop import Settings, Shop
from planner.work import Begun, Prices, Proposal, Work

__all__ = ["explode", "without_lapsed"]


def explode(shop: Shop, accepted: Sequence[AcceptedStep] = (), proposals: Sequence[Proposal] = ()) -> Work:
    """All that is to be planned for a shop.

    Parameters
    ----------
    shop
        A cross-checked shop.
    accepted
        Steps of the accepted plan, if there is one: changing those in the near future has a price.
    proposals
        Batches to split or combine; those that do not fit the shop are passed over, the others are in the ``Work``.

    Returns
    -------
    Work
        The same whatever the order of rows in the tables. Batches come by earliest due, then name;
        everything with a name of its own comes by name.

    Raises
    ------
    DataFaults
        When some operation could never be placed: see ``planner.explode.checks``.
    """
    faults = rule_faults(shop)
    if faults:
        raise DataFaults(faults)
    clock = clock_of(shop)
    shop, lapsed = without_lapsed(shop, clock)
    index = index_of(shop)
    giver = ProposedGiver(shop, clock, proposals)
    giver.run()
    notes = Notes([], [])
    made = Builder(shop, giver, index, clock, notes).build()
    work = _work(shop, index, clock, made)
    faults = notes.faults + work_faults(work)
    if faults:
        raise DataFaults(faults)
    work = pinned(shop, work, index, clock)
    plain = {*giver.drafts, *(name for proposal in giver.applied for name in proposal.batches)}
    assumptions = [*notes.assumptions, *_assumptions(shop, giver, clock)]
    return replace(
        work,
        kept=kept_of(
            accepted if shop.settings.change_days or shop.settings.frozen_hours else (), shop, work, index, clock
        ),
        assumptions=tuple(sorted(assumptions)),
        left_out=(*work.left_out, *not_left_alone(shop, plain), *lapsed),
        proposals=tuple(sorted(giver.applied, key=lambda p: p.batches)),
    )


def without_lapsed(shop: Shop, clock: Clock) -> tuple[Shop, list[str]]:
    """The shop without provisional orders whose day has passed, and a line for each of those."""
    lapsed = sorted(
        (order for order in shop.orders.values() if order.provisional_until and order.provisional_until < clock.today),
        key=lambda order: order.number,
    )
    names = {order.number for order in lapsed}
    lines = [
        f"Order {order.number}: provisional until {order.provisional_until}, which has passed. Make it firm or give a later day."
        for order in lapsed
    ]
    orders = {number: order for number, order in shop.orders.items() if number not in names}
    return (replace(shop, orders=orders) if names else shop), lines


def _work(shop: Shop, index: Index, clock: Clock, made: Made) -> Work:
    """The work before anything the manager has decided about it."""
    means = resources_of(shop, index, clock)
    outside = outside_of(shop, clock)
    settings = shop.settings
    empty = sorted(order.number for order in shop.orders.values() if order.quantity == 0)
    return Work(
        shop=settings.shop_name,
        zone=settings.zone,
        plan_start=clock.plan_start,
        machines=means.machines,
        groups=means.groups,
        skills=means.skills,
        people=means.people,
        equipment=means.equipment,
        changeovers=means.changeovers,
        batches=made.batches,
        operations=made.operations,
        needs=made.needs,
        orders=made.orders,
        services=outside.services,
        runs=outside.runs,
        move_calendars=means.move_calendars,
        shop_calendar=index.moves[settings.shop_calendar] if settings.shop_calendar else None,
        known_to_min=means.known_to_min,
        handover_min=settings.handover_min,
        setter_may_approve=settings.setter_may_approve,
        break_max_min=settings.break_max_min,
        inspection_stretch_percent=settings.inspection_stretch_percent,
        prices=_prices(settings),
        start_early=settings.start_early,
        safety_min=60 * settings.safety_hours,
        factors=means.factors,
        change_window_min=change_window(shop, clock),
        given=made.given,
        left_out=tuple(f"Order {number}: quantity 0, nothing to make." for number in empty),
    )


def _prices(settings: Settings) -> Prices:
    return Prices(
        settings.wip_weight,
        settings.setup_weight,
        settings.charge_weight,
        settings.change_machine_min,
        settings.change_place_min,
    )


def _assumptions(shop: Shop, giver: Giver, clock: Clock) -> list[str]:
    """What was taken for granted in the giving of supplies."""
    lines = []
    missing: dict[str, int] = {}
    late = set()
    for gift in giver.gifts:
        if gift.bin and gift.bin.missing:
            missing[gift.demand.part] = missing.get(gift.demand.part, 0) + gift.pieces
        if gift.bin and gift.bin.receipt and gift.bin.receipt.due < clock.today:
            late.add((gift.bin.receipt.reference, gift.bin.receipt.due))
    for part, pieces in missing.items():
        name = " ".join(filter(None, (shop.parts[part].description, part)))
        lines.append(f"{pieces} of {name} are not on order: taken as here when needed.")
    for reference, due in late:
        lines.append(f"Receipt {reference} of {due.isoformat()} is overdue: taken as here at plan start.")
    for draft in giver.drafts.values():
        if draft.released and draft.good == 0:
            lines.append(f"Open batch {draft.name} has no good pieces to count on.")
        elif not draft.feeds and any(state.begun != Begun.DONE for state in draft.states):
            lines.append(f"Open batch {draft.name} feeds no order: planned, with no due date.")
    return lines
