"""Hours and demands added up for every machine, group, skill, person and piece of equipment."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from planner.answers.feeds import Feeds
from planner.answers.spent import RUN, Spent, cut
from planner.capacity.demand import Demand, skill_of
from planner.capacity.tally import Periods, Tally, Whose
from planner.work import Span, Work
from planner.worktime import stretches, united

MACHINE, GROUP, SKILL, PERSON, EQUIPMENT = "machine", "group", "skill", "person", "equipment"
Resource = tuple[str, str]  # kind, name
Tallies = dict[Resource, Tally]


def added_up(work: Work, demands: Iterable[Demand], periods: Periods) -> Tallies:
    """What there is and what is needed, by kind and name: groups first, then machines, skills, people and equipment."""
    tallies: Tallies = {key: Tally() for key in _names(work)}
    users = equipment_hours(work)
    _add_hours(work, periods, tallies, users)
    feeds = Feeds(work)
    for demand in demands:
        if demand.machine is not None:
            _add_demand(work, periods, tallies, demand, feeds, users)
    return tallies


def _names(work: Work) -> Iterator[Resource]:
    yield from ((GROUP, g.name) for g in work.groups)
    yield from ((MACHINE, m.name) for m in work.machines)
    yield from ((SKILL, name) for name in work.skills)
    yield from ((PERSON, p.name) for p in work.people)
    yield from ((EQUIPMENT, e.name) for e in work.equipment)


def _add_hours(work: Work, periods: Periods, tallies: Tallies, users: dict[int, list[Span]]) -> None:
    for machine in work.machines:
        for key in ((MACHINE, machine.name), (GROUP, work.groups[machine.group].name)):
            tallies[key].there(periods, machine.hours.attended, machine.hours.unattended)
    for person in work.people:
        for key in ((PERSON, person.name), *((SKILL, work.skills[s]) for s in person.skills)):
            tallies[key].there(periods, person.hours)
    for e, hours in users.items():
        tallies[EQUIPMENT, work.equipment[e].name].there(periods, hours, times=work.equipment[e].count)


def equipment_hours(work: Work) -> dict[int, list[Span]]:
    """By piece of equipment, when any machine that may use it is attended."""
    machines: dict[int, set[int]] = {}
    for op in work.operations:
        for e, _ in op.equipment:
            machines.setdefault(e, set()).update(a.machine for a in op.alternatives)
    return {
        e: stretches(united(w for m in found for w in work.machines[m].hours.attended), 0)
        for e, found in machines.items()
    }


def _add_demand(
    work: Work, periods: Periods, tallies: Tallies, demand: Demand, feeds: Feeds, users: dict[int, list[Span]]
) -> None:
    op, whose = work.operations[demand.operation], whose_of(work, demand, feeds)
    assert demand.machine is not None
    machine = work.machines[demand.machine]
    places = [tallies[MACHINE, machine.name], tallies[GROUP, work.groups[machine.group].name]]
    for span in demand.spent:
        skill = skill_of(op, span)
        people = [] if skill is None else [tallies[SKILL, work.skills[skill]]]
        if span.person is not None:
            people.append(tallies[PERSON, work.people[span.person].name])
        for tally in (*people, *(places if span.machine is not None else ())):
            tally.need(periods, span, whose)
    for tally in places:
        tally.held.update(periods.spread(cut(machine.hours.attended, demand.start, demand.run_end)))
    for e, units in op.equipment:
        for a, b in cut(users[e], demand.equipment_from, demand.run_end):
            tallies[EQUIPMENT, work.equipment[e].name].need(periods, Spent(RUN, a, b), whose, units)


def whose_of(work: Work, demand: Demand, feeds: Feeds) -> Whose:
    """The batch that a demand comes from."""
    batch = work.batches[work.operations[demand.operation].batch]
    return Whose(batch.name, feeds.class_of(batch.index), batch.own_product, batch.is_open)
