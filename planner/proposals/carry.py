"""A plan's list carried over to work with other batches: what was decided stays, by batch name and step."""

from __future__ import annotations

from planner.plan import Listed, Plan
from planner.work import Work


def carried(old: Work, plan: Plan, new: Work) -> list[Listed]:
    """The operations of ``new`` in the order of a plan for ``old``, each with its machine and whom the plan names, by name (None: any).

    Halves stand side by side, the first on the machine of the whole and the second on any; batches run as one
    stand where the first of them did; what was held back still is. What ``old`` does not know is left out.
    """
    places, steps = new.places, plan.step_of()
    machines = {machine.name: i for i, machine in enumerate(new.machines)}
    people = {person.name: i for i, person in enumerate(new.people)}
    heirs = {batch.name: _heirs(batch.name, old, new) for batch in old.batches}
    start: dict[int, Listed] = {}
    for i in plan.sequence:
        op = old.operations[i]
        for nth, name in enumerate(heirs[old.batches[op.batch].name]):
            at = places.get((name, op.number))
            on, who = steps[i].machine, steps[i].named
            if at is not None:
                machine = machines.get(old.machines[on].name) if nth == 0 and on is not None else None
                named = people.get(old.people[who].name) if nth == 0 and who is not None else None
                start.setdefault(at, Listed(at, machine, steps[i].held_until or 0, named))
    return list(start.values())


def _heirs(name: str, old: Work, new: Work) -> tuple[str, ...]:
    """What a batch of ``old`` is called in ``new``: itself, its halves, the whole it is of, or what was run as one."""
    if any(name in proposal.makes for proposal in new.proposals):
        return (name,)
    plain = next((p.batches for p in old.proposals if name in p.makes), (name,))
    found: dict[str, None] = {}
    for part in plain:
        found.update(dict.fromkeys(next((p.makes for p in new.proposals if part in p.batches), (part,))))
    return tuple(found)
