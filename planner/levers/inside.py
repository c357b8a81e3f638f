"""Ways inside the shop: hours, people, machines, smaller and overlapping batches, running with nobody there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta

from planner import shop, worktime
from planner.alter.batches import Lot, Split
from planner.alter.fields import Window
from planner.alter.hours import Shift
from planner.alter.means import Learns
from planner.alter.step_places import Also
from planner.alter.step_runs import Transfer, Unattended
from planner.chain import FOR_MACHINE, PartKind
from planner.explode.left_alone import meant
from planner.levers.chain import PERSON, Binding, Idea, Link
from planner.work import Kind

SATURDAY, SATURDAY_HOURS = 5, Window(time(6), time(12))
OVERTIME = timedelta(hours=2)
LATEST, EARLIEST = (
    time(20, 30),
    time(7),
)  # overtime after a day that ends by then, else before one that begins no sooner
MOST_DAYS = 5  # of overtime in one idea
LONG_MIN = 120  # a run that is worth splitting, overlapping or running at night
PARTS = 4  # sublots that a transfer quantity makes of a batch
NIGHT_LIMIT_MIN = 240


def inside(chain: Binding) -> Iterator[Idea]:
    """All ideas inside the shop; a machine group's hours come once for all its links."""
    yield from _hours(chain)
    for link in chain.links:
        if link.step.machine is not None:
            yield from _people(chain, link)
            yield from _machines(chain, link)
            yield from _pieces(chain, link)
            yield from _night(chain, link)


# --- hours --------------------------------------------------------------------------------------


def _hours(chain: Binding) -> Iterator[Idea]:
    """A Saturday, all Saturdays, or two hours a day, on each machine group of the chain."""
    groups: dict[str, list[Link]] = {}
    for link in chain.links:
        if link.step.machine is not None:
            group = chain.work.groups[chain.work.machines[link.step.machine].group].name
            groups.setdefault(group, []).append(link)
    for group, links in groups.items():
        minutes = sum(link.step.end - link.free_min for link in links)
        days = sorted({day for link in links for day in chain.days(link.free_min, link.step.end)})
        skills = [s for link in links for s in chain.skills(link.op)]
        saturdays = [day for day in days if day.weekday() == SATURDAY]
        for some in {tuple(saturdays[:1]), tuple(saturdays)} - {()}:
            people = chain.able(skills, some)
            if people is not None:
                yield Idea(minutes, (Shift((group,), some, SATURDAY_HOURS, people),))
        yield from _overtime(chain, group, links, days, skills, minutes)


def _overtime(
    chain: Binding, group: str, links: list[Link], days: list[date], skills: list[str], minutes: int
) -> Iterator[Idea]:
    machine = links[-1].step.machine
    assert machine is not None
    calendar = chain.calendar_of(machine)
    windows = {day: window for day in days if (window := _beside(calendar, day)) is not None}
    if not windows:
        return
    usual = Counter(windows.values()).most_common(1)[0][0]
    some = tuple(day for day, window in windows.items() if window == usual)[:MOST_DAYS]
    people = chain.able(skills, some)
    if people is not None:
        yield Idea(minutes, (Shift((group,), some, usual, people),))


def _beside(calendar: shop.Calendar, day: date) -> Window | None:
    """Two hours after the attended hours of a day, or before them; None on closed days and where they are long already."""
    shifts = [(a, b) for a, b, attended in worktime.shifts_on(calendar, day) if attended]
    if not shifts or any(b <= a for a, b in shifts):
        return None
    first, last = min(a for a, _ in shifts), max(b for _, b in shifts)
    if last <= LATEST:
        return Window(last, (datetime.combine(day, last) + OVERTIME).time())
    if first >= EARLIEST:
        return Window((datetime.combine(day, first) - OVERTIME).time(), first)
    return None


# --- people and machines ------------------------------------------------------------------------


def _people(chain: Binding, link: Link) -> Iterator[Idea]:
    """Somebody who is there at that time could learn what it waits for."""
    waits = [p for p in link.parts if p.kind in PERSON or (p.kind is PartKind.CLOSED and p.skill is not None)]
    skill = next((p.skill for p in waits if p.skill is not None), link.op.skill)
    if not waits or skill is None:
        return
    spans = worktime.united((p.start, p.end) for p in waits)
    there = [p for p in chain.work.people if skill not in p.skills and worktime.common(p.hours, spans)]
    for person in sorted(there, key=lambda p: (len(p.skills), p.name))[:1]:
        yield Idea(sum(p.minutes for p in waits), (Learns(person.name, (chain.work.skills[skill],)),))


def _machines(chain: Binding, link: Link) -> Iterator[Idea]:
    """The two least booked machines that could do it too: of the same group, or set by the same people."""
    waits = link.minutes(*FOR_MACHINE)
    if not waits or not link.op.alternatives:
        return
    own = {a.machine for a in link.op.alternatives}
    first = chain.work.machines[link.op.alternatives[0].machine]
    setter = chain.shop.groups[chain.work.groups[first.group].name].setup_skill
    others = [
        i
        for i, m in enumerate(chain.work.machines)
        if i not in own
        and (
            m.group == first.group
            or (setter and chain.shop.groups[chain.work.groups[m.group].name].setup_skill == setter)
        )
    ]
    for i in sorted(others, key=lambda i: (chain.booked[i], i))[:2]:
        yield Idea(waits, (Also(link.batch.part, link.op.number, chain.work.machines[i].name),))


# --- pieces -------------------------------------------------------------------------------------


def _pieces(chain: Binding, link: Link) -> Iterator[Idea]:
    """The batch in two, a part of it moved on, or no more of it than is needed."""
    batch, op = link.batch, link.op
    if op.kind is not Kind.MACHINE or link.takes_min < LONG_MIN or op.pieces_left < 2:
        return
    plain = not batch.is_open and not any(batch.name in p.makes for p in chain.work.proposals)
    whole = plain and not meant(chain.shop.left_alone, (batch.name,))
    if whole and len(op.alternatives) > 1 and batch.start_pieces > 1:
        yield Idea(link.takes_min // 2, (Split((batch.name,), batch.part),))
    following = next((i for i in batch.operations if i > op.index), None)
    onto_machine = following is not None and chain.work.operations[following].kind is Kind.MACHINE
    if op.transfer_pieces is None and op.pieces_left >= PARTS and onto_machine:
        pieces = -(-op.pieces_left // PARTS)
        yield Idea(link.takes_min * 3 // 4, (Transfer(batch.part, op.number, pieces),))
    rule = chain.shop.parts[batch.part].rule
    if plain and (rule.minimum > 1 or rule.multiple > 1):
        spare = batch.good_expected - sum(
            s.pieces for o in chain.work.orders for s in o.sources if s.batch == batch.index
        )
        spare -= sum(n.pieces for n in chain.work.needs if n.batch == batch.index)
        if spare > 0:
            yield Idea(link.takes_min * spare // batch.good_expected, (Lot(batch.part, 1),))


def _night(chain: Binding, link: Link) -> Iterator[Idea]:
    """Only where the machine has hours with nobody there: nights are not invented."""
    machine, op = link.step.machine, link.op
    if machine is None or op.kind is not Kind.MACHINE or op.unattended_limit_min or link.takes_min < LONG_MIN:
        return
    if any(not h.attended for h in chain.calendar_of(machine).hours):
        yield Idea(link.takes_min // 2, (Unattended(link.batch.part, op.number, NIGHT_LIMIT_MIN),))
