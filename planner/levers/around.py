"""Ways around the shop: vans, outside firms, other orders, a part of the order first, material and bought pieces."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, time

from planner import worktime
from planner.alter.orders import Due, Material, NewOrder, Quantity, ReceiptOn
from planner.alter.outside import SpecialCollection, Turn, Van
from planner.alter.step_places import OtherFirm
from planner.chain import QUEUES, PartKind
from planner.levers.chain import Binding, Idea, Link
from planner.work import Begun, Kind

LEAVES = (time(11), time(15))  # when a special collection may leave
REST = "rest"
MOST_FIRMS = 2  # others that do the same process


def around(chain: Binding) -> Iterator[Idea]:
    """All ideas around the shop."""
    for link in chain.links:
        if link.op.kind is Kind.OUTSIDE and link.op.begun is not Begun.OUT:
            yield from _vans(chain, link)
            yield from _turns(chain, link)
        yield from _others(chain, link)
        yield from _supplies(chain, link)
    yield from _part_first(chain)


def _vans(chain: Binding, link: Link) -> Iterator[Idea]:
    """A collection of its own as soon as it is ready, or the weekly one a day or two before."""
    assert link.op.service is not None
    service = chain.work.services[link.op.service]
    firm = chain.shop.suppliers[service.supplier]
    calendar = chain.shop.calendars[firm.calendar]
    collected = link.step.run_start
    ready = chain.local(max(0, link.ready_min))
    open_days = [
        d for d in chain.days(link.ready_min, collected) if worktime.works_on(calendar, d) and chain.clock.open_on(d)
    ]
    moments = [(d, at) for d in open_days for at in LEAVES if (d, at) >= (ready.date(), ready.time())]
    if moments and chain.clock.minute(datetime.combine(*moments[0])) < collected:
        charge = chain.shop.settings.special_collection_pence
        day, at = moments[0]
        yield Idea(collected - link.ready_min, (SpecialCollection(firm.name, day, at, None, charge),))
    before = chain.day(collected).weekday()
    if any(c.weekday == before and c.day is None for c in firm.collections):
        taken = {c.weekday for c in firm.collections}
        open_weekdays = [d.weekday() for d in open_days if d.weekday() not in taken]
        for weekday in open_weekdays[:1]:
            yield Idea(collected - link.ready_min, (Van(firm.name, before, weekday),))


def _turns(chain: Binding, link: Link) -> Iterator[Idea]:
    """The firm in half the time for this part, for more money; or other firms that do the same and take no longer."""
    assert link.op.service is not None
    service = chain.work.services[link.op.service]
    process = next(p for p in chain.shop.suppliers[service.supplier].processes if p.name == service.process)
    quicker = max(1, process.turn_days // 2)
    if quicker < process.turn_days:
        change = Turn(
            service.supplier, service.process, quicker, chain.shop.settings.faster_turn_percent, link.batch.part
        )
        yield Idea(link.takes_min // 2, (change,))
    others = (
        (p.turn_days, firm.name)
        for firm in chain.shop.suppliers.values()
        for p in firm.processes
        if firm.name != service.supplier and p.name == service.process and p.turn_days <= process.turn_days
    )
    for turn_days, name in sorted(others)[:MOST_FIRMS]:
        gain = link.takes_min * (process.turn_days - turn_days) // max(1, process.turn_days)
        yield Idea(gain, (OtherFirm(link.batch.part, link.op.number, name),))


def _others(chain: Binding, link: Link) -> Iterator[Idea]:
    """The order that it waits behind may be as much later as this one is to be sooner."""
    if link.behind is None:
        return
    ahead = chain.feeds.orders(chain.work.operations[link.behind].batch)
    others = [o for o in ahead if o.number in chain.shop.orders]
    if any(o.number == chain.number for o in others):
        return
    for order in others[:1]:
        until = max(order.due_min, chain.ready.get(order.number, 0)) + chain.gap_min
        yield Idea(link.minutes(*QUEUES), (Due(order.number, chain.day(until)),))


def _supplies(chain: Binding, link: Link) -> Iterator[Idea]:
    """Material of the order, or bought pieces, so much sooner."""
    order = chain.shop.orders[chain.number]
    held = link.minutes(PartKind.RELEASE)
    if held and order.material_date and order.material_date > chain.clock.today and not link.batch.is_open:
        yield Idea(held, (Material(order.number, chain.sooner(order.material_date)),))
    for part in link.parts:
        reference = chain.work.needs[part.need].receipt if part.need is not None else part.receipt
        receipt = next((r for r in chain.shop.receipts if r.reference == reference), None)
        if part.kind is PartKind.RECEIPT and receipt is not None and receipt.due > chain.clock.today:
            yield Idea(part.minutes, (ReceiptOn(receipt.reference, chain.sooner(receipt.due)),))


def _part_first(chain: Binding) -> Iterator[Idea]:
    """Half of the order by the date, the rest when all of it is ready now."""
    order = chain.shop.orders[chain.number]
    rest = f"{order.number}-{REST}"
    if order.quantity < 2 or rest in chain.shop.orders:
        return
    half = -(-order.quantity // 2)
    later = chain.day(max(chain.order.due_min, chain.ready[chain.number]))
    changes = (
        Quantity(order.number, half),
        NewOrder(rest, order.quantity - half, order.part, later, order.priority, order.material_date),
    )
    yield Idea(sum(link.takes_min for link in chain.links if link.step.machine is not None) // 2, changes)
